package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/pflag"
)

func versionCommand() *command {
	return &command{
		name: "version", for_: forAll,
		summary: "print the version",
		run:     runVersion,
	}
}

type versionOptions struct{}

func (*versionOptions) define(*pflag.FlagSet) {}
func (*versionOptions) validate() error       { return nil }

func runVersion(_ context.Context, e *env, args []string) error {
	if _, err := versionCommand().parse(e, args, new(versionOptions), 0, 0); err != nil {
		return err
	}
	version, revision := "unknown", ""
	if info, ok := debug.ReadBuildInfo(); ok {
		version = info.Main.Version
		for _, s := range info.Settings {
			if s.Key == "vcs.revision" {
				revision = " " + s.Value
			}
		}
	}
	fmt.Fprintf(e.out, "tautline %s%s %s %s/%s\n", version, revision, runtime.Version(), runtime.GOOS, runtime.GOARCH)
	return nil
}
