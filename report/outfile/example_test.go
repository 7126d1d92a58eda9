package outfile_test

import (
	"fmt"
	"os"
	"path/filepath"

	"tautline/report/outfile"
)

// Files are planned while the work goes on and written together at its end.
func Example() {
	dir, err := os.MkdirTemp("", "")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	course := filepath.Join(dir, "course.gpx")
	if err := os.WriteFile(course, []byte("the only copy"), 0o644); err != nil {
		fmt.Println(err)
		return
	}

	var set outfile.Set
	set.Input(course)
	fmt.Println("over the course:", set.Check(course) != nil)

	line := filepath.Join(dir, "line.gpx")
	fmt.Println("beside it:", set.Check(line))
	set.Add(line, []byte("the shortest line"))
	_, err = os.Stat(line)
	fmt.Println("there before Write:", err == nil)
	fmt.Println("written:", set.Write())
	content, _ := os.ReadFile(line)
	fmt.Printf("%s\n", content)
	// Output:
	// over the course: true
	// beside it: <nil>
	// there before Write: false
	// written: <nil>
	// the shortest line
}
