package serve

import (
	"bytes"
	"encoding/csv"
	"math"
	"strconv"

	"tautline/report/band"
	"tautline/report/document"
	"tautline/report/page"
	"tautline/strategy/effort"
	"tautline/strategy/plan"
	"tautline/strategy/race"
)

// download is a file to be taken away.
type download struct {
	Name, Type, Label string
	content           []byte
}

func (out *result) add(name, kind, label string, b []byte) {
	out.downloads = append(out.downloads, download{name, kind, label, b})
}

// addBand offers the pace band of a plan.
func (out *result) addBand(r *race.Race, made *plan.Plan, c *plan.Course, look page.Options) error {
	opts := band.Options{Units: look.Units, Course: c, Model: effort.Default().Describe()}
	if !r.Sheet.Date.IsZero() {
		opts.Date = r.Sheet.Date.Format("2 January 2006")
	}
	b, err := band.Page([]*plan.Plan{made}, nil, opts)
	if err != nil {
		return err
	}
	out.add("pace-band.html", "text/html; charset=utf-8", "pace band to print", b)
	return nil
}

// turnsCSV is the turns as a table, with what was lost at each when they were
// run. It holds no text from a file.
func turnsCSV(r *race.Race, run []document.ReviewTurn) []byte {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	head := []string{"turn", "at_m", "angle_deg", "side", "lat", "lon"}
	if run != nil {
		head = append(head, "extra_m", "extra_low_m", "extra_high_m", "lost_s", "lost_low_s", "lost_high_s")
	}
	_ = w.Write(head) // writing into memory cannot fail
	num := func(v float64, d int) string {
		if math.IsNaN(v) {
			return ""
		}
		return strconv.FormatFloat(v, 'f', d, 64)
	}
	by := map[int]document.ReviewTurn{}
	for _, t := range run {
		by[t.Number] = t
	}
	for _, t := range document.NewLine(r, nil).Turns {
		row := []string{strconv.Itoa(t.Number), num(t.AtM, 1), num(t.AngleDeg, 1), t.Side, num(t.Lat, 7), num(t.Lon, 7)}
		if run != nil {
			x, ok := by[t.Number]
			switch {
			case !ok:
				row = append(row, "", "", "", "", "", "")
			case x.LostS == nil:
				row = append(row, num(x.ExtraM.Value, 2), num(x.ExtraM.Low, 2), num(x.ExtraM.High, 2), "", "", "")
			default:
				row = append(row, num(x.ExtraM.Value, 2), num(x.ExtraM.Low, 2), num(x.ExtraM.High, 2), num(x.LostS.Value, 2), num(x.LostS.Low, 2), num(x.LostS.High, 2))
			}
		}
		_ = w.Write(row)
	}
	w.Flush()
	return b.Bytes()
}
