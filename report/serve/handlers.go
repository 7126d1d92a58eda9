package serve

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"mime"
	"net/http"
	"runtime/debug"
	"strconv"
	"strings"

	"tautline/report/page"
	"tautline/report/text"
	"tautline/strategy/quantity"
)

// Handler answers requests. Nothing changes on GET.
func (s *Server) Handler() http.Handler {
	m := http.NewServeMux()
	m.HandleFunc("GET /{$}", s.home)
	m.HandleFunc("POST /work", s.begin)
	m.HandleFunc("POST /demo/{task}", s.demo)
	m.HandleFunc("GET /work/{id}", s.show)
	m.HandleFunc("POST /work/{id}", s.change)
	m.HandleFunc("POST /work/{id}/closure", s.addClosure)
	m.HandleFunc("POST /work/{id}/open", s.removeClosure)
	m.HandleFunc("POST /work/{id}/forget", s.forget)
	m.HandleFunc("GET /work/{id}/files/{name}", s.file)
	m.HandleFunc("GET /progress/{ticket}", s.progress)
	for name, a := range static() {
		m.HandleFunc("GET "+name, func(w http.ResponseWriter, r *http.Request) {
			w.Header().Set("Content-Type", a.kind)
			_, _ = w.Write(a.content)
		})
	}
	return guard(m, s.limits.upload, ownHost(s.o.Address))
}

type asset struct {
	kind    string
	content []byte
}

// static lists what never changes. Files are named one by one: no path of a
// request reaches a folder.
func static() map[string]asset {
	read := func(name string) []byte {
		b, err := assets.ReadFile("assets/" + name)
		if err != nil {
			panic(err) // only for a name that was not built in
		}
		return b
	}
	return map[string]asset{
		"/static/sheet.css": {"text/css; charset=utf-8", []byte(page.Style())},
		"/static/sheet.js":  {"text/javascript; charset=utf-8", []byte(page.Script())},
		"/static/app.css":   {"text/css; charset=utf-8", read("app.css")},
		"/static/app.js":    {"text/javascript; charset=utf-8", read("app.js")},
		"/favicon.ico":      {"image/svg+xml", read("favicon.svg")},
		"/favicon.svg":      {"image/svg+xml", read("favicon.svg")},
	}
}

// render writes a page once it is complete.
func render(w http.ResponseWriter, status int, name string, data any) {
	var b bytes.Buffer
	if err := templates.ExecuteTemplate(&b, name, data); err != nil {
		http.Error(w, "the page cannot be made", http.StatusInternalServerError)
		return
	}
	w.Header().Set("Content-Type", "text/html; charset=utf-8")
	w.WriteHeader(status)
	_, _ = w.Write(b.Bytes())
}

func (s *Server) home(w http.ResponseWriter, r *http.Request) {
	render(w, http.StatusOK, "home.tmpl", map[string]any{"Keep": s.o.Keep})
}

// begin takes the first form of a piece of work.
func (s *Server) begin(w http.ResponseWriter, r *http.Request) {
	f, err := s.readForm(r)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	task := Task(f.values["task"])
	if !task.known() {
		s.refuse(w, r, &refusal{http.StatusBadRequest, "it is not clear what is to be done"})
		return
	}
	s.carryOut(w, r, &session{}, f.apply(&input{Task: task}), "", f.values["ticket"])
}

func (s *Server) demo(w http.ResponseWriter, r *http.Request) {
	task := Task(r.PathValue("task"))
	if !task.known() {
		http.NotFound(w, r)
		return
	}
	f, err := s.readForm(r)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	in, err := demoInput(task)
	if err != nil {
		s.refuse(w, r, err)
		return
	}
	s.carryOut(w, r, &session{}, in, "", f.values["ticket"])
}

// change takes the settings of a piece of work again.
func (s *Server) change(w http.ResponseWriter, r *http.Request) {
	x, f := s.findForm(w, r)
	if x == nil {
		return
	}
	s.carryOut(w, r, x, f.apply(x.input()), "", f.values["ticket"])
}

func (x *session) input() *input {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.in
}

