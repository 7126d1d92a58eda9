package simulate

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"

	"github.com/paulmach/orb"
)

// laid is a path with the distances at which it crosses what matters.
type laid struct {
	points orb.LineString
	run    []float64 // m along the path, 0 on the start line
	along  []float64 // m along the reference line, never decreasing
	ran    float64   // run at the finish line
	turns  [][2]float64
	misses []float64
}

// lay finds the crossings of a path with the start, the finish and the ends of
// the turns.
func lay(p path, st []station, ref Reference, bends []bend, length float64) (laid, error) {
	l := laid{points: p.points, run: make([]float64, len(p.points)), along: make([]float64, len(p.points))}
	for k := range p.points {
		if k > 0 {
			l.run[k] = l.run[k-1] + distance(p.points[k-1], p.points[k])
		}
		i := min(int(p.origin[k]), len(st)-2)
		l.along[k] = st[i].along + (p.origin[k]-float64(i))*(st[i+1].along-st[i].along)
	}
	start, _, err := l.crossing(sectionAt(st, 0))
	if err != nil {
		return l, err
	}
	for k := range l.run {
		l.run[k] -= start
	}
	if l.ran, _, err = l.crossing(sectionAt(st, length)); err != nil {
		return l, err
	}
	for i, t := range ref.Turns {
		from, _, err := l.crossing(sectionAt(st, t.From))
		if err != nil {
			return l, err
		}
		to, _, err := l.crossing(sectionAt(st, t.To))
		if err != nil {
			return l, err
		}
		apex := st[middleStation(st, bends[i].apex)]
		_, at, err := l.crossing(apex)
		if err != nil {
			return l, err
		}
		l.turns = append(l.turns, [2]float64{from, to})
		l.misses = append(l.misses, dot(minus(at, apex.at), apex.left)*bends[i].outside)
	}
	return l, nil
}

// sectionAt is the line across the road at a place along the reference line.
func sectionAt(st []station, along float64) station {
	i := middleStation(st, along)
	s := st[i]
	if s.along > along+1e-9 && i > 0 { // between two stations
		a := st[i-1]
		f := (along - a.along) / (s.along - a.along)
		s.at = orb.Point{a.at[0] + f*(s.at[0]-a.at[0]), a.at[1] + f*(s.at[1]-a.at[1])}
		s.along = along
		if f < 0.5 {
			s.left = a.left
		}
	}
	return s
}

// crossing is where the path crosses a section forwards, nearest to its place
// along the line: the distance along the path and the point.
func (l laid) crossing(s station) (float64, orb.Point, error) {
	const reach = 25 // m along the reference line
	forward := s.forward()
	best, bestGap, where := 0.0, math.Inf(1), orb.Point{}
	for k := max(sort.SearchFloat64s(l.along, s.along-reach), 1); k < len(l.points) && l.along[k] < s.along+reach; k++ {
		p, q := l.points[k-1], l.points[k]
		a, b := dot(minus(p, s.at), forward), dot(minus(q, s.at), forward)
		if gap := math.Abs(l.along[k] - s.along); a <= 0 && b > 0 && gap < bestGap {
			f := -a / (b - a)
			bestGap = gap
			best = l.run[k-1] + f*(l.run[k]-l.run[k-1])
			where = orb.Point{p[0] + f*(q[0]-p[0]), p[1] + f*(q[1]-p[1])}
		}
	}
	if math.IsInf(bestGap, 1) {
		return 0, where, fmt.Errorf("the path does not cross the section %.1f m along the reference line", s.along)
	}
	return best, where, nil
}

