package buildup_test

import (
	"encoding/xml"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"tautline/report/buildup"
	"tautline/strategy/quantity"
	"tautline/strategy/season"
)

var goalDay = time.Date(2027, 10, 17, 0, 0, 0, 0, time.UTC)

func pageOf(t *testing.T, name string) string {
	t.Helper()
	return pageWith(t, name, season.Rules{})
}

// pageWith is the page of a marathon with three races before it, under these
// rules.
func pageWith(t *testing.T, name string, rules season.Rules) string {
	t.Helper()
	race := func(weeks int, d float64) season.Candidate {
		return season.Candidate{Race: season.Race{Name: name, Date: goalDay.AddDate(0, 0, -7*weeks), Distance: d}}
	}
	p, err := season.Choose(season.Calendar{Goal: season.Race{Name: name, Date: goalDay, Distance: 42195}, Races: []season.Candidate{race(5, 21097.5), race(9, 10000), race(1, 10000)}, Rules: rules})
	if err != nil {
		t.Fatal(err)
	}
	b, err := buildup.Page(p, quantity.Metric)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// The drawing is to scale: the races lie on the line as their weeks do.
func TestRacesLieToScale(t *testing.T) {
	found := regexp.MustCompile(`<circle cx="([0-9.]+)"`).FindAllStringSubmatch(pageOf(t, "a race"), -1)
	if len(found) != 3 {
		t.Fatalf("%d dots, want two races and the goal", len(found))
	}
	var x []float64
	for _, f := range found {
		v, err := strconv.ParseFloat(f[1], 64)
		if err != nil {
			t.Fatal(err)
		}
		x = append(x, v)
	}
	if ratio := (x[2] - x[0]) / (x[2] - x[1]); ratio < 1.79 || ratio > 1.81 {
		t.Errorf("9 and 5 weeks before the goal lie at a ratio of %.3f", ratio)
	}
}

func TestEasyDaysAreToldWhereThereAreSome(t *testing.T) {
	if page := pageOf(t, "a race"); !strings.Contains(page, " easy days; hard running again from ") {
		t.Errorf("no easy days after a race:\n%s", page)
	}
	none, err := season.Rules{}.With(season.EasyDays, 0)
	if err != nil {
		t.Fatal(err)
	}
	if page := pageWith(t, "a race", none); strings.Contains(page, " 0 easy days") || !strings.Contains(page, "What for: ") {
		t.Errorf("easy days that the rules do not ask for:\n%s", page)
	}
}

func TestTheDrawingIsWellFormedAndNamesAreEscaped(t *testing.T) {
	page := pageOf(t, `<b onload="x">&\x1b[2J`)
	if strings.Contains(page, "<b onload") || strings.Contains(page, "\x1b") {
		t.Error("a name comes through")
	}
	from, to := strings.Index(page, "<svg"), strings.Index(page, "</svg>")
	if from < 0 || to < from {
		t.Fatal("no drawing")
	}
	d := xml.NewDecoder(strings.NewReader(page[from : to+len("</svg>")]))
	for {
		if _, err := d.Token(); err == io.EOF {
			break
		} else if err != nil {
			t.Fatal(err)
		}
	}
	for _, want := range []string{"Left out, and why", "What for: ", "less than 2 weeks", "Cautions"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
