// Command release makes the release: for every system one archive with the
// program, its manual page, its completions and the documents, and SHA256SUMS
// over all of them.
//
//	go run .ci/release.go FOLDER
//	go run .ci/release.go -only linux/amd64 FOLDER
//
// It builds the last commit, whatever the checkout holds beside it, and two runs
// at the same commit with the same Go version give the same bytes, wherever the
// checkout lies: no path, no time of the build and no state of the repository is
// in them. FOLDER must be new or empty.
package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"cmp"
	"compress/gzip"
	"crypto/sha256"
	"debug/elf"
	"errors"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

var systems = []string{"darwin/amd64", "darwin/arm64", "linux/amd64", "linux/arm64", "windows/amd64", "windows/arm64"}

func main() {
	only := flag.String("only", "", "`SYSTEM` to build for, such as linux/amd64, instead of all of them")
	flag.Parse()
	if flag.NArg() != 1 {
		fmt.Fprintln(os.Stderr, "usage: go run .ci/release.go [-only SYSTEM] FOLDER")
		os.Exit(2)
	}
	if err := release(flag.Arg(0), *only); err != nil {
		fmt.Fprintln(os.Stderr, "release:", err)
		os.Exit(1)
	}
}

// packed is a file of an archive.
type packed struct {
	name    string
	content []byte
	program bool
}

func release(folder, only string) error {
	wanted := systems
	if only != "" {
		if !slices.Contains(systems, only) {
			return fmt.Errorf("%s is not among %s", only, strings.Join(systems, ", "))
		}
		wanted = []string{only}
	}
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	if there, err := os.ReadDir(folder); err != nil || len(there) > 0 {
		return cmp.Or(err, fmt.Errorf("%s is not empty", folder))
	}
	source, err := os.MkdirTemp("", "release")
	if err != nil {
		return err
	}
	defer os.RemoveAll(source)
	if err := export(source); err != nil {
		return err
	}
	commit, when, err := head()
	if err != nil {
		return err
	}
	common, version, err := common(source, commit)
	if err != nil {
		return err
	}
	var sums strings.Builder
	for _, system := range wanted {
		program, err := build(source, commit, system)
		if err != nil {
			return err
		}
		if err := static(system, program); err != nil {
			return err
		}
		if bytes.Contains(program, []byte(source)) {
			return fmt.Errorf("%s: the folder of the build is in the program", system)
		}
		name, write, ending := "tautline", tarball, ".tar.gz"
		if strings.HasPrefix(system, "windows/") {
			name, write, ending = "tautline.exe", zipfile, ".zip"
		}
		stem := fmt.Sprintf("tautline-%s-%s", version, strings.ReplaceAll(system, "/", "-"))
		content, err := write(stem, append([]packed{{name, program, true}}, common...), when)
		if err != nil {
			return err
		}
		if err := os.WriteFile(filepath.Join(folder, stem+ending), content, 0o644); err != nil {
			return err
		}
		fmt.Fprintf(&sums, "%x  %s\n", sha256.Sum256(content), stem+ending)
		fmt.Printf("%-44s %5.1f MB, program %x\n", stem+ending, float64(len(content))/1e6, sha256.Sum256(program))
	}
	return os.WriteFile(filepath.Join(folder, "SHA256SUMS"), []byte(sums.String()), 0o644)
}

// head gives the commit that is checked out and its time.
func head() (commit string, when time.Time, err error) {
	id, err := output("", nil, "git", "rev-parse", "HEAD")
	if err != nil {
		return "", when, err
	}
	seconds, err := output("", nil, "git", "show", "-s", "--format=%ct", "HEAD")
	if err != nil {
		return "", when, err
	}
	unix, err := strconv.ParseInt(strings.TrimSpace(string(seconds)), 10, 64)
	return strings.TrimSpace(string(id)), time.Unix(unix, 0).UTC(), err
}

// build gives the program for a system, made from the source of a commit in a
// folder and from nothing else.
func build(source, commit, system string) ([]byte, error) {
	goos, goarch, _ := strings.Cut(system, "/")
	program := filepath.Join(source, ".program")
	// GOAMD64 and the like are set so that the builder's own settings do not
	// show; GOFLAGS likewise.
	env := []string{"CGO_ENABLED=0", "GOOS=" + goos, "GOARCH=" + goarch, "GOAMD64=v1", "GOARM64=v8.0", "GOFLAGS=", "GOEXPERIMENT=", "GOWORK=off"}
	if _, err := output(source, env, "go", "build", "-trimpath", "-buildvcs=false",
		"-ldflags", "-s -w -buildid= -X main.commit="+commit, "-o", program, "./cmd/tautline"); err != nil {
		return nil, err
	}
	return os.ReadFile(program)
}

