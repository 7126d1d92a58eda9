package main

import (
	"regexp"
	"runtime"
	"runtime/debug"
	"strings"
	"testing"
)

func TestVersionSaysWhatItWasBuiltFrom(t *testing.T) {
	got := printed(t, "version")
	if !regexp.MustCompile(`^tautline `+regexp.QuoteMeta(release)+` \(commit [^()]+\) go[^ ]+ [^ ]+/[^ ]+\n$`).MatchString(got) || !strings.Contains(got, runtime.Version()) {
		t.Errorf("it says %q", got)
	}
	vcs := func(settings ...string) *debug.BuildInfo {
		var info debug.BuildInfo
		for i := 0; i < len(settings); i += 2 {
			info.Settings = append(info.Settings, debug.BuildSetting{Key: settings[i], Value: settings[i+1]})
		}
		return &info
	}
	for _, c := range []struct {
		name, commit string
		info         *debug.BuildInfo
		want         string
	}{
		{"a release", "abc123", vcs(), "commit abc123"},
		{"a checkout", "", vcs("vcs.revision", "def456", "vcs.modified", "false"), "commit def456"},
		{"a checkout with changes, in whatever order they are noted", "", vcs("vcs.modified", "true", "vcs.revision", "def456"), "commit def456 and changes"},
		{"a folder without a repository", "", vcs(), "commit not known"},
		{"a build that noted nothing", "", nil, "commit not known"},
	} {
		if got := builtFrom(c.commit, c.info); got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

// TestTheVersionIsTheNewestOfTheChanges holds the version to README.md.
func TestTheVersionIsTheNewestOfTheChanges(t *testing.T) {
	_, list, found := strings.Cut(readme(t), "\n## Changes\n")
	newest := regexp.MustCompile(`(?m)^### (\S+), (\d{4}-\d{2}-\d{2})$`).FindStringSubmatch(list)
	if !found || newest == nil || newest[1] != release || newest[2] != released {
		t.Errorf("the newest of the changes is %q, the program is %s of %s", newest, release, released)
	}
}
