package serve

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"

	"tautline/strategy/demo"
)

// on runs a server with limits made short and counts its open connections.
func on(t *testing.T, s *Server, set func(*http.Server)) (address string, open *atomic.Int64) {
	t.Helper()
	srv := s.server(t.Context())
	set(srv)
	open = new(atomic.Int64)
	srv.ConnState = func(_ net.Conn, state http.ConnState) {
		switch state {
		case http.StateNew:
			open.Add(1)
		case http.StateClosed, http.StateHijacked:
			open.Add(-1)
		}
	}
	go func() { _ = srv.Serve(s.listener) }()
	t.Cleanup(func() { _ = srv.Close() })
	return s.listener.Addr().String(), open
}

// soon waits until something holds.
func soon(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(time.Minute); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("after a minute it does not hold: %s", what)
		}
	}
}

func dial(t *testing.T, address string) net.Conn {
	t.Helper()
	c, err := net.Dial("tcp", address)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = c.Close() })
	return c
}

func send(t *testing.T, c net.Conn, format string, args ...any) {
	t.Helper()
	if _, err := fmt.Fprintf(c, format, args...); err != nil {
		t.Fatal(err)
	}
}

const formHead = "POST /work HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Type: multipart/form-data; boundary=x\r\nContent-Length: %d\r\n\r\n" +
	"--x\r\nContent-Disposition: form-data; name=\"course\"; filename=\"c.gpx\"\r\n\r\n"

// A client that sends a byte now and then holds nobody up, and is let go when
// the time for a request is over, however steadily it sends.
func TestAClientThatDripsIsLetGoAndHoldsNobodyUp(t *testing.T) {
	s := newServer(t, Options{})
	address, open := on(t, s, func(srv *http.Server) { srv.ReadTimeout = 400 * time.Millisecond })
	var drips []net.Conn
	for range 20 {
		c := dial(t, address)
		send(t, c, formHead, 1<<20)
		drips = append(drips, c)
	}
	stop := make(chan struct{})
	defer close(stop)
	for _, c := range drips {
		go func() {
			for {
				select {
				case <-stop:
					return
				case <-time.After(20 * time.Millisecond):
					if _, err := c.Write([]byte("<")); err != nil {
						return
					}
				}
			}
		}()
	}
	soon(t, "all are connected", func() bool { return open.Load() == 20 })
	other := &http.Client{Transport: &http.Transport{DisableKeepAlives: true}}
	res, err := other.Get("http://" + address + "/")
	if err != nil {
		t.Fatal(err)
	}
	_ = res.Body.Close()
	if res.StatusCode != http.StatusOK {
		t.Errorf("another client got %d", res.StatusCode)
	}
	for i, c := range drips {
		_ = c.SetReadDeadline(time.Now().Add(time.Minute))
		answer, err := http.ReadResponse(bufio.NewReader(c), nil)
		if err == nil && answer.StatusCode != http.StatusBadRequest {
			t.Errorf("client %d got %d", i, answer.StatusCode)
		}
		var timeout net.Error
		if errors.As(err, &timeout) && timeout.Timeout() {
			t.Fatalf("client %d is still listened to", i)
		}
	}
	soon(t, "every connection is closed", func() bool { return open.Load() == 0 })
	if n := s.store.count(); n != 0 {
		t.Errorf("%d sessions were begun", n)
	}
}

// A client that asks and never reads is let go when the time for an answer is
// over.
func TestAClientThatNeverReadsIsLetGo(t *testing.T) {
	s := newServer(t, Options{})
	path := begun(t, s, "/demo/measuring", nil, nil)
	x := s.store.get(strings.TrimPrefix(path, "/work/"))
	// More than the system holds for a connection.
	x.res.downloads = append(x.res.downloads, download{"large.bin", "application/octet-stream", "large", make([]byte, 64<<20)})
	address, open := on(t, s, func(srv *http.Server) { srv.WriteTimeout = 300 * time.Millisecond })
	c := dial(t, address)
	send(t, c, "GET %s/files/large.bin HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n", path)
	soon(t, "it is connected", func() bool { return open.Load() == 1 })
	soon(t, "its connection is closed", func() bool { return open.Load() == 0 })
	res, err := http.Get("http://" + address + "/")
	if err != nil {
		t.Fatal(err)
	}
	_ = res.Body.Close()
	http.DefaultClient.CloseIdleConnections()
}

