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

// best searches all choices: depth first by date, leaving a branch when even
// the best of what is left could not reach the best so far. Among equals the
// first found stays.
func (w *work) best() []choice {
	n := len(w.races)
	possible := make([]bool, n)
	own := make([][2]float64, n)
	for i, r := range w.races {
		possible[i] = r.Date.Before(w.c.Goal.Date)
		for k, e := range efforts {
			p, _ := w.alone(r.Race, e)
			own[i][k] = sum(p)
		}
	}
	most := int(w.rule(RacesMost))
	entered := 0
	bonus := 0.0 // the most that the choice as a whole can add
	window, tells := false, false
	for i, r := range w.races {
		if !possible[i] {
			continue
		}
		if r.Entered {
			entered++
		}
		window, tells = window || w.inWindow(r.Race), tells || w.couldTell(r.Race)
	}
	if window {
		bonus += windowPoints
	}
	if tells {
		bonus += tellPoints
	}
	most = max(most, entered)
	// What each two cost together, worked out once.
	together := make([][2][][2]float64, n)
	for i := range n {
		for k, e := range efforts {
			together[i][k] = make([][2]float64, n)
			for j := i + 1; j < n; j++ {
				for l, f := range efforts {
					p, _ := w.pair(choice{i, e}, choice{j, f})
					together[i][k][j][l] = sum(p)
				}
			}
		}
	}
	// reach is the most that k more races, none before from, add to a choice
	// whose last race is the given one (n: none yet), when races cost each other
	// something only if they are neighbours in the choice: never too little.
	reach := make([][2][][]float64, n+1)
	fill := func(last, effort int) [][]float64 {
		least := last + 1
		if last == n {
			least = 0
		}
		rows := make([][]float64, n+1)
		rows[n] = make([]float64, most+1)
		for from := n - 1; from >= least; from-- {
			rows[from] = slices.Clone(rows[from+1])
			for k := 1; k <= most && possible[from]; k++ {
				for l := range efforts {
					add := own[from][l] + reach[from][l][from+1][k-1]
					if last < n {
						add += together[last][effort][from][l]
					}
					rows[from][k] = math.Max(rows[from][k], add)
				}
			}
		}
		return rows
	}
	for last := n - 1; last >= 0; last-- { // each needs those after it
		for k := range efforts {
			reach[last][k] = fill(last, k)
		}
	}
	reach[n][0] = fill(n, 0)
	var best []choice
	bestScore := math.Inf(-1)
	var list []choice
	var down func(i int, sofar float64)
	down = func(i int, sofar float64) {
		last, effort := n, 0
		if len(list) > 0 {
			last, effort = list[len(list)-1].race, index(list[len(list)-1].effort)
		}
		if sofar+reach[last][effort][i][most-len(list)]+bonus <= bestScore+1e-9 {
			return
		}
		if i == n {
			p, _ := w.whole(list)
			if s := sofar + sum(p); s > bestScore+1e-9 {
				bestScore, best = s, slices.Clone(list)
			}
			return
		}
		if possible[i] && len(list) < most {
			for k, e := range efforts {
				add := own[i][k]
				for _, before := range list {
					add += together[before.race][index(before.effort)][i][k]
				}
				list = append(list, choice{i, e})
				down(i+1, sofar+add)
				list = list[:len(list)-1]
			}
		}
		if !(w.races[i].Entered && possible[i]) {
			down(i+1, sofar)
		}
	}
	down(0, 0)
	return best
}
