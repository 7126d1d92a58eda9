package serve

import (
	"crypto/rand"
	"sync"
	"time"
)

// Limits of what is held in memory.
const (
	maxSessions = 24
	maxHeld     = 192 << 20 // bytes of uploads and results of all sessions
	idle        = 2 * time.Hour
)

// session is one piece of work and its result.
type session struct {
	ID string

	mu      sync.Mutex
	in      *input
	res     *result
	problem *Problem
	changes []string
	used    time.Time
	held    int
	kept    string // folder below the one to keep results in
}

// store holds the sessions. When there are too many, or they hold too much,
// those unused for longest are forgotten.
type store struct {
	mu  sync.Mutex
	all map[string]*session
	now func() time.Time
}

func newStore() *store { return &store{all: map[string]*session{}, now: time.Now} }

// add keeps a new session under a name that cannot be guessed.
func (s *store) add(x *session) {
	s.mu.Lock()
	defer s.mu.Unlock()
	x.ID = rand.Text()
	x.used = s.now()
	s.all[x.ID] = x
	s.trim(x)
}

// get finds a session, nil when there is none.
func (s *store) get(id string) *session {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.trim(nil)
	x := s.all[id]
	if x != nil {
		x.used = s.now()
	}
	return x
}

// sized notes how much a session holds now.
func (s *store) sized(x *session, bytes int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	x.held = bytes
	s.trim(x)
}

func (s *store) drop(id string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.all, id)
}

func (s *store) count() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.all)
}

// trim forgets what is idle or too much, but never keep.
func (s *store) trim(keep *session) {
	for id, x := range s.all {
		if x != keep && s.now().Sub(x.used) > idle {
			delete(s.all, id)
		}
	}
	for {
		held := 0
		var oldest *session
		for _, x := range s.all {
			held += x.held
			if x != keep && (oldest == nil || x.used.Before(oldest.used)) {
				oldest = x
			}
		}
		if oldest == nil || len(s.all) <= maxSessions && held <= maxHeld {
			return
		}
		delete(s.all, oldest.ID)
	}
}
