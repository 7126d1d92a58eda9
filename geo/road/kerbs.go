package road

import (
	"fmt"
	"math"
	"slices"

	"github.com/paulmach/orb"
)

const (
	// kerbFar is how far in metres from the course a drawn kerb may lie.
	kerbFar = 60.0
	// kerbStep is the distance in metres between two places at which a drawn
	// kerb is looked up.
	kerbStep = 2.0
	// kerbShared is how many metres farther from a drawn kerb than another leg
	// of the course a place may lie and have it for its edge as well: laps are
	// drawn a little differently each time.
	kerbShared = 5.0
)

// kerbUse is what has come of a drawn kerb in the sections built so far.
type kerbUse struct {
	looked bool    // it was looked for
	near   float64 // m, how near it comes to the course
	served bool    // it is an edge of the road somewhere
	other  bool    // it lies on the other side of a section
}

// unusedKerb is an error about the first drawn kerb that was looked for and
// lies too far from the course, or on its other side wherever it is near.
func (b *builder) unusedKerb() error {
	for i, k := range b.kerbs {
		switch {
		case k.looked && k.near > kerbFar:
			return entry{ItemKerb, i}.bad("Line", RuleKerb, "check that it was drawn for this course",
				"it lies %s from the course at its nearest, and no kerb is looked for beyond %.0f m", farAway(k.near), kerbFar)
		case k.other && !k.served:
			return b.badKerb(i, otherSide)
		}
	}
	return nil
}

const otherSide = "it lies on the other side of the course"

func (b *builder) badKerb(index int, format string, a ...any) error {
	side := "right"
	if b.r.Spec.Kerbs[index].Left {
		side = "left"
	}
	return entry{ItemKerb, index}.bad("Line", RuleKerb, "draw the "+side+" kerb along the stretch of the course that it belongs to", format, a...)
}

// drawn puts the drawn kerbs of the Spec in the place of the edges that the
// widths give. A drawn kerb is taken as it is drawn, without corner radius.
func (b *builder) drawn(q *section, l, r []node) ([]node, []node, error) {
	for i := range b.r.Spec.Kerbs {
		k := &b.r.Spec.Kerbs[i]
		from, to := q.from, q.to
		if k.To != 0 {
			from, to = math.Max(from, k.From), math.Min(to, k.To)
		}
		if to-from < 1e-3 {
			continue
		}
		kind := k.Edge.or(Kerb)
		c := b.r.Spec.Clearance.Of(kind)
		runs, err := b.alongKerb(q, i, from, to, c)
		if err != nil {
			return nil, nil, err
		}
		for _, run := range runs {
			a, z := run[0].s, run[len(run)-1].s
			edges := q.r
			if k.Left {
				l = splice(l, run)
				edges = q.l
			} else {
				r = splice(r, run)
			}
			for j := range edges {
				if m := (q.s[j] + q.s[j+1]) / 2; m > a && m < z {
					edges[j].drawn, edges[j].kind, edges[j].r, edges[j].c = true, kind, 0, c
				}
			}
		}
	}
	return l, r, nil
}

// splice replaces the part of a chain between the first and the last chainage
// of a run by the run.
func splice(ns []node, run []node) []node {
	a, z := run[0].s, run[len(run)-1].s
	at := func(s float64) node {
		k := 0
		for k+1 < len(ns) && ns[k+1].s <= s {
			k++
		}
		n := ns[k]
		if k+1 < len(ns) && ns[k+1].s > n.s && s > n.s {
			n.p = mix(n.p, ns[k+1].p, (s-n.s)/(ns[k+1].s-n.s))
		}
		n.s = s
		return n
	}
	var out []node
	for _, n := range ns {
		if n.s < a {
			out = append(out, n)
		}
	}
	in, ex := at(a), at(z)
	// The wall between the two kinds of edge takes the clearance of the kerb.
	in.r, in.c = 0, run[0].c
	if len(out) > 0 {
		out = append(out, in)
	}
	out = append(out, run...)
	if n := len(ns); ns[n-1].s > z {
		out = append(out, ex)
	}
	for _, n := range ns {
		if n.s > z {
			out = append(out, n)
		}
	}
	return out
}

// foot is the nearest point of a drawn kerb to a place of the course.
type foot struct {
	s    float64 // chainage of the place
	t    float64 // place on the kerb: vertex number and fraction
	dist float64 // m between the two
	side float64 // m, how far to the left of the course
	end  bool    // the kerb does not lie beside the place, only its end near it
}

// on is the point of the kerb.
func (f foot) on(line orb.LineString) orb.Point {
	j := min(int(f.t), len(line)-2)
	return mix(line[j], line[j+1], f.t-float64(j))
}

// nearerLeg says whether a point p of a kerb lies beside another leg of the
// course, and so much nearer to it than to the place that it is that leg's edge
// only.
func (b *builder) nearerLeg(p orb.Point, f foot, left bool) bool {
	c := b.r.Course
	near, apart := f.dist-kerbShared, 2*f.dist+30
	for i := 0; i+1 < len(c.Points); i++ {
		if c.Chainage[i+1] > f.s-apart && c.Chainage[i] < f.s+apart {
			continue // the way there from the place itself
		}
		g, w := sub(c.Points[i+1], c.Points[i]), sub(p, c.Points[i])
		t := max(0, min(1, dot(w, g)/dot(g, g)))
		if norm(sub(p, mix(c.Points[i], c.Points[i+1], t))) < near && (cross(g, w) > 0) == left {
			return true
		}
	}
	return false
}

