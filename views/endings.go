package views

import (
	"strconv"

	"stillwet/internal/training"
)

// EndingsPageData is how demonstrations ended in a span of days.
type EndingsPageData struct {
	From, To training.Day
	All      []training.Endings
}

// counted leaves out what is nothing, so that the eye finds what is.
func counted(n int) string {
	if n == 0 {
		return "–"
	}
	return strconv.Itoa(n)
}

// practiceText says how many of the practices did not pass by the log.
func practiceText(e training.Endings) string {
	if e.PracticeAfterFail == 0 {
		return ""
	}
	return strconv.Itoa(e.PracticeAfterFail) + " of them had not passed"
}
