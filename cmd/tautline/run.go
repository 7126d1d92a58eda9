package main

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/spf13/pflag"

	"tautline/report/outfile"
	"tautline/report/text"
	"tautline/strategy/spelling"
	"tautline/strategy/tomlfile"
)

// Exit statuses, the same for every subcommand.
const (
	exitDone        = 0
	exitInput       = 1   // an input cannot be used
	exitUsage       = 2   // wrong usage
	exitSomeRefused = 3   // done, but some inputs were refused
	exitInterrupted = 130 // as a shell reports an interrupt
)

// usageError says that the command line cannot be understood.
type usageError struct {
	what   string
	advice string
}

func (e *usageError) Error() string {
	if e.advice == "" {
		return e.what
	}
	return e.what + " (" + e.advice + ")"
}

// errSomeRefused is returned, perhaps wrapped, by a subcommand that has done
// its work but refused some of its inputs and has said which.
var errSomeRefused = errors.New("some inputs were refused")

// env is what a subcommand may see of the world. Results go to out and to
// files, and reach the user together when the subcommand has succeeded;
// warnings and progress go to errs at once.
type env struct {
	stdin  io.Reader
	out    *bytes.Buffer
	live   io.Writer // standard output itself, for what runs until interrupted
	errs   io.Writer
	getenv func(string) string
	screen text.Screen
	files  outfile.Set

	// defined, where it is set, is given the options of a subcommand in place of
	// its work: completion and manual are written from them.
	defined func(*pflag.FlagSet)

	// patient is set by a subcommand that ends by itself, and in order, when it
	// is interrupted; the interrupt then waits for it.
	patient atomic.Bool
}

// oneAtATime lets the work and the wait for an interrupt share a writer.
type oneAtATime struct {
	mu   sync.Mutex
	w    io.Writer
	open bool // the line holds progress, which a message takes the place of
}

// wipe begins progress, and alone ends it: it empties a terminal's line.
const wipe = "\r\x1b[K"

func (o *oneAtATime) Write(p []byte) (int, error) {
	o.mu.Lock()
	defer o.mu.Unlock()
	progress := bytes.HasPrefix(p, []byte(wipe))
	if o.open && !progress {
		if _, err := io.WriteString(o.w, wipe); err != nil {
			return 0, err
		}
	}
	o.open = progress && len(p) > len(wipe)
	return o.w.Write(p)
}

// warn prints one message line on standard error.
func (e *env) warn(format string, args ...any) {
	fmt.Fprintf(e.errs, "tautline: %s\n", text.Line(fmt.Sprintf(format, args...)))
}

// json prints v as one indented JSON object.
func (e *env) json(v any) error {
	enc := json.NewEncoder(e.out)
	enc.SetIndent("", "  ")
	enc.SetEscapeHTML(false)
	return enc.Encode(v)
}

// run carries out one command line and gives the exit status.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	e := &env{
		stdin: stdin, out: new(bytes.Buffer), live: stdout, errs: &oneAtATime{w: stderr},
		getenv: os.Getenv, screen: text.NewScreen(stdout, os.Getenv),
	}
	// The work runs beside the wait for an interrupt, so that a long
	// computation is left at once; only the step that puts files in place is
	// never left half way.
	var placing sync.Mutex
	placed := false
	done := make(chan error, 1)
	go func() {
		err := dispatch(ctx, e, args)
		placing.Lock()
		placed, err = e.place(ctx, err)
		deliver := placed
		placing.Unlock()
		if deliver {
			if wrote := e.print(); wrote != nil {
				err = wrote
			}
		}
		done <- err
	}()
	select {
	case err := <-done:
		return e.status(ctx, err)
	case <-ctx.Done():
	}
	if e.patient.Load() {
		if err := <-done; err != nil {
			e.warn("%s", err)
			if errors.Is(err, context.Canceled) {
				return exitInterrupted
			}
			return exitInput
		}
		return exitDone
	}
	placing.Lock()
	defer placing.Unlock()
	if !placed {
		select {
		case err := <-done:
			return e.status(ctx, err)
		default:
			return e.status(ctx, ctx.Err())
		}
	}
	// What is left is to print, which takes no time unless nobody reads.
	select {
	case err := <-done:
		return e.status(ctx, err)
	case <-time.After(printing):
		e.warn("interrupted; standard output was not taken to its end")
		return exitInterrupted
	}
}

// place puts the files of a run that ended with err in place and tells whether
// it did: not after an error, and not after an interrupt, which must not pass
// for done at the last moment either.
func (e *env) place(ctx context.Context, err error) (bool, error) {
	if err != nil && !errors.Is(err, errSomeRefused) {
		return false, err
	}
	if ended := ctx.Err(); ended != nil {
		if e.patient.Load() {
			return false, err
		}
		return false, ended
	}
	if wrote := e.files.Write(); wrote != nil {
		return false, wrote
	}
	return true, err
}

// printing is how long an interrupted run waits for standard output to be
// taken.
const printing = 2 * time.Second

// print writes to standard output.
func (e *env) print() error {
	if _, err := e.live.Write(e.out.Bytes()); err != nil {
		return fmt.Errorf("the result cannot be written to standard output: %w", err)
	}
	return nil
}

// status tells the user what went wrong, if anything did, and gives the exit
// status for it.
func (e *env) status(ctx context.Context, err error) int {
	var usage *usageError
	switch {
	case err == nil:
		return exitDone
	case errors.Is(err, errSomeRefused):
		return exitSomeRefused
	case errors.Is(err, context.Canceled) || ctx.Err() != nil:
		e.warn("interrupted; nothing was written")
		return exitInterrupted
	case errors.As(err, &usage):
		e.warn("%s", err)
		return exitUsage
	}
	e.warn("%s", err)
	var ex *tomlfile.Excerpt
	if errors.As(err, &ex) {
		for line := range strings.SplitSeq(ex.Error(), "\n") {
			fmt.Fprintln(e.errs, text.Line(line))
		}
	}
	return exitInput
}

// dispatch finds the subcommand and runs it.
func dispatch(ctx context.Context, e *env, args []string) error {
	if len(args) == 0 {
		return &usageError{"no subcommand", "tautline demo shows what the program does; tautline help lists the rest"}
	}
	name := args[0]
	switch name {
	case "-h", "--help":
		name = "help"
	case "--version":
		name = "version"
	}
	for _, c := range commands() {
		if c.name == name {
			err := c.run(ctx, e, args[1:])
			if errors.Is(err, errHelped) {
				return nil
			}
			return err
		}
	}
	if strings.HasPrefix(name, "-") {
		return &usageError{fmt.Sprintf("the first word should be a subcommand, not %q", name), "tautline help lists them"}
	}
	advice := "tautline help lists them"
	if near := spelling.Nearest(name, commandNames()); near != "" {
		advice = fmt.Sprintf("did you mean %q?", near)
	} else if strings.HasSuffix(strings.ToLower(name), ".gpx") {
		advice = fmt.Sprintf("did you mean %q?", "tautline line "+name)
	}
	return &usageError{fmt.Sprintf("unknown subcommand %q", name), advice}
}
