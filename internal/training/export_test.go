package training

// Probe calls f in every act under a key, between its first look-up and its
// checks; nil ends it.
func (s *Service) Probe(f func(act string)) { s.probe = f }

// UnknownHash is what the password of an unknown name is compared with.
func (s *Service) UnknownHash() string { return s.HashCost.unknown() }

// Crowd fills an address's share of the strangers' queue.
func Crowd(s *Service, from string) {
	for s.gates.outside.queue.join(from) {
	}
}

// Passing are the attempts that passed the modules: the evidence of a sign-off.
func (s Standing) Passing() []string { return s.passing }

// ReadLeaf reads a leaf and writes it again as it says it is.
func ReadLeaf(text []byte) (LeafAbout, error) {
	l, err := readLeaf(text)
	return l.about(), err
}

// WithTerms is a competency whose clinic has changed what it takes.
func WithTerms(c Competency, change func(*Terms)) Competency {
	terms := c.startingTerms()
	change(&terms)
	c.kept = []Requirements{{Competency: c.ID, Version: 1, Terms: c.startingTerms()}, {Competency: c.ID, Version: 2, From: "2026-01-01", Terms: terms}}
	return c
}
