package follow

import (
	"encoding/binary"
	"math"
	"testing"

	"github.com/paulmach/orb"
)

// FuzzAlong feeds courses and records of any shape: the bytes are pairs of
// steps, first the course's, then the record's with a time step each.
func FuzzAlong(f *testing.F) {
	seed := func(course, record int, steps ...int16) {
		b := []byte{byte(course), byte(record)}
		for _, s := range steps {
			b = binary.LittleEndian.AppendUint16(b, uint16(s))
		}
		f.Add(b)
	}
	seed(3, 4, 1000, 0, 0, 1000, 10, 10, 300, 0, 30, 300, 0, 30, 0, 0, 900, 0, 300, 1)
	seed(4, 3, 1000, 0, -1000, 0, 1000, 0, -1000, 0, 10, 0, 1, -10, 0, 1, 0, 0, 1)
	seed(2, 2, 32767, 32767, -32768, -32768, 1, 1, 0, -32768, -32768, -1)
	seed(1, 1, 5, 0, 0, 0, 0)
	f.Fuzz(func(t *testing.T, b []byte) {
		if len(b) < 2 || len(b) > 4000 {
			return
		}
		nc, nr := int(b[0]), int(b[1])
		b = b[2:]
		next := func() float64 {
			if len(b) < 2 {
				return 0
			}
			v := int16(binary.LittleEndian.Uint16(b))
			b = b[2:]
			// A small step in decimetres, or a great one.
			if v%16 == 15 {
				return float64(v) * 10
			}
			return float64(v) / 10
		}
		var points []orb.Point
		p := orb.Point{}
		for range nc {
			p = orb.Point{p[0] + next(), p[1] + next()}
			if n := len(points); n == 0 || points[n-1] != p {
				points = append(points, p)
			}
		}
		if len(points) < 2 {
			return
		}
		c := drawn(points...)
		var fixes []Fix
		p, at := points[0], 0.0
		for range nr {
			p = orb.Point{p[0] + next(), p[1] + next()}
			at += next()
			fix := Fix{p, at}
			if at < -1000 {
				fix.T = math.NaN()
			}
			fixes = append(fixes, fix)
		}
		m, err := Along(c, fixes, Options{})
		if len(fixes) == 0 {
			if err == nil {
				t.Fatal("a record without fixes is followed")
			}
			return
		}
		if err != nil {
			t.Fatal(err)
		}
		if s := sound(m, fixes, Options{FinishAt: c.Length()}); s != "" {
			t.Fatal(s)
		}
	})
}
