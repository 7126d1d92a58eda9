package serve

import (
	"bytes"
	"context"
	"net/http"
	"testing"
)

// FuzzForm sends any body as any form: it is refused or worked on, and the
// server never fails.
func FuzzForm(f *testing.F) {
	f.Add("application/x-www-form-urlencoded", []byte("task=last&width=8+m"))
	f.Add("multipart/form-data; boundary=b", []byte("--b\r\nContent-Disposition: form-data; name=\"task\"\r\n\r\nnext\r\n--b\r\nContent-Disposition: form-data; name=\"course\"; filename=\"../c\\\\d.gpx\"\r\n\r\n<gpx/>\r\n--b--\r\n"))
	f.Add("multipart/form-data; boundary=b", []byte("--b\r\nContent-Disposition: form-data; name=\"task\"\r\n\r\nmeasuring"))
	f.Add("multipart/form-data", []byte("--"))
	f.Add("multipart/mixed; boundary=\"", []byte{0, 255})
	f.Add("", []byte(nil))
	s, err := Listen(Options{Address: "127.0.0.1:0"})
	if err != nil {
		f.Fatal(err)
	}
	defer s.listener.Close()
	s.limits = limits{upload: 64 << 10, file: 32 << 10}
	s.work = func(_ context.Context, in *input, _ func(string)) (*result, *Problem, error) {
		_, p := raceSheet(in)
		return nil, p, nil
	}
	f.Fuzz(func(t *testing.T, kind string, body []byte) {
		w := ask(s, "POST", "/work", bytes.NewReader(body), header("Content-Type", kind))
		switch w.Code {
		case http.StatusSeeOther:
			if got := ask(s, "GET", w.Header().Get("Location"), nil).Code; got != http.StatusOK && got != http.StatusUnprocessableEntity {
				t.Errorf("the session gave %d", got)
			}
		case http.StatusBadRequest, http.StatusRequestEntityTooLarge:
		default:
			t.Errorf("gave %d: %.300s", w.Code, w.Body)
		}
	})
}
