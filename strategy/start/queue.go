package start

import (
	"math"

	"tautline/geo/interval"
)

// Published flows and densities of race starts, per minute per metre and per
// square metre: Peckover, Raineri and Scanlan 2022, Sports 10(9):132. The
// flow with waves, 36 to 59, is not one of a full line: it is how many came, not
// how many can pass.
const (
	leastFlow       = 102.0 / 60 // runners per second per metre, a discharging line
	greatestFlow    = 152.0 / 60
	mostWaveFlow    = 59.0 / 60
	leastDensity    = 1.48 // runners per square metre in the pens
	greatestDensity = 3.01
)

// jogSpeed is what carries people over the line once the start has run back to
// them, m/s: what a start wave of 1.2 m/s, the greatest density and the greatest
// flow leave (2.82). The speed of the wave is a little over 1 m/s (Bain and
// Bartolo 2019, Science 363:46-49, as the press text has it); 1.2 is from
// memory, unchecked.
const jogSpeed = 2.8

// defaultFlow is the flow over a full line, runners per second per metre: the
// published range as a 90 % interval about its geometric mean.
func defaultFlow() interval.Estimate {
	return interval.Estimate{Value: math.Sqrt(leastFlow * greatestFlow), Low: leastFlow, High: greatestFlow}
}

// delay is the time from the gun, or from the letting go of a wave, to the mat
// with so many people ahead: N/(q W).
func delay(ahead, flow, width float64) float64 { return ahead / (flow * width) }

func (l Line) flow() interval.Estimate {
	if l.Flow == (interval.Estimate{}) {
		return defaultFlow()
	}
	return l.Flow
}

func (l Line) density() float64 {
	if l.Density == 0 {
		return (leastDensity + greatestDensity) / 2
	}
	return l.Density
}

// block is a pen as it crosses the line.
type block struct {
	from, to   float64 // people ahead of its first and its last
	open, shut float64 // s from the gun at which they cross
	mean, sd   float64 // pace of its people, s/m
}

// blocks crosses the pens one after the other, no pen before its time.
func (l Line) blocks(flow float64) []block {
	var out []block
	var ahead, now float64
	for i, p := range l.Pens {
		b := block{from: ahead, to: ahead + p.People, open: math.Max(now, p.After)}
		b.shut = b.open + delay(p.People, flow, l.Width)
		b.mean, b.sd = l.paces(i)
		out = append(out, b)
		ahead, now = b.to, b.shut
	}
	return out
}
