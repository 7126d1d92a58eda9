// Package serve is the local web page: people give files and see the measured
// drawing of their race, change the road and see it change, and take results
// away. It listens on this machine, asks nothing of any other, and keeps
// nothing but what it is told to keep.
package serve

import (
	"context"
	"embed"
	"errors"
	"fmt"
	"html/template"
	"io"
	"net"
	"net/http"
	"os"
	"syscall"
	"time"

	"tautline/geo/inputerr"
)

//go:embed assets
var assets embed.FS

var templates = template.Must(template.ParseFS(assets, "assets/*.tmpl"))

// limits are bytes of one request and of one file in it.
type limits struct{ upload, file int64 }

var usualLimits = limits{upload: 96 << 20, file: 48 << 20}

// Limits of a request.
const (
	maxField    = 4 << 10
	maxParts    = 40
	maxClosures = 200
	maxWorking  = 2  // pieces of work at once
	maxWaiting  = 12 // more than these are turned away
	patience    = 90 * time.Second
)

// Options say where to listen and what to keep.
type Options struct {
	Address string // "127.0.0.1:7426"; port 0 takes a free one
	Keep    string // folder to keep results in; "" keeps nothing
}

// Server is the local web page. It is safe for concurrent use.
type Server struct {
	o        Options
	listener net.Listener
	root     *os.Root // nil: keep nothing
	store    *store
	tickets  *tickets
	working  chan struct{}
	waiting  chan struct{}
	limits   limits
	work     func(context.Context, *input, func(string)) (*result, *Problem, error)
}

// Listen opens the address. Errors are *inputerr.Error.
func Listen(o Options) (*Server, error) {
	// A page that answers to every name could be reached under a foreign one.
	if host, _, err := net.SplitHostPort(o.Address); err == nil && (host == "" || net.ParseIP(host) != nil && net.ParseIP(host).IsUnspecified()) {
		return nil, &inputerr.Error{What: o.Address + " is every address of this machine", Advice: "name one, such as 127.0.0.1:0"}
	}
	s := &Server{o: o, limits: usualLimits, store: newStore(), tickets: newTickets(), working: make(chan struct{}, maxWorking), waiting: make(chan struct{}, maxWaiting), work: work}
	if o.Keep != "" {
		root, err := os.OpenRoot(o.Keep)
		if err != nil {
			return nil, &inputerr.Error{File: o.Keep, What: "the folder to keep results in cannot be opened", Advice: "make it first, or name another", Cause: err}
		}
		s.root = root
	}
	l, err := net.Listen("tcp", o.Address)
	if err != nil {
		if s.root != nil {
			_ = s.root.Close()
		}
		what, advice := "cannot listen on "+o.Address, "write an address of this machine, such as 127.0.0.1:0"
		if errors.Is(err, syscall.EADDRINUSE) {
			what, advice = o.Address+" is in use, perhaps by this program in another window", "close that, or give another port; port 0 takes a free one"
		} else if errors.Is(err, syscall.EACCES) {
			advice = "choose a port above 1023"
		}
		return nil, &inputerr.Error{What: what, Advice: advice, Cause: err}
	}
	s.listener = l
	return s, nil
}

// URL is where the page is.
func (s *Server) URL() string {
	a := s.listener.Addr().(*net.TCPAddr)
	return "http://" + net.JoinHostPort(a.IP.String(), fmt.Sprint(a.Port)) + "/"
}

// Loopback tells whether only this machine can reach the page.
func (s *Server) Loopback() bool { return s.listener.Addr().(*net.TCPAddr).IP.IsLoopback() }

// server has a limit for everything that a client could draw out.
func (s *Server) server(base context.Context) *http.Server {
	return &http.Server{
		Handler:           s.Handler(),
		ReadHeaderTimeout: 5 * time.Second,
		ReadTimeout:       60 * time.Second,
		WriteTimeout:      patience + 30*time.Second,
		IdleTimeout:       60 * time.Second,
		MaxHeaderBytes:    32 << 10,
		BaseContext:       func(net.Listener) context.Context { return base },
	}
}

// grace is how long a stop waits for what is being worked on.
const grace = 3 * time.Second

// Run serves until ctx ends, then finishes what is under way and returns nil.
func (s *Server) Run(ctx context.Context, log io.Writer) error {
	base, stop := context.WithCancel(context.Background())
	defer stop()
	srv := s.server(base)
	done := make(chan error, 1)
	go func() { done <- srv.Serve(s.listener) }()
	defer func() {
		if s.root != nil {
			_ = s.root.Close()
		}
	}()
	select {
	case err := <-done:
		return fmt.Errorf("the page cannot be served any longer: %w", err)
	case <-ctx.Done():
	}
	fmt.Fprintln(log, "stopping")
	last, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	if err := srv.Shutdown(last); err != nil {
		stop() // what still works is told to leave it
		return srv.Close()
	}
	return nil
}
