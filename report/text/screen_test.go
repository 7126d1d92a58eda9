package text_test

import (
	"bytes"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"pgregory.net/rapid"

	"tautline/report/text"
)

func TestCleanTakesOutWhatCommandsATerminal(t *testing.T) {
	for _, c := range []struct{ name, in, want string }{
		{"an ordinary name", "Harbour Hill 10 km", "Harbour Hill 10 km"},
		{"letters of any language", "Übergang Žabí 東", "Übergang Žabí 東"},
		{"a colour", "\x1b[31mred\x1b[0m", "red"},
		{"a window title ended by a bell", "a\x1b]0;title\x07b", "ab"},
		{"a link ended by a string terminator", "a\x1b]8;;http://x\x1b\\b", "ab"},
		{"a clipboard write that never ends", "a\x1b]52;c;ZXZpbA==", "a"},
		{"an eight-bit control sequence", "a\u009b2Jb", "ab"},
		{"an eight-bit control string", "a\u009d0;x\u009cb", "ab"},
		{"a lone escape at the end", "a\x1b", "a"},
		{"a two-letter escape", "a\x1bcb", "ab"},
		{"line breaks and tabs", " a\r\n\tb ", "a b"},
		{"a backspace", "a\bb", "ab"},
		{"reversed writing", "a\u202eb\u2066c", "abc"},
		{"bytes that are no text", "a\xffb", "a\uFFFDb"},
		{"a very long name", strings.Repeat("x", 200), strings.Repeat("x", 60) + "…"},
		{"a message keeps its spaces and its length only in Line", "a   b", "a b"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := text.Clean(c.in); got != c.want {
				t.Errorf("Clean(%q) = %q, want %q", c.in, got, c.want)
			}
		})
	}
}

func TestCleanedTextIsAlwaysSafe(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := string(rapid.SliceOf(rapid.SampledFrom([]byte("ab \x1b[]\\;0mP^_\x07\x08\xc2\x9b\x9c\x9d\xe2\x80\xae\n\r\xff"))).Draw(t, "in"))
		got := text.Clean(in)
		for _, r := range got {
			if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
				t.Fatalf("Clean(%q) = %q holds %U", in, got, r)
			}
		}
		for _, r := range text.Line(in) {
			if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) {
				t.Fatalf("Line(%q) = %q holds %U", in, text.Line(in), r)
			}
		}
		if !utf8.ValidString(got) || text.Clean(got) != got {
			t.Fatalf("Clean(%q) = %q is not stable", in, got)
		}
	})
}

func TestAScreenThatIsNoTerminalIsPlain(t *testing.T) {
	for _, c := range []struct {
		name string
		env  map[string]string
		want text.Screen
	}{
		{"nothing said", nil, text.Screen{Width: 80}},
		{"COLUMNS decides the width", map[string]string{"COLUMNS": "60"}, text.Screen{Width: 60}},
		{"a window too narrow to fit", map[string]string{"COLUMNS": "7"}, text.Screen{Width: 40}},
		{"a window too wide to read", map[string]string{"COLUMNS": "400"}, text.Screen{Width: 100}},
		{"COLUMNS that is no number", map[string]string{"COLUMNS": "wide"}, text.Screen{Width: 80}},
	} {
		t.Run(c.name, func(t *testing.T) {
			if got := text.NewScreen(new(bytes.Buffer), func(k string) string { return c.env[k] }); got != c.want {
				t.Errorf("got %+v, want %+v", got, c.want)
			}
		})
	}
}

func TestHeadingsAreBoldOnlyWhereTheScreenAllows(t *testing.T) {
	if got := (text.Screen{}).Heading("Turns"); got != "Turns" {
		t.Errorf("plain heading is %q", got)
	}
	if got := (text.Screen{Bold: true}).Heading("Turns"); got != "\x1b[1mTurns\x1b[0m" {
		t.Errorf("bold heading is %q", got)
	}
}