// findForm is find for a request that brings a form; nil, after an answer, when
// either cannot be had.
func (s *Server) findForm(w http.ResponseWriter, r *http.Request) (*session, *form) {
	x := s.find(w, r)
	if x == nil {
		return nil, nil
	}
	f, err := s.readForm(r)
	if err != nil {
		s.refuse(w, r, err)
		return nil, nil
	}
	return x, f
}

func (s *Server) find(w http.ResponseWriter, r *http.Request) *session {
	x := s.store.get(r.PathValue("id"))
	if x == nil {
		s.refuse(w, r, &refusal{http.StatusNotFound, "this piece of work is no longer held: begin again with the files"})
	}
	return x
}

// carryOut works an input out while the client waits, and shows the session.
// A client that goes away ends the work; its session stays as it was. When
// field is not "" only that was changed, and a problem leaves the session with
// what it had.
func (s *Server) carryOut(w http.ResponseWriter, r *http.Request, x *session, in *input, field, ticket string) {
	if int64(in.size()) > s.limits.upload {
		s.refuse(w, r, &refusal{http.StatusRequestEntityTooLarge, "the files together are too large"})
		return
	}
	select {
	case s.waiting <- struct{}{}:
		defer func() { <-s.waiting }()
	default:
		w.Header().Set("Retry-After", "10")
		s.refuse(w, r, &refusal{http.StatusServiceUnavailable, "too much is being worked on already: try again in a moment"})
		return
	}
	ctx, cancel := context.WithTimeout(r.Context(), patience)
	defer cancel()
	say, shut := s.tickets.open(ticket)
	defer shut()
	res, p, err := s.wait(ctx, in, say)
	switch {
	case errors.Is(err, context.DeadlineExceeded):
		p = &Problem{"", "this took longer than a minute and a half and was left: a shorter course or record may do"}
	case r.Context().Err() != nil:
		return // nobody is there to be told
	case err != nil:
		p = &Problem{"", "this cannot be worked out: " + text.Line(err.Error())}
	}
	x.mu.Lock()
	held := in.size()
	old := x.res
	x.problem = p
	x.changes = nil
	if p == nil {
		x.changes = changes(old, res)
		x.in, x.res = in, res
		p = s.keep(x, in, res)
		x.problem = p
	} else if field != "" {
		p.Field = field
	} else {
		// What was typed stays on the form; what was worked out before stays
		// on show.
		x.in = in
	}
	if x.res != nil {
		held += x.res.size()
	}
	x.mu.Unlock()
	if x.ID == "" {
		s.store.add(x)
	}
	s.store.sized(x, held)
	s.see(w, r, "/work/"+x.ID)
}

// size is about what a result holds, bytes.
func (res *result) size() int {
	n := len(res.body)*2 + 1<<20
	for _, d := range res.downloads {
		n += len(d.content)
	}
	return n
}

// wait does the work when its turn comes. The work itself may outlive the
// client by a step; it holds its place until it has really ended.
func (s *Server) wait(ctx context.Context, in *input, say func(string)) (*result, *Problem, error) {
	say("waiting for its turn")
	select {
	case s.working <- struct{}{}:
	case <-ctx.Done():
		return nil, nil, ctx.Err()
	}
	type answer struct {
		res *result
		p   *Problem
		err error
	}
	done := make(chan answer, 1)
	go func() {
		var a answer
		defer func() {
			if v := recover(); v != nil {
				debug.PrintStack()
				a = answer{err: errors.New("an error in the program")}
			}
			<-s.working
			done <- a
		}()
		a.res, a.p, a.err = s.work(ctx, in, say)
	}()
	select {
	case a := <-done:
		return a.res, a.p, a.err
	case <-ctx.Done():
		return nil, nil, ctx.Err()
	}
}

// see sends the client on: a browser by a redirect, the page's script by an
// object.
func (s *Server) see(w http.ResponseWriter, r *http.Request, to string) {
	if r.Header.Get("Accept") == "application/json" {
		w.Header().Set("Content-Type", "application/json")
		_ = json.NewEncoder(w).Encode(map[string]string{"go": to})
		return
	}
	http.Redirect(w, r, to, http.StatusSeeOther)
}

