// Command tautline is a tool for race-day strategy on road courses: the
// shortest legal line of a course, what a runner ran beyond it and where, and
// why the watch read long.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"
)

func main() {
	signals := []os.Signal{os.Interrupt, syscall.SIGTERM}
	// A window that is closed ends the run in order too; one that was begun to
	// outlive its window goes on.
	if !signal.Ignored(syscall.SIGHUP) {
		signals = append(signals, syscall.SIGHUP)
	}
	ctx, stop := signal.NotifyContext(context.Background(), signals...)
	// A second interrupt ends the program as it would any other, whatever it
	// hangs on.
	context.AfterFunc(ctx, stop)
	os.Exit(run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr))
}