// The time for a request ends with the request: work that takes longer is not
// taken for a client that is gone.
func TestWorkMayTakeLongerThanARequest(t *testing.T) {
	s := newServer(t, Options{})
	s.work = func(ctx context.Context, _ *input, _ func(string)) (*result, *Problem, error) {
		select {
		case <-ctx.Done():
			return nil, nil, ctx.Err()
		case <-time.After(600 * time.Millisecond):
			return nil, &Problem{"", "done after all"}, nil
		}
	}
	address, _ := on(t, s, func(srv *http.Server) { srv.ReadTimeout = 150 * time.Millisecond })
	body, kind := upload(t, map[string]string{"task": "measuring"}, map[string][]byte{"course/c.gpx": read(t, demo.CourseFile)})
	req, err := http.NewRequest("POST", "http://"+address+"/work", body)
	if err != nil {
		t.Fatal(err)
	}
	kind(req)
	res, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(req)
	if err != nil {
		t.Fatal(err)
	}
	_ = res.Body.Close()
	if res.StatusCode != http.StatusSeeOther || s.store.count() != 1 {
		t.Errorf("it gave %d and %d sessions", res.StatusCode, s.store.count())
	}
}

// An upload that breaks off leaves nothing: no session, no file, no place
// taken, no goroutine.
func TestAnUploadThatBreaksOffLeavesNothing(t *testing.T) {
	tmp, kept := t.TempDir(), t.TempDir()
	t.Setenv("TMPDIR", tmp)
	s := newServer(t, Options{Keep: kept})
	address, open := on(t, s, func(*http.Server) {})
	before := runtime.NumGoroutine()
	course := read(t, demo.CourseFile)
	for i := range 30 {
		c := dial(t, address)
		send(t, c, formHead, 1<<20)
		if _, err := c.Write(course[:len(course)*i/30]); err != nil {
			t.Fatal(err)
		}
		if i%2 == 0 { // half of them without a farewell
			_ = c.(*net.TCPConn).SetLinger(0)
		}
		_ = c.Close()
	}
	soon(t, "every connection is closed", func() bool { return open.Load() == 0 })
	soon(t, "no goroutine is left", func() bool { return runtime.NumGoroutine() <= before+1 })
	if n := s.store.count(); n != 0 || len(s.waiting)+len(s.working) != 0 {
		t.Errorf("%d sessions were begun, %d places are taken", n, len(s.waiting)+len(s.working))
	}
	for _, dir := range []string{tmp, kept} {
		if left, err := os.ReadDir(dir); err != nil || len(left) != 0 {
			t.Errorf("left on disk: %v, %v", left, err)
		}
	}
	begun(t, s, "/demo/measuring", nil, nil) // and it still works
}

// mounted makes a folder that is a file system of its own, or skips.
func mounted(t *testing.T, options string) string {
	t.Helper()
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", options, "none", dir).CombinedOutput(); err != nil {
		t.Skipf("no file system can be mounted here: %s", out)
	}
	t.Cleanup(func() {
		if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
			t.Errorf("%v: %s", err, out)
		}
	})
	return dir
}

