package field

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"runtime"
	"sort"
	"sync"
	"time"

	"tautline/geo/gpxfile"
	"tautline/geo/inputerr"
	"tautline/geo/record"
)

// Options say how a field is gone through.
type Options struct {
	Workers  int                        // at a time; 0 for all cores
	Progress func(done, of int)         // after every record, one at a time; may be nil
	Save     func(content []byte) error // called now and then with the tally encoded; may be nil
	Every    time.Duration              // between two saves; 0 for 15 s
}

// Done is what going through a field came to, beside the tally.
type Done struct {
	Refused []Refusal // in the order of the sources
	Twice   int       // records whose content came before
	Before  int       // records that the tally had at the start
}

// Run reviews all sources and counts them in the tally, one record in memory
// for each worker. A record that cannot be used is refused, and the rest go on.
// When ctx ends, Run returns its error with the tally whole: what had been
// reviewed is counted. A tally that cannot be saved ends the run as well.
func (g *Ground) Run(ctx context.Context, s *Sources, t *Tally, o Options) (Done, error) {
	if o.Every == 0 {
		o.Every = 15 * time.Second
	}
	before := make(map[string]bool, len(t.Rows))
	for _, r := range t.Rows {
		before[r.Key] = true
	}
	running, stop := context.WithCancel(ctx)
	defer stop()
	var done Done
	indices := map[string][]int{}
	count := 0
	saved := time.Now()
	var failed error
	for r := range g.reviewed(running, s.List, o.Workers, before) {
		count++
		switch {
		case r.err != nil:
			indices[s.List[r.index].Name] = append(indices[s.List[r.index].Name], r.index)
			done.Refused = append(done.Refused, Refusal{s.List[r.index].Name, r.err})
		case r.look == nil:
			done.Before++
		case !t.Add(r.look):
			done.Twice++
		}
		if o.Progress != nil {
			o.Progress(count, len(s.List))
		}
		if o.Save != nil && failed == nil && time.Since(saved) >= o.Every {
			if failed = save(t, o); failed != nil {
				stop()
			}
			saved = time.Now()
		}
	}
	sort.SliceStable(done.Refused, func(i, j int) bool {
		return indices[done.Refused[i].Name][0] < indices[done.Refused[j].Name][0]
	})
	done.Refused = append(append([]Refusal(nil), s.Refused...), done.Refused...)
	if o.Save != nil && failed == nil {
		failed = save(t, o)
	}
	if failed != nil {
		return done, failed
	}
	return done, ctx.Err()
}

// outcome is what came of one source.
type outcome struct {
	index int   // of the source
	look  *Look // nil for a record that was known before, or refused
	err   error
}

// reviewed reviews sources with so many workers, 0 for as many as there are
// processors, and gives the outcomes as they come. The channel is closed when
// all are through, or soon after ctx has ended.
func (g *Ground) reviewed(ctx context.Context, list []Source, workers int, known map[string]bool) <-chan outcome {
	if workers <= 0 {
		workers = runtime.GOMAXPROCS(0)
	}
	next := make(chan int)
	out := make(chan outcome, workers)
	go func() {
		defer close(next)
		for i := range list {
			select {
			case next <- i:
			case <-ctx.Done():
				return
			}
		}
	}()
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			var buf bytes.Buffer
			for i := range next {
				if ctx.Err() != nil {
					return
				}
				look, err := g.one(list[i], &buf, known)
				out <- outcome{i, look, err}
			}
		})
	}
	go func() {
		wg.Wait()
		close(out)
	}()
	return out
}

func save(t *Tally, o Options) error {
	content, err := t.Encode()
	if err != nil {
		return err
	}
	return o.Save(content)
}

// one reads and reviews one record; no look and no error for one that is
// known.
func (g *Ground) one(s Source, buf *bytes.Buffer, known map[string]bool) (l *Look, err error) {
	bad := func(what, advice string, cause error) error {
		return &inputerr.Error{File: s.Name, What: what, Advice: advice, Cause: cause}
	}
	// A record that nobody thought of must not end the work on thousands.
	defer func() {
		if p := recover(); p != nil {
			l, err = nil, bad(fmt.Sprintf("the record cannot be worked on: %v", p), "please report this", nil)
		}
	}()
	r, err := s.open()
	switch {
	case errors.Is(err, fs.ErrPermission):
		return nil, bad("the file may not be read", "check its permissions", err)
	case err != nil:
		return nil, bad("the file cannot be opened: "+err.Error(), "", err)
	}
	defer r.Close()
	buf.Reset()
	if n, err := io.Copy(buf, io.LimitReader(r, maxRecord+1)); err != nil {
		return nil, bad("the file cannot be read: "+err.Error(), "", err)
	} else if n > maxRecord {
		return nil, bad(fmt.Sprintf("the file is larger than %d MB", maxRecord>>20), "no record of a race is that large", nil)
	}
	sum := sha256.Sum256(buf.Bytes())
	key := hex.EncodeToString(sum[:16])
	if known[key] {
		return nil, nil
	}
	f, err := gpxfile.Read(s.Name, bytes.NewReader(buf.Bytes()))
	if err != nil {
		return nil, err
	}
	line, _, err := f.Record()
	if err != nil {
		return nil, err
	}
	l, err = g.Look(key, s.Name, record.Reached(record.Clean(line)))
	var in *inputerr.Error
	if err != nil && !errors.As(err, &in) {
		err = bad(err.Error(), "give records of this very race", err)
	}
	return l, err
}
