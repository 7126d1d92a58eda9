package main

import (
	"bytes"
	"context"
	"io"
	"net/http"
	"strings"
	"testing"
	"time"
)

// firstLine gives the first line that is written to it to whoever waits.
type firstLine struct {
	buffer bytes.Buffer
	line   chan string
}

func (f *firstLine) Write(p []byte) (int, error) {
	f.buffer.Write(p)
	if line, _, ok := strings.Cut(f.buffer.String(), "\n"); ok {
		select {
		case f.line <- line:
		default:
		}
	}
	return len(p), nil
}

func TestServePrintsItsAddressAndEndsInOrder(t *testing.T) {
	ctx, interrupt := context.WithCancel(context.Background())
	defer interrupt()
	out := &firstLine{line: make(chan string, 1)}
	var errs bytes.Buffer
	status := make(chan int, 1)
	go func() {
		status <- run(ctx, []string{"serve", "--address", "127.0.0.1:0"}, strings.NewReader(""), out, &errs)
	}()
	var url string
	select {
	case url = <-out.line:
	case s := <-status:
		t.Fatalf("it ended with %d: %s", s, &errs)
	case <-time.After(time.Minute):
		t.Fatal("no address was printed")
	}
	if !strings.HasPrefix(url, "http://127.0.0.1:") {
		t.Errorf("the address is %q", url)
	}
	res, err := http.Get(url)
	if err != nil {
		t.Fatal(err)
	}
	page, err := io.ReadAll(res.Body)
	_ = res.Body.Close()
	if err != nil || res.StatusCode != http.StatusOK || !bytes.Contains(page, []byte("My last race")) {
		t.Errorf("the page gave %d, %v", res.StatusCode, err)
	}
	http.DefaultClient.CloseIdleConnections()
	interrupt()
	select {
	case s := <-status:
		if s != exitDone {
			t.Errorf("an interrupt ended it with %d: %s", s, &errs)
		}
	case <-time.After(time.Minute):
		t.Fatal("an interrupt did not end it")
	}
	if _, err := http.Get(url); err == nil {
		t.Error("it still answers")
	}
}
