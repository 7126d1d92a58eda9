package main

import (
	"context"
	"fmt"
	"strings"

	"tautline/report/text"
)

func manualCommand() *command {
	return &command{
		name: "manual", for_: forAll,
		summary: "print the manual page, for man",
		about: "The page is in the form of man(7). Put it where man looks for it, or read it at once:\n\n" +
			"  tautline manual > ~/.local/share/man/man1/tautline.1\n" +
			"  tautline manual > tautline.1 && man ./tautline.1",
		run: runManual,
	}
}

func runManual(_ context.Context, e *env, args []string) error {
	if _, err := manualCommand().parse(e, args, noOptions{}, 0, 0); err != nil {
		return err
	}
	e.out.WriteString(manualPage(definitions()))
	return nil
}

// example is one command line of the manual; a test runs each.
type example struct{ what, line string }

var examples = []example{
	{"Write the files of the invented race to a folder, to try things on:", "tautline demo --out velmarrow"},
	{"Review a record, with what the watch showed:", `tautline review velmarrow/course.gpx velmarrow/wide.gpx --race velmarrow/race.toml --watch "10.22 km"`},
	{"Draw the strip map of the shortest legal line as a page for the browser:", "tautline line velmarrow/course.gpx --race velmarrow/race.toml --page line.html"},
	{"Plan 45 minutes at even effort, with a pace band to print:", "tautline plan velmarrow/course.gpx --race velmarrow/race.toml --goal 45:00 --every km --band band.html"},
	{"Lay out the kilometre marks, as a table:", `tautline setout velmarrow/course.gpx --race velmarrow/race.toml --every "1 km" --csv marks.csv`},
	{"Take one figure out of the JSON form with a program that reads such:", "tautline line velmarrow/course.gpx --json"},
}

// fileNotes says what files there are, for the manual. README.md lists the keys.
var fileNotes = [][2]string{
	{"COURSE, RECORD", "GPX, the form in which watches and map tools save routes and tracks. A single - is standard input."},
	{"SHEET of --race", "The race sheet, TOML: official distance, road, stretches, turn-arounds, start and finish, aid stations, weather. Every key may be left out; options outrank it."},
	{"FILE of --athlete", "TOML: the athlete's name, goal, races, workouts and habits. A squad is the same as a CSV table."},
	{"CALENDAR", "TOML: the goal race and the races that could be run."},
	{"PENS", "TOML: the start, its width and its pens."},
	{"SHEET of measure", "TOML or CSV: what a measurer wrote down of a bicycle or tape measurement."},
	{"FILE of --state", "What tautline field has worked out so far. It is written by the program alone."},
	{".tautline-*.part", "An output that is being written. It gets its name when it is complete. One that stays behind after the machine or the program was stopped by force belongs to nothing and can be deleted."},
}