// footOn finds the nearest point of a kerb to the place at a chainage.
func (q *section) footOn(line orb.LineString, s float64) foot {
	o, n := q.point(s), q.normal(s)
	best := foot{s: s, dist: math.Inf(1)}
	for j := 0; j+1 < len(line); j++ {
		g := sub(line[j+1], line[j])
		t := max(0, min(1, dot(sub(o, line[j]), g)/dot(g, g)))
		p := mix(line[j], line[j+1], t)
		if d := norm(sub(p, o)); d < best.dist {
			best.dist, best.t = d, float64(j)+t
			best.side = dot(sub(p, o), n)
		}
	}
	// Square to the course the kerb's end is where it says; a place that
	// has only the end beside it is not served by it.
	e := line[0]
	if best.t > 0 {
		e = line[len(line)-1]
	}
	if best.t == 0 || best.t == float64(len(line)-1) {
		best.end = math.Abs(dot(sub(e, o), leftOf(n))) > 0.5
	}
	return best
}

// stations are the chainages between two at which a drawn kerb is looked up:
// both, every vertex of the course and no more than kerbStep apart.
func (q *section) stations(from, to float64) []float64 {
	var at []float64
	for s := from; s < to; s += kerbStep {
		at = append(at, s)
	}
	for _, s := range q.s {
		if s > from && s < to {
			at = append(at, s)
		}
	}
	at = append(at, to)
	slices.Sort(at)
	return slices.Compact(at)
}

// alongKerb finds for every place of the course between two chainages the
// nearest point of a drawn kerb of the Spec, which keeps the clearance c. It
// gives one run of nodes for every time that the course passes the kerb.
func (b *builder) alongKerb(q *section, index int, from, to, c float64) ([][]node, error) {
	k, use := &b.r.Spec.Kerbs[index], &b.kerbs[index]
	sign := -1.0
	if k.Left {
		sign = 1
	}
	line := slices.CompactFunc(slices.Clone(k.Line), func(a, b orb.Point) bool { return norm(sub(a, b)) < 1e-6 })
	if len(line) < 2 {
		return nil, b.badKerb(index, "it has no length")
	}
	var runs [][]foot
	var run []foot
	flush := func() {
		if len(run) > 1 {
			runs = append(runs, run)
		}
		run = nil
	}
	wrong, right := 0, 0
	for _, s := range q.stations(from, to) {
		x := b.r.Spec.resolveOn(b.r.Course, s)
		if k.Left && x.l.at != x.kerbLeft || !k.Left && x.r.at != x.kerbRight {
			flush() // the permitted part does not reach the kerb here
			continue
		}
		f := q.footOn(line, s)
		if !use.looked || f.dist < use.near {
			use.looked, use.near = true, f.dist
		}
		if f.dist > kerbFar || f.end || f.dist > kerbShared && b.nearerLeg(f.on(line), f, k.Left) {
			flush()
			continue
		}
		if f.side*sign < 0 && f.dist > 0.5 {
			wrong++
			flush()
			continue
		}
		right++
		run = append(run, f)
	}
	flush()
	if wrong > right {
		if k.To != 0 {
			return nil, b.badKerb(index, otherSide)
		}
		use.other = true // the way back along a street has it on the other side
		return nil, nil
	}
	use.served = use.served || len(runs) > 0
	if len(runs) == 0 && k.To != 0 && to-from > 10 {
		return nil, b.badKerb(index, "it does not run beside the course within %.0f m between %.1f m and %.1f m", kerbFar, from, to)
	}
	var out [][]node
	for _, run := range runs {
		out = append(out, kerbNodes(line, run, c))
	}
	return out, nil
}

// farAway prints a distance that is far too long, m.
func farAway(m float64) string {
	if m < 10000 {
		return fmt.Sprintf("%.0f m", m)
	}
	return fmt.Sprintf("%.0f km", m/1000)
}

// kerbNodes makes nodes of places on a kerb, with every vertex of the kerb that
// lies between two of them. Places never go back along the kerb.
func kerbNodes(line orb.LineString, run []foot, c float64) []node {
	end := float64(len(line) - 1)
	against := run[0].t > run[len(run)-1].t // drawn against the direction of travel
	if against {
		line = slices.Clone(line)
		slices.Reverse(line)
	}
	var ns []node
	lastS, lastT := 0.0, -1.0
	for _, f := range run {
		t := f.t
		if against {
			t = end - t
		}
		if lastT >= 0 {
			t = math.Max(t, lastT)
			for v := math.Floor(lastT) + 1; v < t; v++ {
				ns = append(ns, node{s: lastS + (v-lastT)/(t-lastT)*(f.s-lastS), p: line[int(v)], c: c})
			}
		}
		ns = append(ns, node{s: f.s, p: foot{t: t}.on(line), c: c})
		lastS, lastT = f.s, t
	}
	return ns
}
