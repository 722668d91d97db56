package training

// UnknownHash is what the password of an unknown name is compared with.
func (s *Service) UnknownHash() string { return s.HashCost.unknown() }
