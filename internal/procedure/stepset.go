package procedure

// StepSet is a set of steps by index. It is comparable and of fixed size, as
// the station's state that holds it.
type StepSet [MaxSteps / 64]uint64

// Has reports whether step i is in the set.
func (s *StepSet) Has(i int) bool { return s[uint(i)/64]>>(uint(i)%64)&1 != 0 }

// With is the set with step i.
func (s StepSet) With(i int) StepSet {
	s[i/64] |= 1 << (i % 64)
	return s
}

// Without is the set without step i.
func (s StepSet) Without(i int) StepSet {
	s[i/64] &^= 1 << (i % 64)
	return s
}

// Or is the steps of both sets.
func (s StepSet) Or(t StepSet) StepSet {
	for i := range s {
		s[i] |= t[i]
	}
	return s
}

// And is the steps that both sets have.
func (s StepSet) And(t StepSet) StepSet {
	for i := range s {
		s[i] &= t[i]
	}
	return s
}

// Empty reports whether no step is in the set.
func (s StepSet) Empty() bool { return s == StepSet{} }
