package document

import "tautline/strategy/measure"

// Measurement is what "tautline measure --json" prints: the worked measurement
// and its account step by step.
type Measurement struct {
	*measure.Result
	Ledger []measure.Line `json:"ledger"`
}

// NewMeasurement tells a measurement.
func NewMeasurement(r *measure.Result) Measurement { return Measurement{r, r.Ledger()} }