// refuse answers a request that cannot be worked on at all.
func (s *Server) refuse(w http.ResponseWriter, r *http.Request, err error) {
	status := http.StatusInternalServerError
	var no *refusal
	if errors.As(err, &no) {
		status = no.status
	}
	if r.Header.Get("Accept") == "application/json" {
		w.Header().Set("Content-Type", "application/json")
		w.WriteHeader(status)
		_ = json.NewEncoder(w).Encode(map[string]string{"problem": text.Line(err.Error())})
		return
	}
	render(w, status, "refused.tmpl", text.Line(err.Error()))
}

// changes says which figures a change of the settings has changed.
func changes(old, now *result) []string {
	if old == nil || now == nil || old.sheet == nil || now.sheet == nil {
		return nil
	}
	was := map[string]string{}
	for _, f := range old.sheet.Figures {
		was[f.Name] = f.Value
	}
	var out []string
	for _, f := range now.sheet.Figures {
		if v, ok := was[f.Name]; ok && v != f.Value {
			out = append(out, fmt.Sprintf("%s: %s, was %s", f.Name, f.Value, v))
		}
	}
	if out == nil {
		out = []string{"no main figure has changed"}
	}
	return out
}

// view is what the page of a session shows.
type view struct {
	ID        string
	Task      Task
	In        *input
	Problem   *Problem
	Changes   []string
	Body      template.HTML
	Downloads []download
	Closures  []string
	Laps      int
	Kept      string
	Title     string
	Shown     Shown
}

// Shown is what the settings are when nothing is typed.
type Shown struct {
	Width, Radius, Official string
	Certified               bool
}

func (s *Server) show(w http.ResponseWriter, r *http.Request) {
	x := s.find(w, r)
	if x == nil {
		return
	}
	x.mu.Lock()
	v := view{ID: x.ID, Task: x.in.Task, In: x.in, Problem: x.problem, Changes: x.changes, Kept: x.kept, Title: "tautline"}
	v.Shown.Certified = x.in.Fields.Certified
	if x.res != nil {
		v.Body, v.Downloads, v.Laps = x.res.body, x.res.downloads, x.res.laps
		v.Title = x.res.sheet.Kind + ": " + x.res.sheet.Title
		road := x.res.laid.Road.Spec
		u := x.in.units()
		v.Shown = Shown{Width: quantity.Length(road.Width, u), Radius: quantity.Length(road.CornerRadius, u), Official: "not known", Certified: x.res.laid.Certified}
		if o := x.res.laid.Official; o > 0 {
			v.Shown.Official = quantity.Distance(o, u)
		}
		for _, c := range x.in.Closures {
			v.Closures = append(v.Closures, c.words(u))
		}
	}
	x.mu.Unlock()
	status := http.StatusOK
	if v.Problem != nil && v.Body == "" {
		status = http.StatusUnprocessableEntity
	}
	render(w, status, "work.tmpl", v)
}

func (s *Server) forget(w http.ResponseWriter, r *http.Request) {
	s.store.drop(r.PathValue("id"))
	s.see(w, r, "/")
}

// file sends a result as a file.
func (s *Server) file(w http.ResponseWriter, r *http.Request) {
	x := s.find(w, r)
	if x == nil {
		return
	}
	x.mu.Lock()
	res := x.res
	x.mu.Unlock()
	if res != nil {
		for _, d := range res.downloads {
			if d.Name == r.PathValue("name") {
				w.Header().Set("Content-Type", d.Type)
				w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": slug(res.laid.Name) + "-" + d.Name}))
				w.Header().Set("Content-Length", strconv.Itoa(len(d.content)))
				_, _ = w.Write(d.content)
				return
			}
		}
	}
	s.refuse(w, r, &refusal{http.StatusNotFound, "there is no such file"})
}

// slug is a name made fit for a file's: lower-case letters and digits.
func slug(name string) string {
	var b strings.Builder
	for _, r := range strings.ToLower(text.Clean(name)) {
		switch {
		case r >= 'a' && r <= 'z', r >= '0' && r <= '9':
			b.WriteRune(r)
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "-"):
			b.WriteByte('-')
		}
		if b.Len() >= 40 {
			break
		}
	}
	if out := strings.Trim(b.String(), "-"); out != "" {
		return out
	}
	return "race"
}

func (s *Server) progress(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Type", "application/json")
	_ = json.NewEncoder(w).Encode(map[string]string{"doing": s.tickets.read(r.PathValue("ticket"))})
}
