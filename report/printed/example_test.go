package printed_test

import (
	"os"

	"tautline/report/printed"
)

// Whatever a name holds stays text.
func ExamplePage() {
	page := printed.Page("greeting", "p { color: #000 }\n", "<p>Run well, {{.Name}}.</p>\n")
	_ = page.Execute(os.Stdout, struct{ Title, Name string }{"A greeting", "<Ines> & co"})
	// Output:
	// <!DOCTYPE html>
	// <html lang="en">
	// <head>
	// <meta charset="utf-8">
	// <meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
	// <meta name="viewport" content="width=device-width">
	// <title>A greeting</title>
	// <style>
	// p { color: #000 }
	// </style>
	// </head>
	// <body>
	// <p>Run well, &lt;Ines&gt; &amp; co.</p>
	// </body>
	// </html>
}
