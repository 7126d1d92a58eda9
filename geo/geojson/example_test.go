package geojson_test

import (
	"fmt"
	"os"
	"strings"

	"tautline/geo/earth"
	"tautline/geo/geojson"
)

func ExampleReadKerbs() {
	_, err := geojson.ReadKerbs("kerbs.geojson", strings.NewReader(`{"type": "LineString",
  "coordinates": [[47.5, 111.2], [47.6, 111.3]]}`))
	fmt.Println(err)
	// Output:
	// kerbs.geojson:2:19: position [47.5, 111.2] is not on earth (give longitude before latitude, in degrees; check that they are not swapped and not in metres)
}

func ExampleWrite() {
	geojson.Write(os.Stdout, []geojson.Feature{{
		Points:     []earth.LatLon{{Lat: 47.5, Lon: 11.5}, {Lat: 47.6, Lon: 11.5}},
		Properties: map[string]any{"side": "left"},
	}})
	// Output:
	// {"type":"FeatureCollection","features":[
	// {"type":"Feature","properties":{"side":"left"},"geometry":{"type":"LineString","coordinates":[[11.5,47.5],[11.5,47.6]]}}
	// ]}
}