// below lists all files below a folder.
func below(t *testing.T, dir string) []string {
	t.Helper()
	var out []string
	err := filepath.WalkDir(dir, func(name string, d os.DirEntry, err error) error {
		if err == nil && name != dir {
			rel, _ := filepath.Rel(dir, name)
			out = append(out, rel)
		}
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func TestAFullDiskIsToldAndLeavesWhatWasKept(t *testing.T) {
	dir := mounted(t, "size=4m")
	s := newServer(t, Options{Keep: dir})
	first := begun(t, s, "/demo/measuring", nil, nil)
	x := s.store.get(strings.TrimPrefix(first, "/work/"))
	if x.problem != nil || x.kept == "" {
		t.Fatalf("the first result was not kept: %v", x.problem)
	}
	was := map[string][]byte{}
	for _, d := range x.res.downloads {
		was[d.Name] = d.content
	}
	// Leave one page of the disk.
	fill, err := os.Create(filepath.Join(dir, "fill"))
	if err != nil {
		t.Fatal(err)
	}
	for block := make([]byte, 4096); err == nil; {
		_, err = fill.Write(block)
	}
	if in, err := fill.Stat(); err != nil || fill.Truncate(in.Size()-8192) != nil {
		t.Fatal("the disk cannot be filled")
	}
	_ = fill.Close()

	// The same session again, on another road: its files would change.
	if got := begun(t, s, first, map[string]string{"width": "11", "settings": "yes"}, nil); got != first {
		t.Fatalf("it went to %s", got)
	}
	page := ask(s, "GET", first, nil).Body.String()
	if !strings.Contains(page, "cannot be kept") || !strings.Contains(page, "no space left") {
		t.Error("the page does not say that the disk is full")
	}
	for name, content := range was {
		if b, err := os.ReadFile(filepath.Join(dir, x.kept, name)); err != nil || !bytes.Equal(b, content) {
			t.Errorf("%s is not as it was: %d bytes, %v", name, len(b), err)
		}
	}
	before := below(t, dir)
	// Another session has nothing there yet, and leaves nothing.
	second := begun(t, s, "/demo/next", nil, nil)
	y := s.store.get(strings.TrimPrefix(second, "/work/"))
	if y.problem == nil || y.kept != "" || y.res == nil {
		t.Errorf("the second was kept in %q: %v", y.kept, y.problem)
	}
	if got := below(t, dir); !slices.Equal(got, before) {
		t.Errorf("the folder holds %q, before it held %q", got, before)
	}
	// With room again both are kept.
	if err := os.Remove(filepath.Join(dir, "fill")); err != nil {
		t.Fatal(err)
	}
	begun(t, s, second, map[string]string{"settings": "yes"}, nil)
	if y.problem != nil || y.kept == "" {
		t.Errorf("with room again it is kept in %q: %v", y.kept, y.problem)
	}
	for _, name := range below(t, dir) {
		if strings.HasSuffix(name, ".part") {
			t.Errorf("%s is left behind", name)
		}
	}
}

func TestAFolderThatTakesNothingIsTold(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(t *testing.T) (dir string, spoil func())
		want string
	}{
		{"a file system that is read only", func(t *testing.T) (string, func()) {
			dir := mounted(t, "size=1m")
			return dir, func() {
				if out, err := exec.Command("mount", "-o", "remount,ro", dir).CombinedOutput(); err != nil {
					t.Skipf("it cannot be made read only: %s", out)
				}
			}
		}, "read-only file system"},
		{"a folder that was taken away", func(t *testing.T) (string, func()) {
			dir := filepath.Join(t.TempDir(), "kept")
			if err := os.Mkdir(dir, 0o755); err != nil {
				t.Fatal(err)
			}
			return dir, func() {
				if err := os.RemoveAll(dir); err != nil {
					t.Skip("an open folder cannot be removed here")
				}
			}
		}, "no such file or directory"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, spoil := c.make(t)
			s := newServer(t, Options{Keep: dir})
			// The root must go before the file system does.
			t.Cleanup(func() { _ = s.root.Close() })
			spoil()
			path := begun(t, s, "/demo/measuring", nil, nil)
			page := ask(s, "GET", path, nil)
			if page.Code != 200 || !strings.Contains(page.Body.String(), "cannot be kept") || !strings.Contains(page.Body.String(), c.want) {
				t.Errorf("the page gave %d and does not say %q", page.Code, c.want)
			}
		})
	}
}

// Two servers on one folder each keep their results in folders of their own.
func TestTwoServersKeepInOneFolder(t *testing.T) {
	dir := t.TempDir()
	type kept struct{ name, content string }
	got := make(chan kept, 8)
	for k := range 2 {
		s := newServer(t, Options{Keep: dir})
		for range 4 {
			go func() {
				body := strings.NewReader("")
				w := ask(s, "POST", "/demo/measuring", body, header("Content-Type", "application/x-www-form-urlencoded"))
				x := s.store.get(strings.TrimPrefix(w.Header().Get("Location"), "/work/"))
				if x == nil {
					got <- kept{"", fmt.Sprintf("server %d gave %d", k, w.Code)}
					return
				}
				x.mu.Lock()
				defer x.mu.Unlock()
				b, err := os.ReadFile(filepath.Join(dir, x.kept, "line.gpx"))
				if err != nil || x.problem != nil {
					got <- kept{"", fmt.Sprint(err, x.problem)}
					return
				}
				got <- kept{x.kept, string(b)}
			}()
		}
	}
	seen := map[string]bool{}
	for range 8 {
		x := <-got
		if x.name == "" || seen[x.name] || !strings.Contains(x.content, "</gpx>") {
			t.Errorf("kept in %q: %.80s", x.name, x.content)
		}
		seen[x.name] = true
	}
}

// A clock that is set back or far forward loses no session that is in use, and
// a session is never used before it is there.
func TestSessionsOutliveAClockThatIsSetBack(t *testing.T) {
	s := newStore()
	now := time.Date(2027, 4, 18, 9, 30, 0, 0, time.UTC)
	s.now = func() time.Time { return now }
	var x session
	s.add(&x)
	for _, by := range []time.Duration{-3 * time.Hour, -24 * 365 * time.Hour, time.Hour} {
		now = now.Add(by)
		if s.get(x.ID) == nil {
			t.Fatalf("it is gone after a step of %v", by)
		}
		var y session
		s.add(&y)
		s.sized(&y, 1)
	}
	if n := s.count(); n != 4 {
		t.Errorf("%d sessions are held", n)
	}
}
