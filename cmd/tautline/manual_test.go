package main

import (
	"bytes"
	"fmt"
	"os/exec"
	"regexp"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"
	"os"
	"path/filepath"
)

func TestTheManualHoldsEverything(t *testing.T) {
	page := printed(t, "manual")
	plain := strings.NewReplacer(`\-`, "-", `\(aq`, "'", "\n", " ").Replace(page)
	if got := printed(t, "manual"); got != page {
		t.Error("two manuals differ")
	}
	for _, section := range []string{"NAME", "SYNOPSIS", "DESCRIPTION", "SUBCOMMANDS", `"EXIT STATUS"`, "ENVIRONMENT", "FILES", "EXAMPLES", "CAUTIONS"} {
		if strings.Count(page, "\n.SH "+section+"\n") != 1 {
			t.Errorf("there is not one section %s", section)
		}
	}
	options, defaults := 0, 0
	for _, d := range definitions() {
		if !strings.Contains(plain, " .SS tautline "+d.name) {
			t.Errorf("%s is missing", d.name)
		}
		_, part, _ := strings.Cut(plain, " .SS tautline "+d.name)
		part, _, _ = strings.Cut(part, " .S")
		for _, o := range d.options {
			options++
			head := `.TP \fB--` + o.name + `\fR`
			if o.value != "" {
				head += ` \fI` + o.value + `\fR`
			}
			_, text, found := strings.Cut(part, head+" ")
			if !found {
				t.Errorf("--%s of %s is missing", o.name, d.name)
				continue
			}
			text, _, _ = strings.Cut(text, " .TP")
			if o.standard != "" {
				defaults++
				if !strings.Contains(text, "(default: "+o.standard+")") {
					t.Errorf("--%s of %s does not say its default %s: %s", o.name, d.name, o.standard, text)
				}
			}
		}
	}
	if options < 100 || defaults < 4 {
		t.Errorf("only %d options and %d defaults", options, defaults)
	}
	for _, m := range exitMeanings {
		if !strings.Contains(plain, `\fB`+m[0]+`\fR `+m[1]) {
			t.Errorf("exit status %s is missing", m[0])
		}
	}
	if !strings.Contains(plain, cautions) {
		t.Error("the cautions are missing")
	}
	macro := regexp.MustCompile(`^\.(TH|SH|SS|PP|TP|RS|RE|nf|fi|B|I|RI)( |$)`)
	for i, l := range strings.Split(strings.TrimSuffix(page, "\n"), "\n") {
		if (strings.HasPrefix(l, ".") && !macro.MatchString(l)) || strings.HasPrefix(l, "'") || l == "" {
			t.Errorf("line %d would be taken for a macro: %q", i+1, l)
		}
		for _, r := range l {
			if r < ' ' || r > '~' {
				t.Errorf("line %d is not plain: %q", i+1, l)
			}
		}
	}
}

func TestFormattersFindNoFaultInTheManual(t *testing.T) {
	page := printed(t, "manual")
	found := false
	for _, c := range [][]string{{"mandoc", "-T", "lint", "-W", "warning"}, {"groff", "-man", "-ww", "-Tutf8"}} {
		path, err := exec.LookPath(c[0])
		if err != nil {
			continue
		}
		found = true
		var out, errs bytes.Buffer
		x := exec.Command(path, c[1:]...)
		x.Stdin, x.Stdout, x.Stderr = strings.NewReader(page), &out, &errs
		err = x.Run()
		if c[0] == "mandoc" { // its messages are its output
			errs.Write(out.Bytes())
		}
		if err != nil || errs.Len() > 0 {
			t.Errorf("%s: %v: %s", c[0], err, errs.String())
		}
		if c[0] == "groff" && !strings.Contains(out.String(), "wet-bulb") {
			t.Error("the formatted page lacks what it was given")
		}
	}
	if !found {
		t.Skip("neither mandoc nor groff is installed")
	}
}

func TestRoffTakesNoTextForAMacro(t *testing.T) {
	for _, c := range []struct{ text, want string }{
		{".html is a page", `\&.html is a page`}, {"'tis", `\(aqtis`}, {`a\b`, `a\eb`}, {"21 °C", `21 \[u00B0]C`}, {"give --race", `give \-\-race`}, {"km/h ~ 3", `km/h \(ti 3`},
	} {
		if got := roff(c.text); got != c.want {
			t.Errorf("%q became %q, want %q", c.text, got, c.want)
		}
	}
}

// TestManualExamples runs every example, in order and in one folder.
func TestManualExamples(t *testing.T) {
	var script strings.Builder
	for _, x := range examples {
		fmt.Fprintf(&script, "exec %s\n", strings.ReplaceAll(x.line, `"`, "'"))
		for _, m := range written.FindAllStringSubmatch(x.line, -1) {
			fmt.Fprintf(&script, "exists %s\n", m[1])
		}
	}
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "manual.txtar"), []byte(script.String()), 0o644); err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{Dir: dir})
}
