package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
)

// The version of the program and its day, the newest under "Changes" in
// README.md; between two releases they are those of the one before.
const (
	release  = "0.1.0"
	released = "2026-11-25"
)

// commit is the commit that a release was made from. The release build sets it,
// since it is made without the repository around it.
var commit string

func versionCommand() *command {
	return &command{
		name: "version", for_: forAll,
		summary: "print the version, the commit it was built from, and the Go version",
		run:     runVersion,
	}
}

func runVersion(_ context.Context, e *env, args []string) error {
	if _, err := versionCommand().parse(e, args, noOptions{}, 0, 0); err != nil {
		return err
	}
	info, _ := debug.ReadBuildInfo()
	fmt.Fprintf(e.out, "tautline %s (%s) %s %s/%s\n", release, builtFrom(commit, info), runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return nil
}

// builtFrom says what the program was built from: the commit of a release, else
// what the Go command noted of the checkout, if it did.
func builtFrom(commit string, info *debug.BuildInfo) string {
	if commit != "" {
		return "commit " + commit
	}
	if info == nil {
		return "commit not known"
	}
	changed := ""
	for _, s := range info.Settings {
		switch {
		case s.Key == "vcs.revision":
			commit = s.Value
		case s.Key == "vcs.modified" && s.Value == "true":
			changed = " and changes"
		}
	}
	if commit == "" {
		return "commit not known"
	}
	return "commit " + commit + changed
}