// clock gives every point of the path its time, 0 on the start line.
func (r Runner) clock(l laid, ref Reference, length float64, rng *rand.Rand) []float64 {
	const step = 10 // m between values of the slow variation
	pace := smoothProfile(int((l.run[len(l.run)-1]-l.run[0])/step)+3, step, r.SpeedSD, r.SpeedLength, rng)
	speed := make([]float64, len(l.run))
	for k, d := range l.run {
		switch {
		case d < 0:
			speed[k] = r.LeadIn.speed()
			continue
		case d > l.ran:
			speed[k] = r.RunOut.speed()
			continue
		}
		x := (d - l.run[0]) / step
		i := int(x)
		v := 1 + pace[i] + (x-float64(i))*(pace[i+1]-pace[i])
		if ref.Height != nil && r.GradeLoss != 0 {
			a, b := max(l.along[k]-10, 0), min(l.along[k]+10, length)
			v *= 1 - min(max(r.GradeLoss*(ref.Height(b)-ref.Height(a))/(b-a), -0.3), 0.5)
		}
		speed[k] = r.Speed * max(v, 0.3)
	}
	if r.SideAcceleration > 0 {
		holdBack(speed, l, r.SideAcceleration)
	}
	times := make([]float64, len(l.run))
	for k := 1; k < len(times); k++ {
		times[k] = times[k-1] + (l.run[k]-l.run[k-1])*2/(speed[k-1]+speed[k])
	}
	zero := at(l.run, times, 0)
	for k := range times {
		times[k] -= zero
	}
	return times
}

func (w Walk) speed() float64 {
	if w.Speed == 0 {
		return 1.2
	}
	return w.Speed
}

// holdBack slows a runner in turns and lets the speed fall and rise again no
// faster than a runner brakes and picks up.
func holdBack(speed []float64, l laid, side float64) {
	const (
		reach  = 4   // points to either side that the radius is taken over, 1 m
		change = 0.7 // m/s², braking and picking up
	)
	for k := reach; k+reach < len(speed); k++ {
		a, b := minus(l.points[k], l.points[k-reach]), minus(l.points[k+reach], l.points[k])
		turned := math.Abs(angle(a, b))
		if turned > 1e-6 {
			radius := (l.run[k+reach] - l.run[k-reach]) / 2 / turned
			speed[k] = min(speed[k], math.Sqrt(side*radius))
		}
	}
	gain := func(k, from int) {
		speed[k] = min(speed[k], math.Sqrt(speed[from]*speed[from]+2*change*math.Abs(l.run[k]-l.run[from])))
	}
	for k := 1; k < len(speed); k++ {
		if l.run[k] > 0 && l.run[k-1] >= 0 { // off the line the runner starts at once
			gain(k, k-1)
		}
	}
	for k := len(speed) - 2; k >= 0; k-- {
		if l.run[k+1] <= l.ran {
			gain(k, k+1)
		}
	}
}

// at interpolates y over x, which rises; beyond the ends the last value holds.
func at(x, y []float64, where float64) float64 {
	i := sort.SearchFloat64s(x, where)
	switch {
	case i == 0:
		return y[0]
	case i == len(x):
		return y[len(y)-1]
	}
	return y[i-1] + (where-x[i-1])/(x[i]-x[i-1])*(y[i]-y[i-1])
}

// truth puts the parts of a run together and cuts it to what is recorded.
func (r Runner) truth(l laid, times []float64, ref Reference, length, overstep float64) Truth {
	t := Truth{
		Shortest: length, Ran: l.ran, Extra: l.ran - length, BetweenTurns: l.ran - length,
		Duration: at(l.run, times, l.ran), LeadIn: r.LeadIn.Distance, RunOut: r.RunOut.Distance, Overstep: overstep,
	}
	for i, turn := range l.turns {
		extra := (turn[1] - turn[0]) - (ref.Turns[i].To - ref.Turns[i].From)
		t.Turns = append(t.Turns, TurnTruth{
			Extra: extra, Miss: l.misses[i],
			Time: at(l.run, times, turn[1]) - at(l.run, times, turn[0]),
		})
		t.BetweenTurns -= extra
	}
	xs, ys := split(l.points)
	add := func(d, wait float64) {
		along := at(l.run, l.along, d)
		height := math.NaN()
		if ref.Height != nil {
			height = ref.Height(min(max(along, 0), length))
		}
		t.Points = append(t.Points, orb.Point{at(l.run, xs, d), at(l.run, ys, d)})
		t.Along = append(t.Along, along)
		t.Times = append(t.Times, at(l.run, times, d)+wait)
		t.Heights = append(t.Heights, height)
	}
	from, to := -r.LeadIn.Distance, l.ran+r.RunOut.Distance
	if r.LeadIn.Wait > 0 {
		add(from, -r.LeadIn.Wait)
	}
	add(from, 0)
	for _, d := range l.run {
		if d > from && d < to {
			add(d, 0)
		}
	}
	add(to, 0)
	if r.RunOut.Wait > 0 {
		add(to, r.RunOut.Wait)
	}
	return t
}
