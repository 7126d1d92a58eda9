package main

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tautline/geo/inputerr"
	"tautline/strategy/spelling"
)

// command is one subcommand. Each lives in a file of its own and is listed in
// commands.
type command struct {
	name     string
	operands string // "COURSE RECORD"
	for_     string // the group in the help text
	summary  string // one line
	about    string // a paragraph or more for its own help
	run      func(ctx context.Context, e *env, args []string) error
}

// The groups of the help text, in its order.
const (
	forRunners   = "for runners"
	forCoaches   = "for coaches"
	forDirectors = "for race directors"
	forAll       = "for all"
)

// commands lists the subcommands in the order of the help text.
func commands() []*command {
	return []*command{reviewCommand(), lineCommand(), demoCommand(), planCommand(), forecastCommand(), startCommand(), seasonCommand(), briefCommand(), measureCommand(), appraiseCommand(), setoutCommand(), fieldCommand(), serveCommand(), completionCommand(), manualCommand(), helpCommand(), versionCommand()}
}

func commandNames() []string {
	var names []string
	for _, c := range commands() {
		names = append(names, c.name)
	}
	return names
}

// errHelped ends a subcommand that was only asked for its help.
var errHelped = errors.New("help was printed")

// options is what the options struct of a subcommand can do: define its flags
// and, when they have been read, check them before any work.
type options interface {
	define(*pflag.FlagSet)
	validate() error
}

// parse reads the flags of a subcommand into its options and gives the
// operands, of which there must be least to most (most < 0: any number).
func (c *command) parse(e *env, args []string, o options, least, most int) ([]string, error) {
	set := pflag.NewFlagSet(c.name, pflag.ContinueOnError)
	set.SortFlags = false
	set.SetOutput(nil)
	set.Usage = func() {}
	o.define(set)
	if e.defined != nil {
		e.defined(set)
		return nil, errHelped
	}
	if err := singleDash(set, args); err != nil {
		return nil, err
	}
	switch err := set.Parse(args); {
	case errors.Is(err, pflag.ErrHelp):
		writeCommandHelp(e, c, set)
		return nil, errHelped
	case err != nil:
		return nil, c.flagError(set, err)
	}
	operands := set.Args()
	switch {
	case len(operands) < least:
		missing := strings.Fields(c.operands)
		return nil, &usageError{fmt.Sprintf("%s needs %s", c.name, c.operands),
			fmt.Sprintf("%s is missing; tautline help %s explains", missing[min(len(operands), len(missing)-1)], c.name)}
	case most >= 0 && len(operands) > most:
		return nil, &usageError{fmt.Sprintf("%s has no use for %q", c.name, operands[most]),
			"usage: " + strings.TrimSpace("tautline "+c.name+" "+c.operands)}
	}
	return operands, o.validate()
}

// singleDash catches a long name after a single dash, which would otherwise be
// read as a bundle of one-letter flags.
func singleDash(set *pflag.FlagSet, args []string) error {
	for _, a := range args {
		if a == "--" {
			return nil
		}
		if len(a) < 3 || a[0] != '-' || a[1] == '-' {
			continue
		}
		name, _, _ := strings.Cut(a[1:], "=")
		if set.Lookup(name) != nil {
			return &usageError{fmt.Sprintf("%q has one dash", a), fmt.Sprintf("write -%s", a)}
		}
	}
	return nil
}

// flagError says what is wrong with a flag in our own words.
func (c *command) flagError(set *pflag.FlagSet, err error) error {
	help := "tautline help " + c.name + " lists the options"
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) {
		name := unknown.GetSpecifiedName()
		if near := spelling.Nearest(name, flagNames(set)); near != "" {
			help = "did you mean --" + near + "?"
		}
		dashes := "--"
		if unknown.GetSpecifiedShortnames() != "" {
			dashes = "-"
		}
		return &usageError{fmt.Sprintf("%s has no option %s%s", c.name, dashes, name), help}
	}
	var invalid *pflag.InvalidValueError
	if errors.As(err, &invalid) {
		cause := invalid.Unwrap()
		return &usageError{fmt.Sprintf("--%s: %s", invalid.GetFlag().Name, plainCause(invalid.GetValue(), cause)), ""}
	}
	var missing *pflag.ValueRequiredError
	if errors.As(err, &missing) {
		return &usageError{fmt.Sprintf("--%s needs a value", missing.GetSpecifiedName()), help}
	}
	return &usageError{err.Error(), help}
}

// plainCause says why a value cannot be used, naming the value.
func plainCause(value string, err error) string {
	var in *inputerr.Error
	if errors.As(err, &in) {
		return in.Error()
	}
	var usage *usageError
	if errors.As(err, &usage) {
		return usage.Error()
	}
	return fmt.Sprintf("%q cannot be used", value)
}

func flagNames(set *pflag.FlagSet) []string {
	var names []string
	set.VisitAll(func(f *pflag.Flag) { names = append(names, f.Name) })
	slices.Sort(names)
	return names
}
