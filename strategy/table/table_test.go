package table_test

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"tautline/geo/inputerr"
	"tautline/strategy/table"
)

func ExampleNewReader() {
	r, err := table.NewReader("squad.csv", []byte("name;goal\nIva;45:10\n"), 0)
	if err != nil {
		fmt.Println(err)
		return
	}
	rows, err := r.ReadAll()
	fmt.Println(rows, err)
	// Output: [[name goal] [Iva 45:10]] <nil>
}

func TestTheSameTableInManyForms(t *testing.T) {
	want := [][]string{{"name", "goal", "note"}, {"Iva, of Mill; Lane", "", "9"}, {"Bram", "45:10"}}
	for _, c := range []struct {
		name, text string
		comment    rune
	}{
		{"with commas", "name,goal,note\n\"Iva, of Mill; Lane\",,9\nBram,45:10\n", 0},
		{"with semicolons", "name;goal;note\n\"Iva, of Mill; Lane\";;9\nBram;45:10\n", 0},
		{"with tabs, the empty cell kept", "name\tgoal\tnote\n\"Iva, of Mill; Lane\"\t\t9\nBram\t45:10\n", 0},
		{"with spaces before cells", "name, goal, note\n\"Iva, of Mill; Lane\", , 9\nBram, 45:10\n", 0},
		{"with a byte order mark and Windows line ends", "\xEF\xBB\xBFname,goal,note\r\n\"Iva, of Mill; Lane\",,9\r\nBram,45:10\r\n", 0},
		{"below empty lines and a comment with commas", "\n# Mill Lane, May, noon\n\nname;goal;note\n\"Iva, of Mill; Lane\";;9\nBram;45:10\n", '#'},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := table.NewReader("t.csv", []byte(c.text), c.comment)
			if err != nil {
				t.Fatal(err)
			}
			got, err := r.ReadAll()
			if err != nil || !slices.EqualFunc(got, want, slices.Equal) {
				t.Errorf("rows %q, error %v", got, err)
			}
		})
	}
}

func TestTextsThatAreNotUTF8AreRefused(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"Latin-1", "name,goal\nBj\xf6rn,45:10\n", "t.csv:2:3: the file is not UTF-8 text (save it as UTF-8)"},
		{"UTF-16 with a mark, the low byte first", "\xff\xfen\x00a\x00", "t.csv: the file is UTF-16 text (save it as UTF-8)"},
		{"UTF-16 with a mark, the high byte first", "\xfe\xff\x00n\x00a", "UTF-16 text"},
		{"UTF-16 without a mark, the low byte first", "n\x00a\x00", "UTF-16 text"},
		{"UTF-16 without a mark, the high byte first", "\x00n\x00a", "UTF-16 text"},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := table.NewReader("t.csv", []byte(c.text), 0)
			var in *inputerr.Error
			if !errors.As(err, &in) || !strings.Contains(err.Error(), c.want) {
				t.Errorf("error is %v\nwant one with %s", err, c.want)
			}
		})
	}
}
