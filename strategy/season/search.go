package season

import (
	"math"
	"slices"
)

// efforts that a race may be run with.
var efforts = []Effort{AllOut, Controlled}

// index is the place of an effort in efforts.
func index(e Effort) int {
	if e == AllOut {
		return 0
	}
	return 1
}

// search goes through all choices of races and efforts. Efforts are numbered as
// in efforts, races as in work.races.
type search struct {
	*work
	most     int    // races that may be run
	possible []bool // the race lies before the goal

	own      [][2]float64      // score of a race by itself
	together [][2][][2]float64 // what each two cost together: earlier race, its effort, later race, its effort
	bonus    float64           // the most that the choice as a whole can add
	// reach is the most that k more races, none before from, add to a choice that
	// ends with the given race (their number: with none) and effort, when races
	// cost each other something only if they are neighbours in the choice: never
	// too little. In order: last race, its effort, from, k.
	reach [][2][][]float64

	now         []choice
	chosen      []choice // best so far
	chosenScore float64
}

// best searches all choices: depth first by date, leaving a branch when even
// the best of what is left could not reach the best so far. Among equals the
// first found stays.
func (w *work) best() []choice {
	s := search{work: w, chosenScore: math.Inf(-1)}
	s.weighRaces()
	s.weighPairs()
	s.bound()
	s.down(0, 0)
	return s.chosen
}

// weighRaces says what each race is worth by itself, how many may be run, and
// what the whole can add.
func (s *search) weighRaces() {
	s.possible = make([]bool, len(s.races))
	s.own = make([][2]float64, len(s.races))
	entered := 0
	window, tells := false, false
	for i, r := range s.races {
		for k, e := range efforts {
			p, _ := s.alone(r.Race, e)
			s.own[i][k] = sum(p)
		}
		if !r.Date.Before(s.c.Goal.Date) {
			continue
		}
		s.possible[i] = true
		if r.Entered {
			entered++
		}
		window, tells = window || s.inWindow(r.Race), tells || s.couldTell(r.Race)
	}
	s.most = max(int(s.rule(RacesMost)), entered)
	if window {
		s.bonus += windowPoints
	}
	if tells {
		s.bonus += tellPoints
	}
}

// weighPairs works out once what each two races cost together.
func (s *search) weighPairs() {
	n := len(s.races)
	s.together = make([][2][][2]float64, n)
	for i := range n {
		for k, e := range efforts {
			s.together[i][k] = make([][2]float64, n)
			for j := i + 1; j < n; j++ {
				for l, f := range efforts {
					p, _ := s.pair(choice{i, e}, choice{j, f})
					s.together[i][k][j][l] = sum(p)
				}
			}
		}
	}
}

// bound fills reach from the last race to the first, as each needs those after
// it.
func (s *search) bound() {
	n := len(s.races)
	s.reach = make([][2][][]float64, n+1)
	for last := n - 1; last >= 0; last-- {
		for k := range efforts {
			s.reach[last][k] = s.reachAfter(last, k)
		}
	}
	s.reach[n][0] = s.reachAfter(n, 0)
}

// reachAfter is the reach of choices that end with a race and an effort.
func (s *search) reachAfter(last, effort int) [][]float64 {
	n := len(s.races)
	least := last + 1
	if last == n {
		least = 0
	}
	rows := make([][]float64, n+1)
	rows[n] = make([]float64, s.most+1)
	for from := n - 1; from >= least; from-- {
		rows[from] = slices.Clone(rows[from+1])
		for k := 1; k <= s.most && s.possible[from]; k++ {
			for l := range efforts {
				add := s.own[from][l] + s.reach[from][l][from+1][k-1]
				if last < n {
					add += s.together[last][effort][from][l]
				}
				rows[from][k] = math.Max(rows[from][k], add)
			}
		}
	}
	return rows
}

// down goes through all choices that begin with now and go on with races from i
// on. sofar is what now scores without what it adds as a whole.
func (s *search) down(i int, sofar float64) {
	last, effort := len(s.races), 0
	if n := len(s.now); n > 0 {
		last, effort = s.now[n-1].race, index(s.now[n-1].effort)
	}
	if sofar+s.reach[last][effort][i][s.most-len(s.now)]+s.bonus <= s.chosenScore+1e-9 {
		return
	}
	if i == len(s.races) {
		p, _ := s.whole(s.now)
		if score := sofar + sum(p); score > s.chosenScore+1e-9 {
			s.chosenScore, s.chosen = score, slices.Clone(s.now)
		}
		return
	}
	if s.possible[i] && len(s.now) < s.most {
		for k, e := range efforts {
			add := s.own[i][k]
			for _, before := range s.now {
				add += s.together[before.race][index(before.effort)][i][k]
			}
			s.now = append(s.now, choice{i, e})
			s.down(i+1, sofar+add)
			s.now = s.now[:len(s.now)-1]
		}
	}
	if !(s.races[i].Entered && s.possible[i]) {
		s.down(i+1, sofar)
	}
}
