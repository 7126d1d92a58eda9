// Command truth writes the tables of DEVELOPERS.md that come from the tests:
// what was published elsewhere against ours, and how well the review tells
// simulated races.
//
//	go run .ci/truth.go                                 the published checks
//	go run .ci/truth.go -check                          whether they stand there as they are
//	go run .ci/truth.go -score 16 -score-seed 90000     the score as well
//
// Each table stands between two comments, which stay. The score takes minutes
// to hours; everything else is quick, and quicker when the tests have run before.
package main

import (
	"bufio"
	"bytes"
	"cmp"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"tautline/geo/published"
)

const (
	document = "DEVELOPERS.md"
	checks   = "<!-- published checks: go run .ci/truth.go -->"
	score    = "<!-- score: go run .ci/truth.go -score N -score-seed SEED -->"
	end      = "<!-- end -->"
)

func main() {
	check := flag.Bool("check", false, "only say whether the published checks stand in "+document+" as they are")
	n := flag.Int("score", 0, "simulated records for each `N` of the score's rows; 0 leaves the score as it is")
	seed := flag.Uint64("score-seed", 1, "first `SEED` of the score")
	long := flag.Int("score-long", 0, "simulated records for each row of marathons; 0 as many as for the others")
	only := flag.String("score-only", "", "rows of the score whose `NAME` holds this")
	flag.Parse()
	if flag.NArg() > 0 || *n < 0 || *long < 0 || *check && *n > 0 {
		flag.Usage()
		os.Exit(2)
	}
	if err := write(*check, *n, *long, *seed, *only); err != nil {
		fmt.Fprintln(os.Stderr, "truth:", err)
		os.Exit(1)
	}
}

func write(check bool, n, long int, seed uint64, only string) error {
	was, err := os.ReadFile(document)
	if err != nil {
		return err
	}
	table, err := publishedTable()
	if err != nil {
		return err
	}
	is, err := replace(was, checks, table)
	if err != nil {
		return err
	}
	if check {
		if !bytes.Equal(was, is) {
			return fmt.Errorf("%s does not hold the published checks as they are; run go run .ci/truth.go\n%s", document, firstDifference(was, is))
		}
		return nil
	}
	if n > 0 {
		table, err := scoreTable(n, long, seed, only)
		if err != nil {
			return err
		}
		// The score takes long: what was written meanwhile is kept.
		if was, err = os.ReadFile(document); err != nil {
			return err
		}
		if is, err = replace(was, score, table); err != nil {
			return err
		}
	}
	if bytes.Equal(was, is) {
		return nil
	}
	return os.WriteFile(document, is, 0o644)
}

// replace puts text between a comment and the next end.
func replace(in []byte, begin string, text string) ([]byte, error) {
	before, rest, ok := bytes.Cut(in, []byte(begin+"\n"))
	if !ok {
		return nil, fmt.Errorf("%s has no line %s", document, begin)
	}
	_, after, ok := bytes.Cut(rest, []byte(end+"\n"))
	if !ok {
		return nil, fmt.Errorf("%s has no line %s after %s", document, end, begin)
	}
	return slices.Concat(before, []byte(begin+"\n\n"+text+"\n"+end+"\n"), after), nil
}

func firstDifference(was, is []byte) string {
	a, b := strings.Split(string(was), "\n"), strings.Split(string(is), "\n")
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			return fmt.Sprintf("line %d\n  is        %s\n  should be %s", i+1, a[i], b[i])
		}
	}
	return fmt.Sprintf("%d lines, should be %d", len(a), len(b))
}

// checkingTests finds the tests that hold published figures: those that lead to
// a call of published.Check, by folder.
func checkingTests() (map[string][]string, error) {
	tests := map[string][]string{}
	calls := map[string]map[string][]string{} // folder, function, what it calls
	err := filepath.WalkDir(".", func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && path != "." && strings.HasPrefix(d.Name(), ".") {
			return filepath.SkipDir
		}
		folder := filepath.Dir(path)
		if !strings.HasSuffix(path, "_test.go") || filepath.ToSlash(folder) == "geo/published" {
			return nil
		}
		f, err := parser.ParseFile(token.NewFileSet(), path, nil, 0)
		if err != nil {
			return err
		}
		if calls[folder] == nil {
			calls[folder] = map[string][]string{}
		}
		for _, decl := range f.Decls {
			fn, ok := decl.(*ast.FuncDecl)
			if !ok {
				continue
			}
			ast.Inspect(fn, func(n ast.Node) bool {
				c, ok := n.(*ast.CallExpr)
				if !ok {
					return true
				}
				switch f := c.Fun.(type) {
				case *ast.SelectorExpr:
					if x, ok := f.X.(*ast.Ident); ok && x.Name == "published" && f.Sel.Name == "Check" {
						calls[folder][fn.Name.Name] = append(calls[folder][fn.Name.Name], "published.Check")
					}
				case *ast.Ident:
					calls[folder][fn.Name.Name] = append(calls[folder][fn.Name.Name], f.Name)
				}
				return true
			})
		}
		return nil
	})
	for folder, names := range calls {
		leads := map[string]bool{"published.Check": true}
		for grew := true; grew; {
			grew = false
			for name, called := range names {
				if !leads[name] && slices.ContainsFunc(called, func(c string) bool { return leads[c] }) {
					leads[name], grew = true, true
				}
			}
		}
		for name := range leads {
			if strings.HasPrefix(name, "Test") {
				tests[folder] = append(tests[folder], name)
			}
		}
	}
	return tests, err
}

