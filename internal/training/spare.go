package training

import (
	"maps"
	"slices"
	"sync"
)

// spare is what the door remembers in memory while nothing can be saved: whoever
// signs in can read, whoever signs out is out, and guesses are counted. It ends
// with the program.
type spare struct {
	mu       sync.Mutex
	sessions map[string]spareSession
	ended    map[string]bool
	tries    map[string]Tries
}

// spareSession is void with the account's next generation, as the disk's sessions
// are ended then.
type spareSession struct {
	Session
	generation int
}

func newSpare() *spare {
	return &spare{sessions: map[string]spareSession{}, ended: map[string]bool{}, tries: map[string]Tries{}}
}

// session finds a session of the memory, or that a kept one was ended in it.
func (s *spare) session(idHash string) (n spareSession, found, ended bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	n, found = s.sessions[idHash]
	return n, found, s.ended[idHash]
}

func (s *spare) keepSession(n Session, generation int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.sessions[n.IDHash] = spareSession{n, generation}
}

// endSession ends a session, kept on the disk or here.
func (s *spare) endSession(idHash string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.sessions, idHash)
	s.ended[idHash] = true
}

func (s *spare) forgetEnded(idHash string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.ended, idHash)
}

// dropSession forgets a session that is kept on the disk now.
func (s *spare) dropSession(idHash string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.sessions, idHash)
}

// withMemory are a person's kept sessions as they are with those of the memory.
func (s *spare) withMemory(personID string, kept []Session) []Session {
	s.mu.Lock()
	defer s.mu.Unlock()
	all := slices.DeleteFunc(kept, func(n Session) bool {
		_, newer := s.sessions[n.IDHash]
		return newer || s.ended[n.IDHash]
	})
	for _, n := range s.sessions {
		if n.PersonID == personID {
			all = append(all, n.Session)
		}
	}
	return all
}

func (s *spare) triesIn(lane string) (Tries, bool) {
	s.mu.Lock()
	defer s.mu.Unlock()
	t, ok := s.tries[lane]
	return t, ok
}

func (s *spare) keepTries(counts map[string]Tries) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.tries) > mostTries {
		clear(s.tries)
	}
	maps.Copy(s.tries, counts)
}

// forgetTries leaves to the disk what is counted there again.
func (s *spare) forgetTries(counts map[string]Tries) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for lane := range counts {
		delete(s.tries, lane)
	}
}
