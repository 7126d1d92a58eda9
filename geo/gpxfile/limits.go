package gpxfile

// What a file may ask of us. A marathon recorded every second with every
// extension a watch can write has about 15 000 points and 10 MB; a course
// drawn every metre has 42 000 points. The limits leave room for a hundred
// times that and keep a hostile file from filling the memory.
const (
	// MaxBytes is the size of a file.
	MaxBytes = 256 << 20
	// MaxPoints counts track points, route points and waypoints together.
	MaxPoints = 2_000_000
	// MaxParts counts tracks, segments and routes together.
	MaxParts = 100_000
	// MaxDepth is how deep elements may be nested, extensions included.
	MaxDepth = 32
	// MaxToken is the length in bytes of one text, tag or comment.
	MaxToken = 1 << 20
	// MinHeight and MaxHeight in metres enclose every road on earth with some
	// room for a barometer that was never set. A height outside is left out.
	MinHeight, MaxHeight = -1000, 10000
	// MinYear is the first year that a time is believed from; receivers
	// without a clock write year 1 or 1899.
	MinYear = 1900
)

// chunk is how many points go through the GPX library at a time. Its
// structures take some 700 bytes a point, ours 48, so a large file is handed
// over in pieces and each piece let go at once.
const chunk = 4096