// boring is what the log of tests says when nothing is wrong.
var boring = regexp.MustCompile(`^(=== |PASS|ok  )|--- PASS|\[rapid\] OK`)

// publishedTable runs the tests that hold published figures and tabulates them.
func publishedTable() (string, error) {
	tests, err := checkingTests()
	if err != nil {
		return "", err
	}
	if len(tests) == 0 {
		return "", errors.New("no test holds a published figure")
	}
	args := []string{"test", "-json", "-timeout", "10m", "-run"}
	var names, folders []string
	for folder, t := range tests {
		names = append(names, t...)
		folders = append(folders, "./"+filepath.ToSlash(folder))
	}
	slices.Sort(names)
	slices.Sort(folders)
	args = append(args, "^("+strings.Join(slices.Compact(names), "|")+")$")
	rows := map[string][]published.Row{}
	ran := map[string]bool{}
	var said strings.Builder
	err = run(append(args, folders...), func(line []byte) error {
		var e struct{ Action, Package, Test, Key, Value, Output string }
		if err := json.Unmarshal(line, &e); err != nil {
			return fmt.Errorf("%q: %w", line, err)
		}
		_, folder, _ := strings.Cut(e.Package, "/")
		switch {
		case e.Action == "attr" && e.Key == published.Attribute:
			var r published.Row
			if err := json.Unmarshal([]byte(e.Value), &r); err != nil {
				return err
			}
			if !slices.Contains(rows[folder], r) {
				rows[folder] = append(rows[folder], r)
			}
			test, _, _ := strings.Cut(e.Test, "/")
			ran[folder+"."+test] = true
		case e.Action == "build-output", e.Action == "output" && !boring.MatchString(e.Output):
			said.WriteString(e.Output)
		}
		return nil
	})
	if err != nil {
		return "", fmt.Errorf("%w\n%s", err, &said)
	}
	for folder, t := range tests {
		for _, name := range t {
			if !ran[filepath.ToSlash(folder)+"."+name] {
				return "", fmt.Errorf("%s in %s held no figure", name, folder)
			}
		}
	}
	return tabulate(rows), nil
}

func tabulate(rows map[string][]published.Row) string {
	var b strings.Builder
	count := map[published.Trust]int{}
	total := 0
	for _, rs := range rows {
		for _, r := range rs {
			count[r.Trust]++
			total++
		}
	}
	var kinds []string
	for _, k := range []published.Trust{published.Exact, published.Read, published.SecondMethod, published.Derived, published.SecondHand, published.CommonPractice, published.FromMemory} {
		if count[k] > 0 {
			kinds = append(kinds, fmt.Sprintf("%d %s", count[k], k))
		}
		delete(count, k)
	}
	for k, n := range count {
		kinds = append(kinds, fmt.Sprintf("%d %s", n, k))
	}
	fmt.Fprintf(&b, "%d figures, all of them within what is allowed: %s.\n", total, strings.Join(kinds, ", "))
	folders := make([]string, 0, len(rows))
	for f := range rows {
		folders = append(folders, f)
	}
	slices.Sort(folders)
	for _, folder := range folders {
		rs := rows[folder]
		slices.SortStableFunc(rs, func(x, y published.Row) int {
			return cmp.Or(cmp.Compare(x.Source, y.Source), natural(x.What, y.What), cmp.Compare(x.Published, y.Published))
		})
		fmt.Fprintf(&b, "\n`%s`\n\n| source | trust | figure | unit | published | ours | difference | allowed |\n|---|---|---|---|---:|---:|---:|---:|\n", folder)
		last := published.Row{}
		for _, r := range rs {
			source, trust := r.Source, string(r.Trust)
			if source == last.Source && r.Trust == last.Trust {
				source, trust = "", ""
			}
			last = r
			fmt.Fprintf(&b, "| %s |\n", strings.Join(cells(source, trust, r.What, r.Unit, r.Published, r.Ours, r.Difference, r.Allowed), " | "))
		}
	}
	return b.String()
}

func cells(c ...string) []string {
	for i := range c {
		c[i] = strings.NewReplacer("|", "\\|", "\n", " ").Replace(c[i])
	}
	return c
}