// common gives the files that are the same on every system, among them what the
// program prints of itself, and the version that it says it is.
func common(source, commit string) (files []packed, version string, err error) {
	here, err := build(source, commit, runtime.GOOS+"/"+runtime.GOARCH)
	if err != nil {
		return nil, "", err
	}
	self := filepath.Join(source, ".self.exe")
	if err := os.WriteFile(self, here, 0o755); err != nil {
		return nil, "", err
	}
	for _, x := range []struct {
		name string
		args []string
	}{
		{"tautline.1", []string{"manual"}},
		{"completions/tautline.bash", []string{"completion", "bash"}},
		{"completions/_tautline", []string{"completion", "zsh"}},
		{"completions/tautline.fish", []string{"completion", "fish"}},
	} {
		b, err := output("", nil, self, x.args...)
		if err != nil {
			return nil, "", err
		}
		files = append(files, packed{x.name, b, false})
	}
	// README.md ends with the changes.
	for _, name := range []string{"README.md", "DEVELOPERS.md"} {
		b, err := os.ReadFile(filepath.Join(source, name))
		if err != nil {
			return nil, "", err
		}
		files = append(files, packed{name, b, false})
	}
	said, err := output("", nil, self, "version")
	if err != nil {
		return nil, "", err
	}
	found := regexp.MustCompile(`^tautline (\S+) \(commit ([0-9a-f]+)\) `).FindSubmatch(said)
	if found == nil || string(found[2]) != commit {
		return nil, "", fmt.Errorf("the program says %q, not the commit %s", said, commit)
	}
	return files, string(found[1]), nil
}

// output runs a command and gives what it prints.
func output(dir string, env []string, name string, args ...string) ([]byte, error) {
	c := exec.Command(name, args...)
	c.Dir, c.Stderr = dir, os.Stderr
	c.Env = append(os.Environ(), env...)
	out, err := c.Output()
	if err != nil {
		return nil, fmt.Errorf("%s %s: %w", filepath.Base(name), strings.Join(args, " "), err)
	}
	return out, nil
}

// export writes the files of the last commit to a folder.
func export(to string) error {
	archive, err := output("", nil, "git", "archive", "--format=tar", "HEAD")
	if err != nil {
		return err
	}
	root, err := os.OpenRoot(to)
	if err != nil {
		return err
	}
	defer root.Close()
	for r := tar.NewReader(bytes.NewReader(archive)); ; {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		switch h.Typeflag {
		case tar.TypeDir:
			err = root.MkdirAll(filepath.Clean(h.Name), 0o755)
		case tar.TypeReg:
			var b []byte
			if b, err = io.ReadAll(r); err == nil {
				err = root.WriteFile(h.Name, b, 0o644)
			}
		}
		if err != nil {
			return err
		}
	}
}

// static says whether a program needs anything else of its system. Programs for
// macOS and Windows always ask their system's own library.
func static(system string, program []byte) error {
	if !strings.HasPrefix(system, "linux/") {
		return nil
	}
	f, err := elf.NewFile(bytes.NewReader(program))
	if err != nil {
		return err
	}
	for _, p := range f.Progs {
		if p.Type == elf.PT_INTERP || p.Type == elf.PT_DYNAMIC {
			return fmt.Errorf("%s: the program is not static", system)
		}
	}
	return nil
}

func (p packed) mode() int64 {
	if p.program {
		return 0o755
	}
	return 0o644
}

func tarball(stem string, files []packed, when time.Time) ([]byte, error) {
	var b bytes.Buffer
	z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return nil, err
	}
	w := tar.NewWriter(z)
	for _, f := range files {
		h := &tar.Header{Name: stem + "/" + f.name, Mode: f.mode(), Size: int64(len(f.content)), ModTime: when, Format: tar.FormatUSTAR}
		if err := w.WriteHeader(h); err != nil {
			return nil, err
		}
		if _, err := w.Write(f.content); err != nil {
			return nil, err
		}
	}
	if err := errors.Join(w.Close(), z.Close()); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

func zipfile(stem string, files []packed, when time.Time) ([]byte, error) {
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, f := range files {
		h := &zip.FileHeader{Name: stem + "/" + f.name, Method: zip.Deflate, Modified: when}
		h.SetMode(os.FileMode(f.mode()))
		part, err := w.CreateHeader(h)
		if err != nil {
			return nil, err
		}
		if _, err := part.Write(f.content); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}
