// Package printed is the frame of the pages that are made to be printed: a file
// that needs nothing from elsewhere, under a policy that makes sure that
// nothing in a name could ask for it, and the look that they share.
package printed

import "html/template"

// Style is the look of a framed sheet of A4 or letter. The margin and the size
// of the paper are the page's own.
const Style = `html { color: #000; background: #fff; font: 9.5pt/1.35 Helvetica, Arial, "Liberation Sans", sans-serif }
body { margin: 0 auto; max-width: 186mm; padding: 4mm; border: 0.18mm solid #000 }
h1 { font-size: 13pt; margin: 0 0 2mm; padding-bottom: 1.5mm; border-bottom: 0.35mm solid #000 }
p { margin: 0 0 0.8mm }
`

// Page is the template of a page with this style sheet and body. What it is
// executed with has a Title; style and body may refer to the rest. It panics
// when they cannot be parsed, since they are part of the program.
func Page(name, style, body string) *template.Template {
	return template.Must(template.New(name).Parse(`<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<meta name="viewport" content="width=device-width">
<title>{{.Title}}</title>
<style>
` + style + `</style>
</head>
<body>
` + body + `</body>
</html>
`))
}
