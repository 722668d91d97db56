package training

import (
	"regexp"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Caution stands on every result, on screen, on paper and in print.
const Caution = "Training and record aid. Your clinic's policy, the product label, the machine's manual and local law come first."

// tidy makes free text ready to be kept and signed: NFC, one kind of line
// break, no control characters, nothing that does not show, no blanks around it.
func tidy(what, text string, limit int) (string, error) {
	if !utf8.ValidString(text) {
		return "", refuse(ErrInvalid, "%s has characters that cannot be read. Type it again.", what)
	}
	text = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' || unshown(r) {
			return -1
		}
		return r
	}, text)
	text = strings.TrimSpace(norm.NFC.String(text)) // only now: what is gone stood between a letter and its accent, perhaps
	if n := utf8.RuneCountInString(text); n > limit {
		return "", refuse(ErrInvalid, "%s has %d characters; %d is the most.", what, n, limit)
	}
	return text, nil
}

// unshown reports whether a character shows nothing by itself, so that two texts
// with and without it look the same. The joiners stay: Persian and the scripts of
// India are written with them.
func unshown(r rune) bool {
	if r == '\u200c' || r == '\u200d' {
		return false
	}
	return unicode.In(r, unicode.Cf, unicode.Other_Default_Ignorable_Code_Point, unicode.Variation_Selector) &&
		!unicode.Is(unicode.Prepended_Concatenation_Mark, r)
}

// legible reports whether a text shows at least one letter: some letters by class,
// such as the Hangul fillers, show nothing.
func legible(text string) bool {
	return strings.ContainsFunc(text, func(r rune) bool {
		return unicode.IsLetter(r) && !unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r)
	})
}

var patientSigns = []struct {
	pattern *regexp.Regexp
	sign    string
}{
	{regexp.MustCompile(`(?i:\b(?:patients?|pt\.?|client|mr\.?|mrs\.?|ms\.?|miss))\s+(?:[A-Z]\.\s*)*[A-Z][\p{Ll}'-]+`), "a patient's name"},
	{regexp.MustCompile(`(?i)\b(?:mrn|medical record|chart|record no|hospital no|nhs)\b`), "a record number"},
	{regexp.MustCompile(`\d(?:[ -]?\d){5,}`), "a record number"},
	{regexp.MustCompile(`(?i)\b(?:dob|d\.o\.b\.?|born|birth ?dat[ea]|date of birth)\b`), "a date of birth"},
	{regexp.MustCompile(`\b\d{1,2}[./-]\d{1,2}[./-](?:19|20)?\d{2}\b|\b(?:19|20)\d{2}-\d{2}-\d{2}\b`), "a date of birth"},
}

var patientTitle = regexp.MustCompile(`(?i)^(?:patients?|pt|client)\.?\s+(?:was|is|had|has|left|sat|stayed|still|not|gone|away|who|and|in|on|to)\b`)

// PatientDataWarning is a sentence when a text looks as if it held something
// about a patient, "" otherwise. Nothing is refused for it.
func PatientDataWarning(text string) string {
	for _, s := range patientSigns {
		for _, found := range s.pattern.FindAllString(text, -1) {
			if !patientTitle.MatchString(found) {
				return "This looks as if it held " + s.sign + " (“" + found + "”). Nothing about patients belongs in this record: take it out unless it is something else."
			}
		}
	}
	return ""
}

var itemHealthSigns = []struct {
	pattern *regexp.Regexp
	sign    string
}{
	{regexp.MustCompile(`(?i)\b(?:vaccin\w*|immuni[sz]\w*|booster)\b`), "a vaccination"},
	{regexp.MustCompile(`(?i)\b(?:titers?|titres?|antibod\w*|immune|immunity|anti-?hbs|hbsag)\b`), "a titre"},
	{regexp.MustCompile(`(?i)\b(?:tb|tuberculosis)\s+(?:test|skin|blood|screen|result|negative|positive)\w*|\b(?:tuberculin|mantoux|ppd|tst|igra)\b`), "a tuberculosis test"},
	{regexp.MustCompile(`(?i)\b(?:medical(?:ly)?\s+(?:clear\w*|evaluation|exam\w*)|health\s+clear\w*|cleared\s+(?:for|to)|fit\s+for\s+(?:duty|work))\b`), "a medical clearance"},
	{regexp.MustCompile(`(?i)\b(?:needle-?\s?stick|exposure\s+(?:incident|report|follow)\w*|was\s+exposed|post-?exposure)\b`), "an exposure"},
}

// reasonHealthSigns are words that a reason about somebody has no need of, and that a title of what
// is taught may well have.
var reasonHealthSigns = regexp.MustCompile(`(?i)\b(?:sick\w*|ill|illness|pregnan\w*|maternity|surger\w*|operation|hospital\w*|cancer|covid\w*|flu|injur\w*|burn-?out|depress\w*|diagnos\w*|medical|doctor|health|hepatitis|hiv|tb|tubercul\w*|rehab\w*|disab\w*)\b`)

// ItemTextWarning is a sentence when a text about an item looks as if it held health data of
// staff or something about a patient, "" otherwise. Nothing is refused for it: a title may speak
// of what is taught.
func ItemTextWarning(text string) string {
	for _, s := range itemHealthSigns {
		if found := s.pattern.FindString(text); found != "" {
			return "This looks as if it spoke of " + s.sign + " (“" + found + "”). Health data of staff belongs in their medical file, not here: take it out unless it only says what was taught."
		}
	}
	return PatientDataWarning(text)
}

// ReasonTextWarning is the same of a reason that is given about somebody.
func ReasonTextWarning(text string) string {
	if found := reasonHealthSigns.FindString(text); found != "" {
		return "“" + found + "” reads like a reason of health. Health data does not belong in a training record: days and other reasons are enough."
	}
	return ItemTextWarning(text)
}

// illegible says what is wrong with a text that has to be read by people: it is missing, or
// shows no letter.
func illegible(text, what, missing string) []string {
	switch {
	case text == "":
		return []string{missing}
	case !legible(text):
		return []string{what + " shows no letter. Write it as it is to be read."}
	}
	return nil
}
