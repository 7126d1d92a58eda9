// Package tomlfile reads the small TOML files that people write by hand: race
// sheets, athletes. It refuses keys it does not know, and it remembers where
// every key stands, so that a check made long after reading can still say
// "town.toml:12:8" and show the line.
package tomlfile

import (
	"bytes"
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"sort"
	"strings"
	"unicode/utf8"

	"github.com/pelletier/go-toml/v2"
	"github.com/pelletier/go-toml/v2/unstable"

	"tautline/geo/inputerr"
	"tautline/strategy/spelling"
)

// MaxBytes is the largest file that is read: a sheet of a thousand stretches
// has about a tenth of it.
const MaxBytes = 1 << 20

// maxDepth is how many tables, lists and dots of a key may nest; no file of
// ours nests deeper than four.
const maxDepth = 24

// File remembers where the keys of a file stand. The zero File and a nil File
// know no position. A File is not changed after Read and is safe for
// concurrent use.
type File struct {
	name  string
	lines []string
	spots map[string]spot
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
	switch {
	case len(data) > MaxBytes:
		return nil, &inputerr.Error{File: name, What: fmt.Sprintf("the file has %d bytes, more than the limit of %d", len(data), MaxBytes), Advice: "check that this is the right file"}
	case bytes.HasPrefix(data, []byte{0xFF, 0xFE}), bytes.HasPrefix(data, []byte{0xFE, 0xFF}):
		return nil, &inputerr.Error{File: name, What: "the file is UTF-16 text", Advice: "save it as UTF-8"}
	}
	data = bytes.TrimPrefix(data, []byte("\xEF\xBB\xBF"))
	if bad := firstBadByte(data); bad >= 0 {
		at := positionAt(data, bad)
		return nil, &inputerr.Error{File: name, Line: at.line, Column: at.column, What: "the file is not UTF-8 text", Advice: "save it as UTF-8"}
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

// capitals refuses keys that differ from the known ones in capital letters
// only. The decoder would take them, but nothing that asks for a key by its name
// would then find it, and it would escape every check.
func (f *File) capitals(into reflect.Type) error {
	paths := make([]string, 0, len(f.spots))
	for path := range f.spots {
		paths = append(paths, path)
	}
	sort.Slice(paths, func(i, j int) bool {
		a, b := f.spots[paths[i]], f.spots[paths[j]]
		return a.line < b.line || a.line == b.line && a.column < b.column
	})
	for _, path := range paths {
		key := strings.Split(index.ReplaceAllString(path, ""), ".")
		last := key[len(key)-1]
		known := keysAt(into, key[:len(key)-1])
		if slices.Contains(known, last) {
			continue
		}
		for _, k := range known {
			if strings.EqualFold(k, last) {
				return f.Err(path, fmt.Sprintf("unknown key %q", last), fmt.Sprintf("did you mean %q?", k))
			}
		}
	}
	return nil
}

// index is the number of an item in a path.
var index = regexp.MustCompile(`\[\d+\]`)

// hasUnder tells whether a known path begins with prefix.
func (f *File) hasUnder(prefix string) bool {
	for path := range f.spots {
		if strings.HasPrefix(path, prefix) {
			return true
		}
	}
	return false
}

// listsAt names the fields of a struct type that are lists of tables.
func listsAt(t reflect.Type) []string {
	t = under(t)
	var keys []string
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Type.Kind() == reflect.Slice && under(f.Type.Elem()).Kind() == reflect.Struct {
			keys = append(keys, tag(f))
		}
	}
	return keys
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

// Name is the file's name as the user gave it.
func (f *File) Name() string {
	if f == nil {
		return ""
	}
	return f.name
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
	e := &inputerr.Error{File: f.Name(), Line: line, Column: column, What: what, Advice: advice}
	if f != nil && line >= 1 && line <= len(f.lines) {
		e.Cause = &Excerpt{Line: line, Column: column, Text: strings.TrimRight(f.lines[line-1], "\r")}
	}
	return e
}

// locate walks the syntax of the file and notes where each key stands.
func (f *File) locate(data []byte) error {
	f.spots = map[string]spot{}
	starts := []int{0}
	for i, b := range data {
		if b == '\n' {
			starts = append(starts, i+1)
		}
	}
	at := func(r unstable.Range) spot {
		line := sort.SearchInts(starts, int(r.Offset)+1)
		return spot{line, int(r.Offset) - starts[line-1] + 1}
	}
	note := func(path string, s spot) {
		if _, seen := f.spots[path]; !seen {
			f.spots[path] = s
		}
	}
	count := map[string]int{}
	table := ""
	var p unstable.Parser
	p.Reset(data)
	tooDeep := func(s spot) error {
		return f.errAt(s.line, s.column, "the file nests too deeply", "")
	}

	var value func(path string, n *unstable.Node, s spot, depth int) error
	keyValue := func(prefix string, n *unstable.Node, depth int) error {
		path, first, parts := prefix, spot{}, 0
		for it := n.Key(); it.Next(); parts++ {
			if parts == 0 {
				first = at(it.Node().Raw)
			}
			if depth+parts > maxDepth {
				return tooDeep(first)
			}
			path = join(path, string(it.Node().Data))
			note(path, first)
		}
		return value(path, n.Value(), first, depth+parts)
	}
	value = func(path string, n *unstable.Node, s spot, depth int) error {
		if depth > maxDepth {
			return tooDeep(s)
		}
		if n.Raw.Length > 0 {
			s = at(n.Raw)
			f.spots[path] = s
		}
		switch n.Kind {
		case unstable.Array:
			i := 0
			for it := n.Children(); it.Next(); i++ {
				if it.Node().Kind == unstable.Comment {
					i--
					continue
				}
				element := fmt.Sprintf("%s[%d]", path, i)
				note(element, s)
				if err := value(element, it.Node(), s, depth+1); err != nil {
					return err
				}
			}
		case unstable.InlineTable:
			for it := n.Children(); it.Next(); {
				if it.Node().Kind != unstable.KeyValue {
					continue
				}
				if err := keyValue(path, it.Node(), depth+1); err != nil {
					return err
				}
			}
		}
		return nil
	}

	for p.NextExpression() {
		n := p.Expression()
		switch n.Kind {
		case unstable.KeyValue:
			if err := keyValue(table, n, 1); err != nil {
				return err
			}
		case unstable.Table, unstable.ArrayTable:
			table = ""
			parts := 0
			var first spot
			for it := n.Key(); it.Next(); parts++ {
				if parts == 0 {
					first = at(it.Node().Raw)
				}
				if parts > maxDepth {
					return tooDeep(first)
				}
				table = join(table, string(it.Node().Data))
				last := it.IsLast() && n.Kind == unstable.ArrayTable
				if last {
					count[table]++
				}
				if k := count[table]; k > 0 {
					note(table, first)
					table = fmt.Sprintf("%s[%d]", table, k-1)
				}
				note(table, first)
			}
		}
	}
	var bad *unstable.ParserError
	if err := p.Error(); errors.As(err, &bad) {
		s := at(p.Range(bad.Highlight))
		return f.errAt(s.line, s.column, bad.Message, syntaxAdvice(bad.Message))
	} else if err != nil {
		return f.errAt(0, 0, err.Error(), "")
	}
	return nil
}

// syntaxAdvice adds what helps with the slips people make most.
func syntaxAdvice(string) string {
	return `write key = value, with texts and units in quotes: width = "8 m"`
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}

// explain turns a decoding error into one for people.
func (f *File) explain(err error, target reflect.Type) error {
	var missing *toml.StrictMissingError
	if errors.As(err, &missing) && len(missing.Errors) > 0 && len(missing.Errors[0].Key()) > 0 {
		first := &missing.Errors[0]
		line, column := first.Position()
		key := first.Key()
		where := ""
		known := keysAt(target, key[:len(key)-1])
		if len(key) > 1 {
			where = " in [" + strings.Join(key[:len(key)-1], ".") + "]"
		}
		what := fmt.Sprintf("unknown key %q%s", key[len(key)-1], where)
		if more := len(missing.Errors) - 1; more > 0 {
			what += fmt.Sprintf(", and %d more unknown", more)
		}
		advice := "known keys: " + strings.Join(known, ", ")
		if near := spelling.Nearest(key[len(key)-1], known); near != "" {
			advice = fmt.Sprintf("did you mean %q?", near)
		} else if len(known) == 0 {
			advice = ""
		}
		return f.errAt(line, column, what, advice)
	}
	var decode *toml.DecodeError
	if errors.As(err, &decode) {
		line, column := decode.Position()
		what := strings.TrimPrefix(decode.Error(), "toml: ")
		key := decode.Key()
		if t := typeAt(target, key); t != nil && len(key) > 0 && strings.Contains(what, "cannot") {
			return f.errAt(line, column, fmt.Sprintf("%q should be %s", strings.Join(key, "."), expected(t)), "")
		}
		return f.errAt(line, column, what, "")
	}
	return f.errAt(0, 0, strings.TrimPrefix(err.Error(), "toml: "), "")
}

// expected says in plain words what a Go type takes.
func expected(t reflect.Type) string {
	switch t.Kind() {
	case reflect.Bool:
		return "true or false"
	case reflect.String:
		return "a text in quotes"
	case reflect.Int, reflect.Int64:
		return "a whole number"
	case reflect.Float64:
		return "a number"
	case reflect.Slice:
		if under(t.Elem()).Kind() == reflect.Struct {
			return "given in double brackets, once for each"
		}
		return "a list"
	case reflect.Struct:
		return "a table with keys of its own"
	}
	return "another kind of value"
}

func under(t reflect.Type) reflect.Type {
	for t.Kind() == reflect.Pointer {
		t = t.Elem()
	}
	return t
}

// typeAt follows a key path through the tags of a struct type; nil when the
// path leaves it.
func typeAt(t reflect.Type, key []string) reflect.Type {
	t = under(t)
	for _, part := range key {
		if t.Kind() == reflect.Slice {
			t = under(t.Elem())
		}
		if t.Kind() != reflect.Struct {
			return nil
		}
		var next reflect.Type
		for i := range t.NumField() {
			if tag(t.Field(i)) == part {
				next = under(t.Field(i).Type)
			}
		}
		if next == nil {
			return nil
		}
		t = next
	}
	return t
}

// keysAt lists the keys known in the table at a path.
func keysAt(t reflect.Type, path []string) []string {
	t = typeAt(t, path)
	if t != nil && t.Kind() == reflect.Slice {
		t = under(t.Elem())
	}
	if t == nil || t.Kind() != reflect.Struct {
		return nil
	}
	var keys []string
	for i := range t.NumField() {
		if k := tag(t.Field(i)); k != "" {
			keys = append(keys, k)
		}
	}
	return keys
}

func tag(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("toml"), ",")
	if name == "-" {
		return ""
	}
	return name
}
