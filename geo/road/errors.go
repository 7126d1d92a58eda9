package road

import "fmt"

// Rule names what a Spec breaks.
type Rule string

// The rules a Spec must keep.
const (
	RuleNumber     Rule = "a number that is one"               // NaN or infinite
	RuleWidth      Rule = "a width that can be"                // not in (0, 200]
	RuleRadius     Rule = "a radius that can be"               // not in [0, 100]
	RuleClearance  Rule = "a clearance that fits"              // negative, or nothing left between the edges
	RuleOnCourse   Rule = "a place on the course"              // chainage off the drawn course
	RuleOrder      Rule = "an order"                           // from after to, finish before start
	RuleAgree      Rule = "stretches that agree"               // overlapping stretches contradict each other
	RulePart       Rule = "a part of the road that is there"   // lane edges in the wrong order or off the road
	RuleKind       Rule = "a known kind"                       // unknown EdgeKind, Part, TurnKind
	RuleTurnaround Rule = "a turn-around where the road turns" // no turning back near the place given
	RuleKerb       Rule = "a kerb beside the course"           // drawn kerb too short, too far or crossing
)

// Item says which list of a Spec an Error points into.
type Item string

// The lists of a Spec. ItemSpec is the Spec itself, with index -1.
const (
	ItemSpec       Item = "road"
	ItemStretch    Item = "stretch"
	ItemGate       Item = "gate"
	ItemTurnaround Item = "turn-around"
	ItemKerb       Item = "drawn kerb"
)

// Error says which rule a Spec breaks and where, so that the reader of a race
// sheet can add file, line and column.
type Error struct {
	Rule   Rule
	Item   Item
	Index  int    // zero-based place in the list, -1 for the Spec itself
	Other  int    // the other stretch of a contradiction, else -1
	Field  string // name of the Go field, such as "Width" or "From"
	What   string // lower case, no full stop
	Advice string // what to do next
}

// Error gives one line: where, what and what to do.
func (e *Error) Error() string {
	where := string(e.Item)
	if e.Index >= 0 {
		where = fmt.Sprintf("%s %d", e.Item, e.Index+1)
	}
	s := where + ": " + e.What
	if e.Other >= 0 {
		s += fmt.Sprintf(" (the other is %s %d)", e.Item, e.Other+1)
	}
	if e.Advice != "" {
		s += " (" + e.Advice + ")"
	}
	return s
}

// Warning says that something was repaired while the road was built.
type Warning struct {
	At   float64 // chainage, m
	What string  // lower case, no full stop
}
