package tomlfile

import (
	"errors"
	"fmt"
	"reflect"
	"regexp"
	"slices"
	"sort"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"tautline/strategy/spelling"
)

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
