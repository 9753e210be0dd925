package web

import (
	"hod/internal/printable"
	"html/template"
	"io"
	"log"
	"net/url"
)

// sheet is what goes around a page's body.
type sheet struct {
	Site, Here, Word, Root, Until, Says string
	Pages                               []page
	Zones, Cautions                     []string
	Body                                template.HTML
	Style                               template.CSS
	Turn                                int // seconds after which the page asks for itself again
}

// Name and Title are for the frame.
func (p page) Name() string { return p.name }

// Title of the page where pages are offered; empty if it is reached from another.
func (p page) Title() string { return p.title }

const style template.CSS = `
:root { color-scheme: light dark; --line: #8886; --urgent: #b00020; --soon: #8a3ffc; }
@media (prefers-color-scheme: dark) { :root { --urgent: #ff6b6b; --soon: #c8a2ff; } }
body { font: 1rem/1.45 system-ui, sans-serif; margin: 0 auto; padding: .75rem; max-width: 68rem; }
h1 { font-size: 1.35rem; margin: .5rem 0; } h2 { font-size: 1.05rem; margin: 1.4rem 0 .3rem; }
p { margin: .3rem 0; overflow-wrap: anywhere; } p.in { padding-left: 1.2rem; }
nav a { display: inline-block; padding: .45rem .7rem .45rem 0; } nav [aria-current] { font-weight: 700; color: inherit; text-decoration: none; }
.wide { overflow-x: auto; margin: .6rem 0; }
table { border-collapse: collapse; } th, td { text-align: left; padding: .3rem .8rem .3rem 0; border-bottom: 1px solid var(--line); vertical-align: top; }
.right { text-align: right; font-variant-numeric: tabular-nums; white-space: nowrap; }
.urgent { color: var(--urgent); } .soon { color: var(--soon); }
footer { margin-top: 2rem; border-top: 1px solid var(--line); font-size: .85rem; }
`

var frame = template.Must(template.New("frame").Funcs(template.FuncMap{"escaped": url.PathEscape, "clean": printable.Line}).Parse(`<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
{{if .Turn}}<meta http-equiv="refresh" content="{{.Turn}}">
{{end}}<title>{{if .Site}}{{.Site | clean}}: {{.Here}}{{else}}hod{{end}}</title>
<style>{{.Style}}</style>
</head>
<body>
{{if .Says}}<p>{{.Says}}</p>
{{else}}<nav aria-label="pages">{{range .Pages}}{{if .Title}}<a href="{{$.Root}}{{.Name}}"{{if eq .Name $.Here}} aria-current="page"{{end}}>{{.Title}}</a> {{end}}{{end}}</nav>
{{if .Zones}}<nav aria-label="zones">{{range .Zones}}<a href="{{$.Root}}zone/{{. | escaped}}"{{if and (eq $.Here "zone") (eq . $.Word)}} aria-current="page"{{end}}>{{. | clean}}</a> {{end}}</nav>
{{end}}<main>
{{.Body}}</main>
<footer>
<p>For reading only. This page asks for itself again every {{.Turn}} seconds; the link holds until {{.Until}}.</p>
{{range .Cautions}}<p>{{.}}</p>
{{end}}
</footer>
{{end}}</body>
</html>
`))

// nobody is where net/http's own lines go: they quote what strangers send.
func nobody() *log.Logger { return log.New(io.Discard, "", 0) }
