package web

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"html/template"
	"regexp"
	"strings"

	"hod/internal/report"
	"hod/internal/report/picture"
)

//go:embed style.css
var sheetStyle string

//go:embed live.js
var scriptFile string

// style is that of pages and pictures; script is the file without its indents, as it is sent.
var (
	style  = sheetStyle + picture.Style
	script = strings.TrimSpace(regexp.MustCompile(`(?m)^ +`).ReplaceAllString(scriptFile, ""))
)

// Frame is what goes around a page's body.
type Frame struct {
	Site, Here, Root, Until, Says string
	Now                           int64 // by the record's clock, seconds
	Cautions                      []string
	Body                          template.HTML
	Style                         template.CSS
	Script                        template.JS
	Turn                          int  // seconds after which the page asks for itself again where no script runs
	Alone                         bool // a file of its own: nothing to ask for again
	Links                         [][2]string
}

var frame = template.Must(template.New("frame").Funcs(template.FuncMap{"clean": report.Clean}).Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
{{if .Turn}}<noscript><meta http-equiv="refresh" content="{{.Turn}}"></noscript>
{{end}}<title>{{if .Site}}{{.Site | clean}}: {{.Here}}{{else}}hod{{end}}</title>
<style>{{.Style}}</style>
</head>
{{if .Says}}<body><main><p>{{.Says}}</p></main></body>
{{else}}<body{{if .Turn}} data-now="{{.Now}}" data-root="{{.Root}}"{{end}}>
<a class="skip" href="#main">to the content</a>
{{if .Turn}}<nav class="bar" aria-label="way back">{{if eq .Here "now"}}<a href="#more">all pages</a>{{else}}<a href="{{.Root}}now">now</a><a href="#more">all pages</a>{{end}}<p id="live" role="status"></p></nav>
<p id="age"></p>
<noscript><p>This page asks for itself again every {{.Turn}} seconds.</p></noscript>
{{end}}<main id="main" tabindex="-1">
{{.Body}}</main>
{{if .Links}}<nav class="more" id="more" aria-label="all pages">{{range .Links}}<a href="{{$.Root}}{{index . 0}}"{{if eq (index . 0) $.Here}} aria-current="page"{{end}}>{{index . 1}}</a>{{end}}</nav>
{{end}}<footer>
<p>For reading only.{{if .Until}} The link holds until {{.Until}}.{{end}}</p>
{{range .Cautions}}<p>{{.}}</p>
{{end}}</footer>
{{if .Turn}}<script>{{.Script}}</script>
{{end}}</body>
{{end}}</html>
`))

// sourceOf names a style or a script in a policy by its digest.
func sourceOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

// Headers go with every answer.
var Headers = map[string]string{
	"Content-Security-Policy": "default-src 'none'; style-src '" + sourceOf(style) + "'; script-src '" + sourceOf(script) +
		"'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'",
	"Referrer-Policy":        "no-referrer", // the address is the key
	"X-Content-Type-Options": "nosniff",
	"Cache-Control":          "no-store",
	"X-Robots-Tag":           "noindex",
}

// File is a page's body as a file of its own, which needs nothing else.
func File(site, title, body string) ([]byte, error) {
	f := Frame{Site: site, Here: title, Alone: true, Cautions: cautions, Body: template.HTML(body)} //nolint:gosec // the report escapes every text, which its tests show
	if site == "" {
		f.Site = "hod"
	}
	return f.text()
}
