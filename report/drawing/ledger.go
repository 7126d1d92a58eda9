package drawing

import (
	"fmt"
	"html/template"
	"math"

	"tautline/report/lettering"
)

// Step is one item of the ledger.
type Step struct {
	Name             string
	Value, Low, High float64 // m
	Figure           string  // "+12 m"
	Range            string  // "8 to 16"; may be ""
	Class            string  // whose it is: "course", "feet", "watch", "ends"
}

// End is one of the two lengths that a ledger lies between.
type End struct{ Name, Figure string }

// Ledger draws the account as steps from the official distance to the watch's
// reading: every step starts where the one above ends. whole is the figure of
// all steps together.
func Ledger(steps []Step, from, to End, whole string, w float64) template.HTML {
	l := layLedger(steps, w)
	l.open("ledger", w, l.total, "Watch ledger", fmt.Sprintf("%s %s, in %d steps to %s %s: %s in all.", from.Name, from.Figure, len(steps), to.Name, to.Figure, whole))
	// Ordinates of both ends run through the whole drawing.
	l.line("datum", l.x(0), 30, l.x(0), l.total-22)
	l.line("datum", l.x(l.sum), l.bottom-l.high/2, l.x(l.sum), l.total-22)
	l.end(from, 0, 12)
	at := 0.0
	for i, q := range steps {
		l.step(q, at, ledgerTop+float64(i)*l.high, i+1 == len(steps))
		at += q.Value
	}
	l.whole(whole)
	l.end(to, l.sum, l.total-16)
	return l.close()
}

// ledgerTop is where the first row of a ledger begins, px.
const ledgerTop = 44.0

// ledgerSheet is a ledger on its sheet, px.
type ledgerSheet struct {
	pen
	w      float64
	narrow bool    // names stand above their bars
	left   float64 // where bars may begin
	high   float64 // of a row
	bottom float64 // of the last row
	total  float64 // height of the drawing
	lo, k  float64 // the least length on it, m, and px per m
	sum    float64 // of all steps, m
}

// layLedger finds the scale at which all steps and their intervals fit.
func layLedger(steps []Step, w float64) *ledgerSheet {
	const right = 86.0 // for the figures
	l := &ledgerSheet{w: w, narrow: w < 560, left: 246, high: 38}
	if l.narrow {
		l.left, l.high = 12, 54
	}
	lo, hi := 0.0, 0.0
	for _, q := range steps {
		lo, hi = math.Min(lo, l.sum+math.Min(0, q.Low)), math.Max(hi, l.sum+math.Max(0, q.High))
		l.sum += q.Value
		lo, hi = math.Min(lo, l.sum), math.Max(hi, l.sum)
	}
	if hi-lo < 1 {
		hi = lo + 1
	}
	l.lo, l.k = lo, (w-l.left-right)/(hi-lo)
	l.bottom = ledgerTop + float64(len(steps))*l.high
	l.total = l.bottom + 66
	return l
}

// x is where a length stands.
func (l *ledgerSheet) x(v float64) float64 { return l.left + (v-l.lo)*l.k }

// end names one of the two ends, centred on its ordinate as far as the sheet
// allows.
func (l *ledgerSheet) end(e End, v, y float64) {
	half := lettering.Width(e.Name, 12, false) / 2
	anchor := ""
	switch {
	case l.x(v)-half < 2:
		anchor = " at-start"
	case l.x(v)+half > l.w-2:
		anchor = " at-end"
	}
	l.text("ledger-end"+anchor, l.x(v), y, e.Name)
	l.text("ledger-end-figure"+anchor, l.x(v), y+14, e.Figure)
}

// step draws a step that begins at a length into the row below y.
func (l *ledgerSheet) step(q Step, at, y float64, last bool) {
	bar := y + 8
	if l.narrow {
		bar = y + 22
		l.text("ledger-name at-start", l.left, y+15, fit(q.Name, 12, l.w-l.left-4))
	} else {
		l.text("ledger-name", l.left-14, y+16, fit(q.Name, 12.5, l.left-20))
		if q.Range != "" {
			l.text("ledger-range at-end", l.left-14, y+30, "90 %: "+q.Range)
		}
		l.line("ledger-rule", 0, y-2, l.w, y-2)
	}
	a, b := l.x(at), l.x(at+q.Value)
	l.box("step "+q.Class, math.Min(a, b), bar, math.Max(1.2, math.Abs(b-a)), 12)
	if q.High > q.Low {
		u, v := l.x(at+q.Low), l.x(at+q.High)
		l.line("whisker", u, bar+6, v, bar+6)
		l.line("whisker", u, bar+2.5, u, bar+9.5)
		l.line("whisker", v, bar+2.5, v, bar+9.5)
	}
	// The figure stands right of all that is drawn.
	end := math.Max(math.Max(a, b), l.x(at+q.High))
	l.text("ledger-figure at-start", end+8, bar+10.5, q.Figure)
	if l.narrow && q.Range != "" {
		l.text("ledger-range at-start", end+8, bar+22, q.Range)
	}
	if !last {
		l.line("carry", b, bar+12, b, bar+l.high)
	}
}

// whole draws the sum as a dimension line between the two ordinates.
func (l *ledgerSheet) whole(figure string) {
	y := l.bottom + 14
	from, to := l.x(0), l.x(l.sum)
	l.line("carry", to, l.bottom-l.high+20, to, y)
	l.line("dim", from, y, to, y)
	if math.Abs(to-from) > 14 { // room for two heads
		sign := 1.0
		if l.sum < 0 {
			sign = -1
		}
		for _, e := range []struct{ x, s float64 }{{from, sign}, {to, -sign}} {
			l.path("dim", []xy{{e.x + e.s*6, y - 3}, {e.x, y}, {e.x + e.s*6, y + 3}}, false)
		}
	}
	l.text("ledger-sum at-start", math.Max(from, to)+8, y+5, figure)
	if !l.narrow {
		l.text("ledger-name bold", l.left-14, y+5, "in all")
	}
}
