package main

import (
	"bytes"
	"fmt"
	"testing"
)

// An interrupt may come while progress stands on the line: its message must not
// be written behind it.
func TestAMessageTakesThePlaceOfProgress(t *testing.T) {
	var out bytes.Buffer
	w := &oneAtATime{w: &out}
	show := progressOf(w, "lines")
	show(1, 3)
	fmt.Fprintln(w, "tautline: interrupted")
	fmt.Fprintln(w, "and more")
	show(3, 3)
	fmt.Fprint(w, wipe)
	fmt.Fprintln(w, "done")
	want := wipe + "1 of 3 lines" + wipe + "tautline: interrupted\nand more\n" + wipe + "3 of 3 lines" + wipe + "done\n"
	if got := out.String(); got != want {
		t.Errorf("the terminal gets %q, want %q", got, want)
	}
}
