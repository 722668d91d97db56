package scenarios

import (
	"cmp"
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// onLabelYAML is what stands on a product's label besides its longest time.
type onLabelYAML struct {
	Claims       []claimYAML `yaml:"claims"`
	Registration string      `yaml:"registration"`
	GoodUntil    string      `yaml:"good_until"`
	GoodH        int         `yaml:"good_h"`
	CheckedBy    string      `yaml:"checked_by"`
	CheckedOn    string      `yaml:"checked_on"`
	Reading      string      `yaml:"reading"`
	ReadingWords string      `yaml:"reading_words"`
	ReadingBy    string      `yaml:"reading_by"`
	ReadingOn    string      `yaml:"reading_on"`
}

type claimYAML struct {
	For    string `yaml:"for"`
	LabelS int    `yaml:"label_s"`
	Used   bool   `yaml:"used"`
}

func (y *onLabelYAML) label() procedure.LabelText {
	l := procedure.LabelText{Registration: y.Registration, GoodUntil: y.GoodUntil, GoodH: y.GoodH, CheckedBy: y.CheckedBy, CheckedOn: y.CheckedOn,
		Reading: procedure.Reading(y.Reading), ReadingWords: y.ReadingWords, ReadingBy: y.ReadingBy, ReadingOn: y.ReadingOn}
	if y.Reading == "wet" {
		l.Reading = procedure.WetReading
	}
	for _, c := range y.Claims {
		l.Claims = append(l.Claims, procedure.Claim(c))
	}
	return l
}

// labelS is the time that rules: the one that is written, or the longest that the clinic
// claims where none is. The definition always has it, so that its text says it.
func (y *productYAML) labelS(l *procedure.LabelText) int {
	longest, ok := l.Ruling()
	if y.LabelS == 0 && ok {
		return longest.LabelS
	}
	return y.LabelS
}

var (
	timePattern = regexp.MustCompile(`^(?:(\d{1,3}):([0-5]\d)|(\d{1,5})\s*(s|sec|seconds?|m|min|minutes?)?)$`)
	// minutes and seconds, of which people leave the last word out
	bothPattern = regexp.MustCompile(`^(\d{1,3})\s*(?:m|min|minutes?)(?:\s*and)?\s*([0-5]?\d)\s*(?:s|sec|seconds?)?$`)
	numberWords = strings.NewReplacer("one ", "1 ", "two ", "2 ", "three ", "3 ", "four ", "4 ", "five ", "5 ", "six ", "6 ", "seven ", "7 ", "eight ", "8 ", "nine ", "9 ", "ten ", "10 ")
)

// ParseTime reads a time as people write it from a label: 3:00, 3 min, 2 min 40 s, one
// minute, 180 s. A number alone is seconds, when nobody could mean minutes by it.
func ParseTime(text string) (seconds int, err error) {
	plain := numberWords.Replace(strings.TrimSuffix(strings.ToLower(strings.TrimSpace(text)), "."))
	m, both := timePattern.FindStringSubmatch(plain), bothPattern.FindStringSubmatch(plain)
	number := func(s string) int { n, _ := strconv.Atoi(s); return n }
	switch {
	case both != nil:
		return 60*number(both[1]) + number(both[2]), nil
	case m == nil:
		return 0, fmt.Errorf("%q is no time; write it as 3:00, 3 min, 2 min 40 s or 180 s", text)
	case m[2] != "":
		return 60*number(m[1]) + number(m[2]), nil
	case strings.HasPrefix(m[4], "m"):
		return 60 * number(m[3]), nil
	case m[4] == "" && number(m[3]) > 0 && number(m[3]) < 30:
		return 0, fmt.Errorf("%s of what? Write %s min or %s s", m[3], m[3], m[3])
	}
	return number(m[3]), nil
}

// ClaimLine is a claim as an edit has it, one a line.
func ClaimLine(c ClaimText) string {
	used := "-"
	if c.Used {
		used = "used"
	}
	one := func(s string) string { return strings.Join(strings.Fields(s), " ") }
	return used + "\t" + one(c.Time) + "\t" + one(c.For)
}

// ClaimText is a claim as somebody types it.
type ClaimText struct {
	For, Time string
	Used      bool
}

// ClaimsTyped are the claims of such lines.
func ClaimsTyped(text string) (all []ClaimText) {
	for line := range strings.Lines(text) {
		used, rest, _ := strings.Cut(strings.TrimRight(line, "\r\n"), "\t")
		time, organism, _ := strings.Cut(rest, "\t")
		if strings.TrimSpace(time+organism) != "" {
			all = append(all, ClaimText{For: organism, Time: time, Used: used == "used"})
		}
	}
	return all
}

// timed brings the times of an edit to seconds; what is none, or is missing, is a fault at
// its field.
func (e *editor) timed() {
	e.missingTimes()
	for _, field := range e.sortedFields() {
		if fieldsOf[e.List][field] != times || e.Fields[field] == "" {
			continue
		}
		seconds, err := ParseTime(e.Fields[field])
		if err != nil {
			e.fault(field, "%v", err)
			continue
		}
		e.Fields[field] = strconv.Itoa(seconds)
	}
}

// missingTimes are the faults of times that a product cannot be without.
func (e *editor) missingTimes() {
	if e.Do != "put" || !action.ValidID(e.Row) {
		return
	}
	isNew := len(e.rows("products", e.Row)) == 0
	if dries, given := e.Fields["dries_s"]; (given || isNew) && strings.TrimSpace(dries) == "" {
		e.fault("dries_s", "is missing: say how long a wiped surface stays wet with it, for example 2:30")
	}
	if isNew && strings.TrimSpace(e.Fields["label_s"]+e.Fields["claims"]) == "" {
		e.fault("label_s", "is missing: write the time, or the claims of the label with theirs")
	}
}

// claimNodes are the claims of an edit as rows.
func claimNodes(text string) *yaml.Node {
	list := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle}
	for _, c := range ClaimsTyped(text) {
		row := flowRow("for", c.For)
		seconds, _ := ParseTime(c.Time) // known gave the faults
		row.Content = append(row.Content, scalar("label_s", plainly), scalar(strconv.Itoa(seconds), plainly))
		if c.Used {
			row.Content = append(row.Content, scalar("used", plainly), scalar("true", plainly))
		}
		list.Content = append(list.Content, row)
	}
	return list
}

