package roster

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// mostName is how many characters a name may have.
const mostName = 200

// A role as the program calls it, by the word of a roster. Staff are new hires who were
// signed off: that follows from the records.
var roles = map[string]string{
	"new hire": "trainee", "staff": "trainee", "preceptor": "preceptor", "educator": "educator", "manager": "manager",
}

const roleWords = "new hire, staff, preceptor, educator or manager"

// wrongName says what to do about a name, "" when nothing.
func wrongName(name string) string {
	switch {
	case name == "":
		return "The name is missing. Write it, or delete the row."
	case strings.ContainsFunc(name, unicode.IsControl):
		return "The name has a line end, a tab or another control character. Write it in one line."
	case !utf8.ValidString(name) || strings.ContainsRune(name, utf8.RuneError):
		return "The name has characters that cannot be read. Write it again, and save the list as CSV (UTF-8) or .xlsx."
	case utf8.RuneCountInString(name) > mostName:
		return fmt.Sprintf("The name has %d characters; %d is the most. Shorten it.", utf8.RuneCountInString(name), mostName)
	case !strings.ContainsFunc(name, shows):
		return "The name shows nothing. Write it as it is to be read."
	}
	return ""
}

func shows(r rune) bool {
	return unicode.IsGraphic(r) && !unicode.IsSpace(r) && !unicode.In(r, unicode.Cf, unicode.Other_Default_Ignorable_Code_Point)
}

// rolesIn reads role words with commas, semicolons or strokes between them.
func rolesIn(text string) (all []string, do string) {
	for part := range strings.FieldsFuncSeq(text, func(r rune) bool { return r == ',' || r == ';' || r == '/' || r == '+' }) {
		word, ok := roles[plain(part)]
		if !ok {
			return nil, "This is no role. Write " + roleWords + "."
		}
		all = append(all, word)
	}
	return all, ""
}

// formulaError is what a spreadsheet shows in place of a value it could not work out.
var formulaError = regexp.MustCompile(`^#(?:N/A|REF!|VALUE!|NAME\?|DIV/0!|NULL!|NUM!|SPILL!|CALC!)$`)

// Order is which of day and month comes first in a date of three numbers.
type Order string

// The orders. Without one, a date that could be either is a fault.
const (
	DayMonth Order = "day-month"
	MonthDay Order = "month-day"
)

var (
	yearFirst = regexp.MustCompile(`^(\d{4})([-./])(\d{1,2})([-./])(\d{1,2})$`)
	yearLast  = regexp.MustCompile(`^(\d{1,2})([-./])(\d{1,2})([-./])(\d{4})$`)
	shortYear = regexp.MustCompile(`^\d{1,2}[-./ ](?:\d{1,2}|[A-Za-z]{3,9})[-./ ]\d{2}$`)
	serial    = regexp.MustCompile(`^(\d{1,6})(?:\.\d+)?$`)
	midnight  = regexp.MustCompile(`[T ]\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?Z?$`)
	// As people write a month in words.
	wordDates = []string{"2 Jan 2006", "2 January 2006", "Jan 2 2006", "January 2 2006"}
)

// dates reads the days of one file.
type dates struct {
	today    time.Time
	order    Order
	date1904 bool
	example  **Example // where the first date is told that could be two days
}

// firstDay is before which nobody began who works here.
var firstDay = time.Date(1950, 1, 1, 0, 0, 0, 0, time.UTC)

const (
	isoDay  = "2006-01-02"
	howDate = "Write it as 2024-03-15."
)

// How many years ahead a first day and a last one may be.
const (
	yearsToBegin = 1
	yearsToEnd   = 10
)

// read makes a day of what stands in a cell, as 2006-01-02, so many years ahead at the most.
func (d dates) read(text string, ahead int) (day, do string) {
	if text == "" {
		return "", ""
	}
	t, do := d.parse(midnight.ReplaceAllString(text, ""))
	switch {
	case do != "":
		return "", do
	case t.After(d.today.AddDate(ahead, 0, 0)):
		return "", "This day is more than " + map[int]string{yearsToBegin: "a year", yearsToEnd: "ten years"}[ahead] + " ahead. Correct it."
	case t.Before(firstDay):
		return "", "Nobody works here since then. Correct the day."
	}
	return t.Format(isoDay), ""
}

func (d dates) parse(text string) (t time.Time, do string) {
	if m := yearFirst.FindStringSubmatch(text); m != nil && m[2] == m[4] {
		return dayOf(m[1], m[3], m[5])
	}
	if m := yearLast.FindStringSubmatch(text); m != nil && m[2] == m[4] {
		return d.inOrder(text, m[1], m[3], m[5])
	}
	if m := serial.FindStringSubmatch(text); m != nil {
		return d.serialDay(m[1])
	}
	if shortYear.MatchString(text) {
		return t, "Write the year with four digits, for example 2024-03-15."
	}
	for _, layout := range wordDates {
		if t, err := time.Parse(layout, wordDate(text)); err == nil {
			return t, ""
		}
	}
	return t, "This is no day. " + howDate
}

// wordDate writes a date in words in one way.
func wordDate(text string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(text), func(r rune) bool { return r == ' ' || r == '-' || r == ',' || r == '.' || r == '/' }), " ")
}

// inOrder reads two numbers and a year. It guesses nothing.
func (d dates) inOrder(text, a, b, year string) (t time.Time, do string) {
	dayFirst, noDay := dayOf(year, b, a)
	monthFirst, noMonth := dayOf(year, a, b)
	if *d.example == nil && noDay == "" && noMonth == "" && !dayFirst.Equal(monthFirst) {
		*d.example = &Example{text, dayFirst, monthFirst}
	}
	switch {
	case d.order == DayMonth:
		return dayFirst, orTheOther("day", noDay, monthFirst, noMonth)
	case d.order == MonthDay:
		return monthFirst, orTheOther("month", noMonth, dayFirst, noDay)
	case noDay != "" && noMonth != "":
		return t, noDay
	case noDay != "":
		return monthFirst, ""
	case noMonth != "" || dayFirst.Equal(monthFirst):
		return dayFirst, ""
	}
	return t, fmt.Sprintf("This could be %s or %s. Say which comes first in this file, the day or the month, or write it as %s.",
		dayFirst.Format("2 January 2006"), monthFirst.Format("2 January 2006"), dayFirst.Format(isoDay))
}

// orTheOther is why a day is none in the order that was said, with the one that it would be in
// the other.
func orTheOther(first, no string, other time.Time, noOther string) string {
	if no == "" || noOther != "" {
		return no
	}
	return fmt.Sprintf("With the %s first there is no such day. If it is %s, write it as %s.", first, other.Format("2 January 2006"), other.Format(isoDay))
}

func dayOf(year, month, day string) (t time.Time, do string) {
	t, err := time.Parse("2006-1-2", strings.TrimLeft(year, " ")+"-"+short(month)+"-"+short(day))
	if err != nil {
		return t, "There is no such day. " + howDate
	}
	return t, ""
}

// short is a number without the noughts before it.
func short(number string) string {
	if n := strings.TrimLeft(number, "0"); n != "" {
		return n
	}
	return "0"
}

// serialDay reads the number that spreadsheets keep a day as: days since 30 December
// 1899, for the 29 February 1900 that they count was never there.
func (d dates) serialDay(text string) (t time.Time, do string) {
	n, err := strconv.Atoi(text)
	if err != nil || n < 1000 || n > 200_000 {
		return t, "This number is no day. " + howDate
	}
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if d.date1904 {
		epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	return epoch.AddDate(0, 0, n), ""
}