// manualPage writes the manual in the macros of man(7). The same program always
// prints the same page.
func manualPage(all []definition) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	section := func(title string) { line(".SH %s", title) }
	para := func(s string) {
		for _, l := range text.Wrap(s, 72, 0) {
			line("%s", roff(l))
		}
	}

	line(`.TH TAUTLINE 1 "%s" "tautline %s" "Race-day strategy"`, released, release)
	section("NAME")
	line(`tautline \- the shortest legal line of a road race, and what was run beyond it`)
	section("SYNOPSIS")
	line(`.B tautline`)
	line(`.I SUBCOMMAND`)
	line(`.RI [ OPERANDS ]`)
	line(`.RI [ OPTIONS ]`)
	section("DESCRIPTION")
	para("Tautline finds the shortest legal line of a road course, what a runner ran beyond it and where, and why the watch read long. On the same line it plans races.")
	line(".PP")
	para("Distances, times and paces are written as people write them: 10 km, 26.2 mi, marathon, 3:29:59, 4:50/km. A value with a space in it is put in quotes. " +
		"Results go to standard output, messages to standard error. Files are written whole or not at all, and never over an input.")
	line(".PP")
	para("Options may stand before or after operands, and as --option value or --option=value; -- ends them. An option whose text states no other value does nothing unless it is given.")
	section("SUBCOMMANDS")
	for _, d := range all {
		line(".SS %s", roffOption(strings.TrimSpace("tautline "+d.name+" "+d.command.operands)))
		para(strings.ToUpper(d.summary[:1]) + d.summary[1:] + ".")
		for p := range strings.SplitSeq(d.about, "\n\n") {
			switch {
			case strings.TrimSpace(p) == "":
			case strings.HasPrefix(p, "  "):
				roffExample(&b, strings.Split(p, "\n")...)
			default:
				line(".PP")
				para(p)
			}
		}
		for _, o := range d.options {
			line(".TP")
			name := `\fB` + roffOption("--"+o.name) + `\fR`
			if o.value != "" {
				name += ` \fI` + roffOption(o.value) + `\fR`
			}
			line("%s", name)
			what := o.what
			if o.standard != "" {
				what += fmt.Sprintf(" (default: %s)", o.standard)
			}
			para(what)
		}
	}
	section(`"EXIT STATUS"`)
	for _, m := range exitMeanings {
		line(".TP")
		line(`\fB%s\fR`, m[0])
		para(m[1])
	}
	section("ENVIRONMENT")
	for _, m := range [][2]string{{"COLUMNS", "the width of the text, 40 or more, where it is not that of the window"}, {"NO_COLOR", "when it is set, text has no escapes"}} {
		line(".TP")
		line(`\fB%s\fR`, m[0])
		para(m[1])
	}
	section("FILES")
	for _, m := range fileNotes {
		line(".TP")
		line(`\fI%s\fR`, roffOption(m[0]))
		para(m[1])
	}
	section("EXAMPLES")
	for i, x := range examples {
		if i > 0 {
			line(".PP")
		}
		para(x.what)
		roffExample(&b, "  "+x.line)
	}
	section("CAUTIONS")
	para(cautions)
	line(".PP")
	para("Pacing and heat figures are information, not medical advice: after long inactivity, or with symptoms, see a physician before racing.")
	line(".PP")
	para("A track shows where someone lives and when. Think before you pass one on.")
	return b.String()
}

// roffExample writes lines as they are, set in; their first two columns are
// the indent that they have in the help text.
func roffExample(b *strings.Builder, lines ...string) {
	b.WriteString(".PP\n.RS 4\n.nf\n")
	for _, l := range lines {
		b.WriteString(roffOption(strings.TrimPrefix(l, "  ")) + "\n")
	}
	b.WriteString(".fi\n.RE\n")
}

// roff makes text safe for a line of the manual: nothing in it is taken for a
// macro, and what is not ASCII is written by its code point, so that no
// formatter has to be told of an encoding.
func roff(s string) string {
	var b strings.Builder
	for _, r := range s {
		switch {
		case r == '\\':
			b.WriteString(`\e`)
		case r == '\'':
			b.WriteString(`\(aq`)
		case r == '`':
			b.WriteString(`\(ga`)
		case r == '^':
			b.WriteString(`\(ha`)
		case r == '~':
			b.WriteString(`\(ti`)
		case r > 126:
			fmt.Fprintf(&b, `\[u%04X]`, r)
		default:
			b.WriteRune(r)
		}
	}
	s = b.String()
	if strings.HasPrefix(s, ".") {
		s = `\&` + s
	}
	// A hyphen that must stay what was typed begins an option.
	return strings.ReplaceAll(s, "--", `\-\-`)
}

// roffOption is roff for what is typed: its hyphens are minus signs, which a
// reader can copy.
func roffOption(s string) string {
	return strings.ReplaceAll(strings.ReplaceAll(roff(s), `\-`, "-"), "-", `\-`)
}
