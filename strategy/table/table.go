// Package table opens the CSV tables that people write by hand or export from a
// spreadsheet.
package table

import (
	"bytes"
	"encoding/csv"

	"tautline/strategy/tomlfile"
)

// NewReader gives a reader of the rows of a table in UTF-8 whose cells are
// separated by commas, semicolons or tabs: whichever its first line has most
// of. Rows may differ in length. Lines that begin with comment are left out; 0
// leaves out none. name is used in errors only, which are *inputerr.Error.
func NewReader(name string, data []byte, comment rune) (*csv.Reader, error) {
	data, err := tomlfile.Text(name, data)
	if err != nil {
		return nil, err
	}
	r := csv.NewReader(bytes.NewReader(data))
	r.FieldsPerRecord = -1
	r.Comment = comment
	r.Comma = separator(data, comment)
	// With tabs, empty cells are such space.
	r.TrimLeadingSpace = r.Comma != '\t'
	return r, nil
}

// separator is the most frequent one of the first line that says something.
func separator(data []byte, comment rune) rune {
	most, comma := 0, ','
	for line := range bytes.Lines(data) {
		if len(bytes.TrimSpace(line)) == 0 || comment != 0 && bytes.HasPrefix(line, []byte(string(comment))) {
			continue
		}
		for _, s := range ",;\t" {
			if n := bytes.Count(line, []byte(string(s))); n > most {
				most, comma = n, s
			}
		}
		break
	}
	return comma
}