// claimTimes are the faults of the times of claims.
func (e *editor) claimTimes() {
	for i, c := range ClaimsTyped(e.Fields["claims"]) {
		if _, err := ParseTime(c.Time); err != nil {
			e.fault(fmt.Sprintf("claims.%d.label_s", i), "%v", err)
		}
	}
}

// labelFields are those by which a label is read: who checked the row did not see them
// otherwise.
var labelFields = []string{"level", "label_s", "claims", "reading", "reading_words", "registration", "not_on", "good_h"}

// relabel keeps the time that rules and who checked the label true when a product's row
// was changed: with claims the longest of them rules, without any more the one that did;
// what was changed since somebody looked at the label, nobody has looked at.
func (e *editor) relabel(at spot, was int) {
	if text, ok := e.Fields["claims"]; ok && e.Fields["label_s"] == "" {
		if strings.TrimSpace(text) != "" {
			at.tree.unset(at.node, "label_s")
		} else if now, _ := walk(at.node, "label_s"); now.Value == "" && was > 0 {
			at.tree.set(at.node, "label_s", strconv.Itoa(was), plainly)
		}
	}
	for _, field := range labelFields {
		if _, changed := e.Fields[field]; changed && e.Fields["checked_by"] == "" {
			at.tree.unset(at.node, "checked_by")
			at.tree.unset(at.node, "checked_on")
			at.tree.unset(at.node, "confirmed")
		}
	}
}

// rulingOf is the time that a product's row had, in seconds.
func rulingOf(n *yaml.Node) int {
	var y productYAML
	if n.Decode(&y) != nil {
		return 0
	}
	l := y.label()
	return y.labelS(&l)
}

// checked notes beside a confirmed product who had its label before them, and when.
func (e *editor) checked(at spot) {
	at.tree.set(at.node, "checked_by", e.Fields["by"], text)
	at.tree.set(at.node, "checked_on", cmp.Or(e.Fields["read_on"], e.Fields["on"]), text)
}
