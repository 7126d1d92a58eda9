package gpxfile_test

import (
	"fmt"
	"os"
	"strings"

	"tautline/geo/gpxfile"
)

func Example() {
	f, err := gpxfile.Read("mill.gpx", strings.NewReader(`<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1">
 <trk><trkseg>
  <trkpt lat="47.5" lon="11.5"><ele>12m</ele><time>2031-05-04T09:00:00.5+02:00</time></trkpt>
  <trkpt lat="47.5001" lon="11.5"><time>2031-05-04T09:00:01.5+02:00</time></trkpt>
 </trkseg></trk>
</gpx>`))
	if err != nil {
		fmt.Println(err)
		return
	}
	line, _, _ := f.Record()
	fmt.Println(len(line.Fixes()), line.Fixes()[0].Time)
	fmt.Println(f.Warnings[0])

	_, err = gpxfile.Read("mill.gpx", strings.NewReader("<gpx version='1.1'>\n<wpt lat='47,5' lon='11'/></gpx>"))
	fmt.Println(err)
	gpxfile.Write(os.Stdout, &gpxfile.File{Name: "Mill & brook"})
	// Output:
	// 2 2031-05-04 07:00:00.5 +0000 UTC
	// mill.gpx:3: the height "12m" cannot be used; its point has none
	// mill.gpx:2:1: lat="47,5" is not a number (write a decimal point, not a comma: 47.5)
	// <?xml version="1.0" encoding="UTF-8"?>
	// <gpx version="1.1" creator="tautline" xmlns="http://www.topografix.com/GPX/1/1">
	//  <metadata>
	//   <name>Mill &amp; brook</name>
	//  </metadata>
	// </gpx>
}
