package main

import (
	"bytes"
	"context"
	"io"
	"regexp"
	"slices"
	"strings"

	"github.com/spf13/pflag"
)

// definition is what completion and manual know of a subcommand: its own
// definition and that of its options, so that neither can go stale.
type definition struct {
	*command
	options []option
}

// option is one option of a subcommand.
type option struct {
	name     string // without dashes
	value    string // what its value is called, "" when it takes none
	what     string
	standard string // its value when it is not given, "" when the text says it
	repeated bool
	takes    kind
}

// kind says what can be completed where a value or an operand is expected.
type kind struct {
	words   []string // fixed values
	file    bool
	endings []string // of such files; none: any file
	folder  bool
}

// definitions gives all subcommands in the order of the help text.
func definitions() []definition {
	var out []definition
	for _, c := range commands() {
		d := definition{command: c}
		c.optionSet().VisitAll(func(f *pflag.Flag) {
			o := option{name: f.Name, repeated: f.Value.Type() == "stringArray"}
			o.value, o.what = valueAndText(f)
			if o.value != "" {
				o.takes = kindOf(o.value, o.what)
				if f.DefValue != "[]" {
					o.standard = f.DefValue
				}
			}
			d.options = append(d.options, o)
		})
		out = append(out, d)
	}
	return out
}

// optionSet asks a subcommand for the definition of its options.
func (c *command) optionSet() *pflag.FlagSet {
	set := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	e := &env{stdin: bytes.NewReader(nil), out: new(bytes.Buffer), live: io.Discard, errs: io.Discard, getenv: func(string) string { return "" },
		defined: func(s *pflag.FlagSet) { set = s }}
	_ = c.run(context.Background(), e, nil) // it stops where the options are read
	return set
}

// valueAndText splits the usage text of an option, which begins with the name
// of its value in back quotes, if it takes one.
func valueAndText(f *pflag.Flag) (value, what string) {
	if rest, named := strings.CutPrefix(f.Usage, "`"); named {
		value, what, _ = strings.Cut(rest, "` ")
		return value, what
	}
	return "", f.Usage
}

// fixed are the names of values that are words out of a list; the usage text
// has the words in quotes. The quotes of other options are examples.
var fixed = []string{"WHAT", "UNITS", "PAPER", "MODEL"}

var quoted = regexp.MustCompile(`"([^" ]+)"`)

// said are the words by which a usage text says what kind of file is meant.
var said = []struct {
	word    string
	endings []string
}{
	{".html", []string{"html", "htm"}}, {".svg", []string{"svg"}}, {"GPX", []string{"gpx"}}, {"GeoJSON", []string{"geojson", "json"}},
	{"TOML", []string{"toml"}}, {"iCalendar", []string{"ics"}}, {"CSV", []string{"csv"}}, {"a table", []string{"csv"}}, {"--json", []string{"json"}},
}

// kindOf says what to complete for a value from its name and the text.
func kindOf(value, what string) kind {
	var k kind
	switch {
	case slices.Contains(fixed, value):
		for _, m := range quoted.FindAllStringSubmatch(what, -1) {
			k.words = append(k.words, m[1])
		}
	case value == "DIR":
		k.folder = true
	case slices.Contains([]string{"FILE", "CSV", "SHEET"}, value):
		k.file = true
		for _, s := range said {
			if strings.Contains(value+" "+what, s.word) {
				k.endings = append(k.endings, s.endings...)
			}
		}
		if k.endings == nil && value != "FILE" {
			k = operandKind(value)
		}
	default:
		k = operandKind(value)
	}
	slices.Sort(k.endings)
	k.endings = slices.Compact(k.endings)
	return k
}

// operandKind says what to complete for an operand by its name.
func operandKind(name string) kind {
	switch strings.Trim(name, "[].") {
	case "COURSE", "RECORD":
		return kind{file: true, endings: []string{"gpx"}}
	case "RECORDS": // files, folders, zip files, or state files of any name
		return kind{file: true}
	case "CALENDAR", "PENS":
		return kind{file: true, endings: []string{"toml"}}
	case "SHEET":
		return kind{file: true, endings: []string{"csv", "toml"}}
	case "SUBCOMMAND":
		return kind{words: commandNames()}
	case "SHELL":
		return kind{words: shellNames()}
	}
	return kind{}
}

// operandKinds is what to complete where an operand stands: whatever one of
// them may be.
func (d definition) operandKinds() kind {
	var k kind
	for name := range strings.FieldsSeq(d.command.operands) {
		o := operandKind(name)
		k.words = append(k.words, o.words...)
		k.folder = k.folder || o.folder
		if o.file && !(k.file && k.endings == nil) {
			k.endings = append(k.endings, o.endings...)
			if o.endings == nil {
				k.endings = nil
			}
		}
		k.file = k.file || o.file
	}
	slices.Sort(k.endings)
	k.endings = slices.Compact(k.endings)
	return k
}
