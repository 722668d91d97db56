package views

// Problem is a page that says what went wrong and where to go on.
type Problem struct {
	Heading, Text string
	Way, WayText  string // a link on
}
