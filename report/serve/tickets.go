package serve

import "sync"

// tickets tell how far the work of a request is, under a name that the page
// chose for it.
type tickets struct {
	mu  sync.Mutex
	all map[string]string
}

// maxTickets is how many are held; more are worked on without a word.
const maxTickets = 64

func newTickets() *tickets { return &tickets{all: map[string]string{}} }

// open begins a ticket. say changes what it says; shut ends it.
func (t *tickets) open(name string) (say func(string), shut func()) {
	if len(name) < 8 || len(name) > 64 {
		return func(string) {}, func() {}
	}
	set := func(what string) {
		t.mu.Lock()
		defer t.mu.Unlock()
		if _, known := t.all[name]; known || len(t.all) < maxTickets {
			t.all[name] = what
		}
	}
	set("waiting")
	return set, func() {
		t.mu.Lock()
		defer t.mu.Unlock()
		delete(t.all, name)
	}
}

func (t *tickets) read(name string) string {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.all[name]
}