// natural orders texts with their numbers by size.
func natural(a, b string) int {
	for a != "" && b != "" {
		x, y := number(a), number(b)
		if x != "" && y != "" {
			p, _ := strconv.ParseFloat(x, 64)
			q, _ := strconv.ParseFloat(y, 64)
			if p != q {
				return cmp.Compare(p, q)
			}
			a, b = a[len(x):], b[len(y):]
			continue
		}
		if a[0] != b[0] {
			return cmp.Compare(a[0], b[0])
		}
		a, b = a[1:], b[1:]
	}
	return cmp.Compare(len(a), len(b))
}

// number is the number that a text begins with.
func number(s string) string {
	i := 0
	if strings.HasPrefix(s, "-") {
		i = 1
	}
	if i == len(s) || !unicode.IsDigit(rune(s[i])) {
		return ""
	}
	for i < len(s) && (unicode.IsDigit(rune(s[i])) || s[i] == '.' && i+1 < len(s) && unicode.IsDigit(rune(s[i+1]))) {
		i++
	}
	if _, err := strconv.ParseFloat(s[:i], 64); err != nil {
		return ""
	}
	return s[:i]
}

// run runs the Go command and hands on each line that it prints.
func run(args []string, line func([]byte) error) error {
	c := exec.Command("go", args...)
	c.Stderr = os.Stderr
	out, err := c.StdoutPipe()
	if err != nil {
		return err
	}
	if err := c.Start(); err != nil {
		return err
	}
	var bad error
	s := bufio.NewScanner(out)
	s.Buffer(nil, 1<<24)
	for s.Scan() {
		if bad == nil {
			bad = line(s.Bytes())
		}
	}
	_, rest := io.Copy(io.Discard, out)
	if err := c.Wait(); err != nil {
		return fmt.Errorf("go %s: %w", args[0], err)
	}
	return cmp.Or(bad, s.Err(), rest)
}

// told is a line of the score as the test logs it; lengths are in per cent of
// the course.
type told struct {
	Table, Name             string
	Tried, Cases            int
	RMSE, Bias, Held, Width float64
	SumRMSE, SumBias, Cheap float64
}

// scoreTable reviews simulated races and tabulates how well that went.
func scoreTable(n, long int, seed uint64, only string) (string, error) {
	var rows []told
	args := []string{"test", "./strategy/review", "-json", "-count", "1", "-timeout", "0", "-run", "^TestScore$",
		"-score", strconv.Itoa(n), "-score-long", strconv.Itoa(long), "-score-seed", strconv.FormatUint(seed, 10), "-score-only", only}
	err := run(args, func(line []byte) error {
		var e struct{ Action, Key, Value, Output string }
		if err := json.Unmarshal(line, &e); err != nil {
			return fmt.Errorf("%q: %w", line, err)
		}
		switch {
		case e.Action == "attr" && e.Key == "score":
			var r told
			if err := json.Unmarshal([]byte(e.Value), &r); err != nil {
				return err
			}
			rows = append(rows, r)
			fmt.Fprintf(os.Stderr, "%s: %d cases, %.3f %%\n", r.Name, r.Cases, r.RMSE)
		case e.Action == "build-output", e.Action == "output" && strings.Contains(e.Output, "_test.go:"):
			fmt.Fprint(os.Stderr, e.Output)
		}
		return nil
	})
	if err != nil {
		return "", err
	}
	if len(rows) == 0 {
		return "", fmt.Errorf("no row of the score holds %q", only)
	}
	var b strings.Builder
	command := fmt.Sprintf("go run .ci/truth.go -score %d", n)
	if long > 0 {
		command += fmt.Sprintf(" -score-long %d", long)
	}
	command += fmt.Sprintf(" -score-seed %d", seed)
	if only != "" {
		command += fmt.Sprintf(" -score-only %q", only)
	}
	tried, cases := 0, 0
	for _, r := range rows {
		if r.Table == "record" {
			tried, cases = tried+r.Tried, cases+r.Cases
		}
	}
	fmt.Fprintf(&b, "`%s`: %d simulated records, %d of them refused.\n", command, tried, tried-cases)
	last := ""
	for _, r := range rows {
		if r.Table != last {
			last = r.Table
			fmt.Fprintf(&b, "\n| %s | cases | RMSE | bias | held | width / RMSE | sum of fixes, RMSE | its bias | mean surplus taken off |\n|---|---:|---:|---:|---:|---:|---:|---:|---:|\n", r.Table)
		}
		if r.Cases == 0 {
			fmt.Fprintf(&b, "| %s | 0 | | | | | | | |\n", r.Name)
			continue
		}
		fmt.Fprintf(&b, "| %s | %d | %.3f | %+.3f | %.2f | %.1f | %.3f | %+.3f | %.3f |\n", r.Name, r.Cases, r.RMSE, r.Bias, r.Held, r.Width/r.RMSE, r.SumRMSE, r.SumBias, r.Cheap)
	}
	return b.String(), nil
}
