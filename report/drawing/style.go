package drawing

import (
	_ "embed"
	"html/template"
)

// Style is the style sheet of the drawings.
//
//go:embed drawing.css
var Style string

// Defs holds the patterns that the drawings refer to. A page has it once.
const Defs template.HTML = `<svg class="defs" width="0" height="0" aria-hidden="true"><defs><pattern id="shut" width="5" height="5" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><path class="shut-stroke" d="M0 0V5"/></pattern></defs></svg>`
