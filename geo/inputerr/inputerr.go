// Package inputerr is the one form in which the program says that an input
// cannot be used: where it is wrong, what is wrong, what to do next.
package inputerr

import (
	"fmt"
	"strings"
)

// Error says that an input cannot be used.
type Error struct {
	File   string // as the user named it; "" when there is no file
	Line   int    // one-based, 0 when unknown
	Column int    // one-based, in bytes, 0 when unknown
	What   string // lower case, no full stop
	Advice string // what to do next, lower case, no full stop; may be ""
	Cause  error  // may be nil
}

// Error gives "file:line:column: what (advice)" on one line.
func (e *Error) Error() string {
	var b strings.Builder
	if e.File != "" {
		b.WriteString(e.File)
		if e.Line > 0 {
			fmt.Fprintf(&b, ":%d", e.Line)
			if e.Column > 0 {
				fmt.Fprintf(&b, ":%d", e.Column)
			}
		}
		b.WriteString(": ")
	} else if e.Line > 0 {
		fmt.Fprintf(&b, "line %d: ", e.Line)
	}
	b.WriteString(e.What)
	if e.Advice != "" {
		b.WriteString(" (" + e.Advice + ")")
	}
	return b.String()
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }
