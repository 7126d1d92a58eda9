package terrain_test

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"tautline/geo/earth"
	"tautline/geo/terrain"
)

func Example() {
	dir, err := os.MkdirTemp("", "tiles")
	if err != nil {
		fmt.Println(err)
		return
	}
	defer os.RemoveAll(dir)
	// A tile of 3 arc-seconds whose ground is at 256 m everywhere.
	tile := make([]byte, 2*1201*1201)
	for i := 0; i < len(tile); i += 2 {
		tile[i] = 1
	}
	if err := os.WriteFile(filepath.Join(dir, terrain.Name(47, 11)), tile, 0o644); err != nil {
		fmt.Println(err)
		return
	}

	tiles, err := terrain.Open(dir)
	if err != nil {
		fmt.Println(err)
		return
	}
	defer tiles.Close()
	height, err := tiles.Height(earth.LatLon{Lat: 47.3, Lon: 11.7})
	fmt.Println(height, err)
	_, err = tiles.Height(earth.LatLon{Lat: -0.5, Lon: 12})
	var missing *terrain.MissingError
	fmt.Println(errors.As(err, &missing), missing.Name)
	// Output:
	// 256 <nil>
	// true S01E012.hgt
}
