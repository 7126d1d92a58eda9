package main

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/pflag"

	"tautline/report/text"
	"tautline/strategy/spelling"
)

func helpCommand() *command {
	return &command{
		name: "help", operands: "[SUBCOMMAND]", for_: forAll,
		summary: "explain the program, or one subcommand",
		run:     runHelp,
	}
}

// exitMeanings says what each exit status means, for help and manual.
var exitMeanings = [][]string{
	{"0", "done"},
	{"1", "an input cannot be used; the message says which, where and what to do"},
	{"2", "the command line cannot be understood"},
	{"3", "done, but some inputs were refused"},
	{"130", "interrupted; nothing was written"},
}

const cautions = "Run the short line only where the road is closed and the course permits it: marshals and traffic law come first. " +
	"A length from GPX or GPS never certifies a course. Everything stays on this machine."

func runHelp(ctx context.Context, e *env, args []string) error {
	args, err := helpCommand().parse(e, args, noOptions{}, 0, 1)
	if err != nil {
		return err
	}
	if len(args) == 0 {
		writeHelp(e)
		return nil
	}
	for _, c := range commands() {
		if c.name == args[0] && c.name != "help" {
			return c.run(ctx, e, []string{"--help"})
		}
	}
	if args[0] == "help" {
		writeHelp(e)
		return nil
	}
	advice := "tautline help lists them"
	if near := spelling.Nearest(args[0], commandNames()); near != "" {
		advice = fmt.Sprintf("did you mean %q?", near)
	}
	return &usageError{fmt.Sprintf("unknown subcommand %q", args[0]), advice}
}

func writeHelp(e *env) {
	s := e.screen
	para := func(t string, indent int) {
		for _, l := range text.Wrap(t, s.Width-indent, 0) {
			fmt.Fprintln(e.out, strings.Repeat(" ", indent)+l)
		}
	}
	para("Tautline finds the shortest legal line of a road course, what a runner ran beyond it and where, and why the watch read long.", 0)
	for _, group := range []string{forRunners, forCoaches, forDirectors, forAll} {
		table := text.Table{Columns: []text.Column{{}, {Flex: true}}}
		for _, c := range commands() {
			if c.for_ == group {
				table.Rows = append(table.Rows, []string{strings.TrimSpace(c.name + " " + c.operands), c.summary})
			}
		}
		if len(table.Rows) == 0 {
			continue
		}
		fmt.Fprintf(e.out, "\n%s\n", s.Heading(strings.ToUpper(group[:1])+group[1:]))
		for _, l := range table.Lines(s.Width - 2) {
			fmt.Fprintln(e.out, strings.TrimRight("  "+l, " "))
		}
	}
	fmt.Fprintln(e.out)
	para("Start with: tautline demo", 0)
	para("More on each: tautline help SUBCOMMAND", 0)
	fmt.Fprintf(e.out, "\n%s\n", s.Heading("Exit status"))
	for _, l := range (text.Table{Columns: []text.Column{{Right: true}, {Flex: true}}, Rows: exitMeanings}).Lines(s.Width - 2) {
		fmt.Fprintln(e.out, "  "+l)
	}
	fmt.Fprintln(e.out)
	para(cautions, 0)
}

// writeCommandHelp explains one subcommand: what it is for, how it is called,
// its options. A paragraph that is set in is an example.
func writeCommandHelp(e *env, c *command, set *pflag.FlagSet) {
	s := e.screen
	for _, l := range text.Wrap("tautline "+c.name+": "+c.summary, s.Width, 2) {
		fmt.Fprintln(e.out, l)
	}
	fmt.Fprintln(e.out)
	usage := strings.TrimSpace("tautline " + c.name + " " + c.operands)
	if set.HasFlags() {
		usage += " [OPTIONS]"
	}
	fmt.Fprintf(e.out, "%s\n  %s\n", s.Heading("Usage"), usage)
	for para := range strings.SplitSeq(c.about, "\n\n") {
		if strings.TrimSpace(para) == "" {
			continue
		}
		fmt.Fprintln(e.out)
		if strings.HasPrefix(para, "  ") { // an example, set in, stays as it is
			fmt.Fprintln(e.out, para)
			continue
		}
		for _, l := range text.Wrap(para, s.Width, 0) {
			fmt.Fprintln(e.out, l)
		}
	}
	if !set.HasFlags() {
		return
	}
	table := text.Table{Columns: []text.Column{{}, {Flex: true}}}
	set.VisitAll(func(f *pflag.Flag) {
		value, what := valueAndText(f)
		table.Rows = append(table.Rows, []string{strings.TrimSpace("--" + f.Name + " " + value), what})
	})
	fmt.Fprintf(e.out, "\n%s\n", s.Heading("Options"))
	for _, l := range table.Lines(s.Width - 2) {
		fmt.Fprintln(e.out, strings.TrimRight("  "+l, " "))
	}
}
