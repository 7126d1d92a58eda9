package main

import (
	"context"
	"fmt"
	"os/exec"
	"runtime"

	"github.com/spf13/pflag"

	"tautline/report/serve"
)

func serveCommand() *command {
	return &command{
		name: "serve", for_: forAll,
		summary: "a local web page for review, plan and line: give files, set the road, see and save the result",
		about: "The address to open in a browser is printed; --open opens it. The page is served to this machine only, unless --address says otherwise, until the program is interrupted. " +
			"Files that are given to it stay in memory and are forgotten when it ends.\n\n" +
			"With --keep every result gets a folder of its own below DIR, which several servers may share. " +
			"Whoever takes more than a minute to send a request, or two minutes to take an answer, is cut off; others do not wait for them.",
		run: runServe,
	}
}

type serveOptions struct {
	address string
	open    bool
	keep    string
}

func (o *serveOptions) define(set *pflag.FlagSet) {
	set.StringVar(&o.address, "address", "127.0.0.1:7426", "`HOST:PORT` to listen on; port 0 takes a free one")
	set.BoolVar(&o.open, "open", false, "open the page in the browser")
	set.StringVar(&o.keep, "keep", "", "`DIR` to keep results in, as plain files; else nothing is kept")
}

func (o *serveOptions) validate() error { return nil }

func runServe(ctx context.Context, e *env, args []string) error {
	var o serveOptions
	if _, err := serveCommand().parse(e, args, &o, 0, 0); err != nil {
		return err
	}
	s, err := serve.Listen(serve.Options{Address: o.address, Keep: o.keep})
	if err != nil {
		return err
	}
	e.patient.Store(true) // an interrupt is how this ends
	if !s.Loopback() {
		e.warn("others on this network can reach this page and what is given to it")
	}
	fmt.Fprintf(e.live, "%s\n", s.URL())
	e.warn("interrupt with Ctrl-C to stop")
	if o.open {
		if err := openBrowser(ctx, s.URL()); err != nil {
			e.warn("no browser could be opened: open the address yourself")
		}
	}
	return s.Run(ctx, e.errs)
}

// openBrowser asks the system for its browser. It does not wait for it.
func openBrowser(ctx context.Context, url string) error {
	name, args := "xdg-open", []string{url}
	switch runtime.GOOS {
	case "darwin":
		name = "open"
	case "windows":
		name, args = "rundll32", []string{"url.dll,FileProtocolHandler", url}
	}
	c := exec.CommandContext(ctx, name, args...)
	if err := c.Start(); err != nil {
		return err
	}
	go func() { _ = c.Wait() }()
	return nil
}
