// Package tomlfile reads the small TOML files that people write by hand: race
// sheets, athletes. It refuses keys it does not know, and it remembers where
// every key stands, so that a check made long after reading can still say
// "town.toml:12:8" and show the line.
package tomlfile

import (
	"bytes"
	"fmt"
	"reflect"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"

	"tautline/geo/inputerr"
)

// MaxBytes is the largest file that is read: a sheet of a thousand stretches
// has about a tenth of it.
const MaxBytes = 1 << 20

// File remembers where the keys of a file stand. The zero File and a nil File
// know no position. A File is not changed after Read and is safe for
// concurrent use.
type File struct {
	name  string
	lines []string
	spots map[string]spot

	table    bool              // the values are cells of a table
	prefixes map[string]string // of the columns of a table, by the path of their list item
}

type spot struct{ line, column int }

// Excerpt is the cause of an error that can show its place: the line of the
// file and the column in it, both one-based, columns in bytes.
type Excerpt struct {
	Line   int
	Column int
	Text   string // the line, without its end
}

// Error shows the line with a caret under the column, on two lines of text.
func (e *Excerpt) Error() string {
	number := fmt.Sprintf("%5d | ", e.Line)
	before := e.Text[:max(0, min(e.Column-1, len(e.Text)))]
	pad := strings.Map(func(r rune) rune {
		if r == '\t' {
			return r
		}
		return ' '
	}, before)
	return number + e.Text + "\n" + strings.Repeat(" ", len(number)-2) + "| " + pad + "^"
}

// Read decodes data strictly into the struct that into points to, whose
// fields carry `toml` tags. name is used in errors only. Every error is an
// *inputerr.Error with line and column.
func Read(name string, data []byte, into any) (*File, error) {
	f := &File{name: name}
	if len(data) > MaxBytes {
		return nil, &inputerr.Error{File: name, What: fmt.Sprintf("the file has %d bytes, more than the limit of %d", len(data), MaxBytes), Advice: "check that this is the right file"}
	}
	data, err := Text(name, data)
	if err != nil {
		return nil, err
	}
	f.lines = strings.Split(string(data), "\n")
	if err := f.locate(data); err != nil {
		return nil, err
	}
	dec := toml.NewDecoder(bytes.NewReader(data)).DisallowUnknownFields()
	if err := dec.Decode(into); err != nil {
		return nil, f.explain(err, reflect.TypeOf(into))
	}
	if err := f.capitals(reflect.TypeOf(into)); err != nil {
		return nil, err
	}
	// The decoder takes [stretch] for a list of one. A second [stretch] would
	// then be a puzzling "duplicate", so the first is told the right form.
	for _, key := range listsAt(reflect.TypeOf(into)) {
		if f.Has(key) && !f.Has(key+"[0]") && f.hasUnder(key+".") {
			return nil, f.Err(key, fmt.Sprintf("%q should be given in double brackets, once for each", key), "write [["+key+"]]")
		}
	}
	return f, nil
}

// Text gives the content of a text file without its byte order mark, or the
// *inputerr.Error that it is not UTF-8. name is used in errors only.
func Text(name string, data []byte) ([]byte, error) {
	wide := bytes.HasPrefix(data, []byte{0xFF, 0xFE}) || bytes.HasPrefix(data, []byte{0xFE, 0xFF})
	if len(data) >= 2 && (data[0] == 0) != (data[1] == 0) {
		wide = true // without a mark: half of a Latin letter is nothing
	}
	if wide {
		return nil, &inputerr.Error{File: name, What: "the file is UTF-16 text", Advice: "save it as UTF-8"}
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	if bad := firstBadByte(data); bad >= 0 {
		at := positionAt(data, bad)
		return nil, &inputerr.Error{File: name, Line: at.line, Column: at.column, What: "the file is not UTF-8 text", Advice: "save it as UTF-8"}
	}
	return data, nil
}

// hasUnder tells whether a known path begins with prefix.
func (f *File) hasUnder(prefix string) bool {
	for path := range f.spots {
		if strings.HasPrefix(path, prefix) {
			return true
		}
	}
	return false
}

// Places is a File for values that come from elsewhere, such as a table, so
// that they can be checked by the same rules: the line and column of each path.
func Places(name string, at map[string][2]int) *File {
	f := &File{name: name, spots: map[string]spot{}}
	for path, p := range at {
		f.spots[path] = spot{p[0], p[1]}
	}
	return f
}

// Row is a File for the values of one line of a table: messages call each by
// its column. at gives line and column of each path, prefixes what the names of
// columns have before the key: "race2_" for "race[1]".
func Row(name string, at map[string][2]int, prefixes map[string]string) *File {
	f := Places(name, at)
	f.table, f.prefixes = true, prefixes
	return f
}

// Key is what people call the value at a path: the last name of the path, in a
// table the column.
func (f *File) Key(path string) string {
	above, last := "", path
	if cut := strings.LastIndexByte(path, '.'); cut >= 0 {
		above, last = path[:cut], path[cut+1:]
	}
	if f == nil {
		return last
	}
	return f.prefixes[above] + last
}

// Entry shows how a value is given at a path: as the line of a TOML file,
// `date = 2027-05-09`, or in words as the cell of a table. value is TOML.
func (f *File) Entry(path, value string) string {
	if f == nil || !f.table {
		return f.Key(path) + " = " + value
	}
	return unquoted.Replace(value) + " in column " + f.Key(path)
}

// unquoted writes texts and lists of texts as a table has them.
var unquoted = strings.NewReplacer(`"`, "", "[", "", "]", "", ",", "")

func firstBadByte(data []byte) int {
	for i := 0; i < len(data); {
		r, n := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && n == 1 {
			return i
		}
		i += n
	}
	return -1
}

func positionAt(data []byte, offset int) spot {
	before := data[:offset]
	return spot{1 + bytes.Count(before, []byte("\n")), offset - bytes.LastIndexByte(before, '\n')}
}

// Has tells whether the file holds the key with this path, such as
// "stretch[2].to" (lists count from 0).
func (f *File) Has(path string) bool {
	if f == nil {
		return false
	}
	_, ok := f.spots[path]
	return ok
}

// At gives the line and column, one-based, of a key's value, or of the nearest
// table above it that the file holds; 0, 0 when there is none.
func (f *File) At(path string) (line, column int) {
	if f == nil {
		return 0, 0
	}
	for {
		if s, ok := f.spots[path]; ok {
			return s.line, s.column
		}
		cut := strings.LastIndexAny(path, ".[")
		if cut < 0 {
			return 0, 0
		}
		path = path[:cut]
	}
}

// Err is the error that the value at path cannot be used.
func (f *File) Err(path, what, advice string) *inputerr.Error {
	line, column := f.At(path)
	return f.errAt(line, column, what, advice)
}

func (f *File) errAt(line, column int, what, advice string) *inputerr.Error {
	e := &inputerr.Error{Line: line, Column: column, What: what, Advice: advice}
	if f == nil {
		return e
	}
	e.File = f.name
	if line >= 1 && line <= len(f.lines) {
		e.Cause = &Excerpt{Line: line, Column: column, Text: strings.TrimRight(f.lines[line-1], "\r")}
	}
	return e
}
