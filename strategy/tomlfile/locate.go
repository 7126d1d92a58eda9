package tomlfile

import (
	"errors"
	"fmt"
	"sort"

	"github.com/pelletier/go-toml/v2/unstable"
)

// maxDepth is how many tables, lists and dots of a key may nest; no file of
// ours nests deeper than four.
const maxDepth = 24

// syntaxAdvice helps with the slip that people make most.
const syntaxAdvice = `write key = value, with texts and units in quotes: width = "8 m"`

// locate walks the syntax of the file and notes where each key stands.
func (f *File) locate(data []byte) error {
	f.spots = map[string]spot{}
	l := locator{file: f, starts: []int{0}, count: map[string]int{}}
	for i, b := range data {
		if b == '\n' {
			l.starts = append(l.starts, i+1)
		}
	}
	var p unstable.Parser
	p.Reset(data)
	for p.NextExpression() {
		var err error
		switch n := p.Expression(); n.Kind {
		case unstable.KeyValue:
			err = l.keyValue(l.table, n, 1)
		case unstable.Table, unstable.ArrayTable:
			err = l.head(n)
		}
		if err != nil {
			return err
		}
	}
	var bad *unstable.ParserError
	if err := p.Error(); errors.As(err, &bad) {
		s := l.at(p.Range(bad.Highlight))
		return f.errAt(s.line, s.column, bad.Message, syntaxAdvice)
	} else if err != nil {
		return f.errAt(0, 0, err.Error(), syntaxAdvice)
	}
	return nil
}

// locator notes the places of keys in a file while it walks its syntax.
type locator struct {
	file   *File
	starts []int          // offsets at which lines begin
	count  map[string]int // tables met so far of each [[list]]
	table  string         // path of the table that the walk is in
}

func (l *locator) at(r unstable.Range) spot {
	line := sort.SearchInts(l.starts, int(r.Offset)+1)
	return spot{line, int(r.Offset) - l.starts[line-1] + 1}
}

// note keeps the first place of a path.
func (l *locator) note(path string, s spot) {
	if _, seen := l.file.spots[path]; !seen {
		l.file.spots[path] = s
	}
}

func (l *locator) tooDeep(s spot) error {
	return l.file.errAt(s.line, s.column, "the file nests too deeply", fmt.Sprintf("use at most %d tables, lists and dots inside each other", maxDepth))
}

// head enters the table of a line such as [road] or [[stretch]].
func (l *locator) head(n *unstable.Node) error {
	l.table = ""
	var first spot
	parts := 0
	for it := n.Key(); it.Next(); parts++ {
		if parts == 0 {
			first = l.at(it.Node().Raw)
		}
		if parts > maxDepth {
			return l.tooDeep(first)
		}
		l.table = join(l.table, string(it.Node().Data))
		if it.IsLast() && n.Kind == unstable.ArrayTable {
			l.count[l.table]++
		}
		if k := l.count[l.table]; k > 0 {
			l.note(l.table, first)
			l.table = fmt.Sprintf("%s[%d]", l.table, k-1)
		}
		l.note(l.table, first)
	}
	return nil
}

// keyValue notes a key below prefix, each part of it, and what its value holds.
func (l *locator) keyValue(prefix string, n *unstable.Node, depth int) error {
	path, first, parts := prefix, spot{}, 0
	for it := n.Key(); it.Next(); parts++ {
		if parts == 0 {
			first = l.at(it.Node().Raw)
		}
		if depth+parts > maxDepth {
			return l.tooDeep(first)
		}
		path = join(path, string(it.Node().Data))
		l.note(path, first)
	}
	return l.value(path, n.Value(), first, depth+parts)
}

// value notes where the value of path stands and what it holds; s is the place
// of its key, for values that the parser gives no place.
func (l *locator) value(path string, n *unstable.Node, s spot, depth int) error {
	if depth > maxDepth {
		return l.tooDeep(s)
	}
	if n.Raw.Length > 0 {
		s = l.at(n.Raw)
		l.file.spots[path] = s
	}
	switch n.Kind {
	case unstable.Array:
		return l.array(path, n, s, depth)
	case unstable.InlineTable:
		for it := n.Children(); it.Next(); {
			if it.Node().Kind != unstable.KeyValue {
				continue
			}
			if err := l.keyValue(path, it.Node(), depth+1); err != nil {
				return err
			}
		}
	}
	return nil
}

func (l *locator) array(path string, n *unstable.Node, s spot, depth int) error {
	i := 0
	for it := n.Children(); it.Next(); {
		if it.Node().Kind == unstable.Comment {
			continue
		}
		element := fmt.Sprintf("%s[%d]", path, i)
		l.note(element, s)
		if err := l.value(element, it.Node(), s, depth+1); err != nil {
			return err
		}
		i++
	}
	return nil
}

func join(path, key string) string {
	if path == "" {
		return key
	}
	return path + "." + key
}
