package assess

import (
	"encoding/json"
	"fmt"
	"strings"
)

// Finding is one breach: what happened and when, why it matters, what to do
// next time, and on what the rule rests.
type Finding struct {
	Rule     string   `json:"rule"`
	Act      int      `json:"act"`  // number of the act in the log; 0 for the end of the log
	AtS      *float64 `json:"at_s"` // seconds since the log's start; null without a clock
	Surface  string   `json:"surface"`
	Message  string   `json:"message"`
	Why      string   `json:"why"`
	Next     string   `json:"next"`
	Source   string   `json:"source"`
	Critical bool     `json:"critical"`
	// Chain tells the way of a contamination, oldest first, for a reader of text; Way
	// tells it act by act.
	Chain []string `json:"chain,omitempty"`
	Way   []Hop    `json:"way,omitempty"`

	Level    Level    `json:"level,omitempty"`    // "" of results that were stored before there was one: a breach
	Line     int      `json:"line"`               // line of the log's text, 0 when it was built or for its end
	Count    int      `json:"count"`              // how often
	Acts     []int    `json:"acts,omitempty"`     // of a repeated one: every act at which it was done
	Surfaces []string `json:"surfaces,omitempty"` // of one cause on several surfaces: all of them
	Worn     string   `json:"worn,omitempty"`     // the protective equipment that it is about
}

// Level says how hard a finding is.
type Level string

// The levels. Advice is told and costs nothing: custom of the trade that the clinic
// has not made its own.
const (
	BreachLevel Level = "breach"
	AdviceLevel Level = "advice"
)

// Advice reports whether a finding is advice only.
func (f *Finding) Advice() bool { return f.Level == AdviceLevel }

// Hop is one step on the way of a contamination: act number Act brought it from
// one thing to another. From and To are ids of the procedure's surfaces and items,
// "gloves", "hands", "wipe", "blood", "patient", or a thing outside the station.
type Hop struct {
	Act  int    `json:"act"`
	Line int    `json:"line"`
	From string `json:"from"`
	To   string `json:"to"`
}

// Breaches are the findings that are no advice.
func (r *Result) Breaches() (all []Finding) {
	for _, f := range r.Findings {
		if !f.Advice() {
			all = append(all, f)
		}
	}
	return all
}

// SaidOnce puts findings together that say the same of several surfaces: twelve
// surfaces left out are one thing to learn. The groups stand in the order of their
// first finding; pages and workbooks count them, not the findings.
func SaidOnce(findings []Finding) (groups [][]Finding) {
	place := map[sentence]int{}
	for _, f := range findings {
		s, ofSurface := sentenceOf(f)
		i, said := place[s]
		if ofSurface && said {
			groups[i] = append(groups[i], f)
			continue
		}
		if ofSurface {
			place[s] = len(groups)
		}
		groups = append(groups, []Finding{f})
	}
	return groups
}

// sentence is what a finding says of its surface.
type sentence struct {
	rule     string
	act      int
	critical bool
	what     string
}

// sentenceOf is false for what is told of no surface, or with a way of its own.
func sentenceOf(f Finding) (s sentence, ofSurface bool) {
	what, _, _ := strings.Cut(f.Message, ": ")
	return sentence{f.Rule, f.Act, f.Critical, what}, f.Surface != "" && len(f.Chain) == 0 && len(f.Surfaces) == 0
}

// Gap is a rule that the log could not show to be kept or broken.
type Gap struct {
	Rule    string `json:"rule"`
	Surface string `json:"surface,omitempty"`
	Reason  string `json:"reason"`
	Worn    string `json:"worn,omitempty"`
	// Unasked: the clinic does not ask that this is seen, so no mark is left open.
	Unasked bool `json:"unasked,omitempty"`
	// Critical: the whole is incomplete for it, whatever the marks say.
	Critical bool `json:"critical,omitempty"`
}

// Note is something worth telling that is no breach.
type Note struct {
	Act     int    `json:"act"`
	Surface string `json:"surface,omitempty"`
	Text    string `json:"text"`
}

// Outcome is the result in one word.
type Outcome string

// The outcomes. Incomplete: a critical mark could not be assessed.
const (
	Pass       Outcome = "pass"
	NotPass    Outcome = "not pass"
	Incomplete Outcome = "incomplete"
)

// Words names an outcome for people; "" is what was not judged.
func (o Outcome) Words() string {
	switch o {
	case Pass:
		return "Passed"
	case NotPass:
		return "Not passed yet"
	case Incomplete:
		return "Incomplete"
	}
	return "Not judged"
}

// Marks counts points. What has no occasion (no blood was seen, say) is in
// NotApplicable and leaves the score, as what was not assessed does.
type Marks struct {
	Met           int     `json:"met"`
	Missed        int     `json:"missed"`
	NotAssessed   int     `json:"not_assessed"`
	NotApplicable int     `json:"not_applicable"`
	Score         float64 `json:"score"` // met / (met + missed), 0 when both are 0
	Cut           float64 `json:"cut"`
	Result        Outcome `json:"result"`
	Pass          bool    `json:"pass"`
	// Lines is the mark sheet line by line.
	Lines []MarkLine `json:"lines"`
}

// MarkStatus is what became of one mark.
type MarkStatus string

// The statuses of a mark.
const (
	Met           MarkStatus = "met"
	Missed        MarkStatus = "missed"
	NotAssessed   MarkStatus = "not assessed"
	NotApplicable MarkStatus = "not applicable"
)

// MarkLine is one mark with its status.
type MarkLine struct {
	ID       string     `json:"id"`
	Title    string     `json:"title"`
	Worth    int        `json:"worth"`
	Critical bool       `json:"critical"`
	Status   MarkStatus `json:"status"`
}

// Result is everything the engine says of one log.
type Result struct {
	Log           string    `json:"log"`
	Procedure     string    `json:"procedure"`
	ProcedureHash string    `json:"procedure_hash"`
	RulesVersion  int       `json:"rules_version"`
	Findings      []Finding `json:"findings"`
	NotAssessed   []Gap     `json:"not_assessed"`
	Notes         []Note    `json:"notes"`
	Marks         Marks     `json:"marks"`
}

// JSON is the stored form of a result; its hash goes into signed records, so
// the bytes are kept and never written anew.
func (r *Result) JSON() ([]byte, error) {
	text, err := json.Marshal(r)
	if err != nil {
		return nil, fmt.Errorf("result: %w", err)
	}
	return text, nil
}

// ParseResult reads the stored form.
func ParseResult(text []byte) (*Result, error) {
	var r Result
	if err := json.Unmarshal(text, &r); err != nil {
		return nil, fmt.Errorf("result: %w", err)
	}
	return &r, nil
}
