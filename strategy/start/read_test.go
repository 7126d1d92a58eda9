package start

import (
	"errors"
	"strings"
	"testing"

	"tautline/geo/inputerr"
)

const sheet = `
name = "Velmarrow Ten"
distance = "10 km"
width = "8 m"
awards = "gun"
flow = 110
density = 2.5

[[pen]]
name = "A"
slowest = "4:10/km"
people = 400

[[pen]]
name = "B"
fastest = "4:10/km"
slowest = "8:00/mi"
people = 900
after = "2:00"
`

func TestEveryKeyOfAStartSheetIsRead(t *testing.T) {
	s, err := Read("s.toml", []byte(sheet))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "distance", s.Distance, 10000, 0)
	near(t, "width", s.Line.Width, 8, 0)
	near(t, "flow", s.Line.Flow.Value, 110.0/60, 1e-12)
	near(t, "density", s.Line.Density, 2.5, 0)
	if s.Name != "Velmarrow Ten" || !s.Line.GunAwards || len(s.Line.Pens) != 2 || s.Line.Pens[1].Name != "B" {
		t.Errorf("%+v", s)
	}
	near(t, "fastest of B", s.Line.Pens[1].Fastest, 0.25, 1e-12)
	near(t, "slowest of B", s.Line.Pens[1].Slowest, 480/1609.344, 1e-12)
	near(t, "people of B", s.Line.Pens[1].People, 900, 0)
	near(t, "B after the gun", s.Line.Pens[1].After, 120, 0)
}

func TestBadStartSheetsAreRefusedWithTheirPlace(t *testing.T) {
	for _, c := range []struct{ name, from, to, want string }{
		{"no width", `width = "8 m"`, "", `"width" is missing`},
		{"a width in kilometres", `width = "8 m"`, `width = "8 km"`, "s.toml:4:9: width is 8000 m"},
		{"an unknown key", `density`, `crowding`, `unknown key "crowding"`},
		{"a flow of nothing", "flow = 110", "flow = nan", "flow is not a number"},
		{"nobody in a pen", "people = 900", "", "pen 2 does not say how many"},
		{"a bare pace", `"8:00/mi"`, `480`, "slowest should be a text"},
		{"a pen the wrong way round", `fastest = "4:10/km"`, `fastest = "6:10/km"`, "s.toml:14:3: the fastest pace of pen 2 is not faster than its slowest"},
		{"a pen let go too early", "people = 400", "people = 400\nafter = \"3:00\"", "s.toml:15:3: pen 2 is let go before the one in front"},
		{"no pens", sheet[strings.Index(sheet, "[[pen]]"):], "", "the start has 0 pens"},
		{"awards by the sun", `"gun"`, `"sun"`, `did you mean "gun"?`},
	} {
		t.Run(c.name, func(t *testing.T) {
			text := strings.Replace(sheet, c.from, c.to, 1)
			if text == sheet {
				t.Fatal("nothing was changed")
			}
			_, err := Read("s.toml", []byte(text))
			if err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v\nwant one with %s", err, c.want)
			}
		})
	}
}

// FuzzRead holds that reading never panics, that errors are of the one kind,
// and that what is read can be advised on.
func FuzzRead(f *testing.F) {
	f.Add([]byte(sheet))
	f.Add([]byte("width = 8\n[[pen]]\npeople = 1\n"))
	f.Add([]byte("width = inf\n[[pen]]\npeople = 1e9\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := Read("f.toml", data)
		if err == nil {
			_, err = Advise(s.Line, Runner{Pace: 0.3, Distance: 10000}, nil)
		}
		var in *inputerr.Error
		if err != nil && !errors.As(err, &in) {
			t.Fatalf("error of another kind: %T %v", err, err)
		}
	})
}
