package serve

import (
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"path"
	"strings"

	"tautline/report/text"
)

// form is what a request brought.
type form struct {
	values map[string]string
	files  map[string]*file
}

// refusal is an answer to a request that cannot be worked on.
type refusal struct {
	status int
	what   string
}

func (r *refusal) Error() string { return r.what }

// readForm reads a form into memory. No part of it touches the disk.
func (s *Server) readForm(r *http.Request) (*form, error) {
	f := &form{values: map[string]string{}, files: map[string]*file{}}
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if kind != "multipart/form-data" {
		if err := r.ParseForm(); err != nil {
			return nil, s.tooMuch(err)
		}
		for k, v := range r.PostForm {
			if len(v) > 0 && len(v[0]) <= maxField {
				f.values[k] = v[0]
			}
		}
		return f, nil
	}
	m, err := r.MultipartReader()
	if err != nil {
		return nil, &refusal{http.StatusBadRequest, "the form cannot be read"}
	}
	for n := 0; ; n++ {
		p, err := m.NextPart()
		if errors.Is(err, io.EOF) {
			return f, nil
		}
		if err != nil {
			return nil, s.tooMuch(err)
		}
		if n >= maxParts {
			return nil, &refusal{http.StatusRequestEntityTooLarge, "the form has too many parts"}
		}
		limit := int64(maxField)
		if p.FileName() != "" {
			limit = s.limits.file
		}
		b, err := io.ReadAll(io.LimitReader(p, limit+1))
		if err != nil {
			return nil, s.tooMuch(err)
		}
		if int64(len(b)) > limit {
			return nil, &refusal{http.StatusRequestEntityTooLarge, fmt.Sprintf("a file is larger than %d MB: leave out what is not the course or the record", s.limits.file>>20)}
		}
		if p.FileName() == "" {
			f.values[p.FormName()] = string(b)
		} else if len(b) > 0 {
			// The name is shown and never used as a path.
			f.files[p.FormName()] = &file{text.Clean(path.Base(strings.ReplaceAll(p.FileName(), "\\", "/"))), b}
		}
	}
}

func (s *Server) tooMuch(err error) error {
	var big *http.MaxBytesError
	if errors.As(err, &big) {
		return &refusal{http.StatusRequestEntityTooLarge, fmt.Sprintf("the files together are larger than %d MB", s.limits.upload>>20)}
	}
	return &refusal{http.StatusBadRequest, "the form cannot be read to its end"}
}

// apply lays a form over an input and gives a new one.
func (f *form) apply(old *input) *input {
	in := *old
	in.Closures = append([]Closure(nil), old.Closures...)
	for name, to := range map[string]**file{"course": &in.Course, "record": &in.Record, "sheet": &in.Sheet} {
		if x := f.files[name]; x != nil {
			*to = x
			in.demo = false
		}
	}
	for name, to := range map[string]*string{
		"width": &in.Fields.Width, "radius": &in.Fields.Radius, "official": &in.Fields.Official, "watch": &in.Fields.Watch,
		"goal": &in.Fields.Goal, "every": &in.Fields.Every, "athlete": &in.Fields.Athlete, "units": &in.Fields.Units,
	} {
		if v, ok := f.values[name]; ok {
			*to = strings.TrimSpace(v)
		}
	}
	if _, ok := f.values["settings"]; ok { // a box that is not ticked is not sent
		in.Fields.Said, in.Fields.Certified = true, f.values["certified"] != ""
	}
	return &in
}
