package web

import (
	"crypto/sha256"
	_ "embed"
	"encoding/base64"
	"fmt"
	"html"
	"regexp"
	"strings"
	"unicode"

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

// Frame is what goes around a page's body. Its texts are cleaned and escaped; Body is a report's, which has escaped its
// own.
type Frame struct {
	Site, Here, Root, Until, Says string
	Authority                     string // the address of what is said of the site's own certificate
	Now                           int64  // by the record's clock, seconds
	Cautions                      []string
	Body                          string
	// seconds after which the page asks for itself again where no script runs; 0: it is a file of its own
	Turn  int
	Links [][2]string
	// in print alone: what the foot of each sheet has, and who signs
	Foot string
	Sign []string
}

// text of the page. It is put together by hand: a client that executed a template of the standard library would be a
// fifth larger, since the linker then keeps every method that a template might name.
func (f Frame) text() []byte {
	var b strings.Builder
	put := func(form string, args ...any) {
		for i, a := range args {
			if s, is := a.(string); is {
				args[i] = html.EscapeString(report.Clean(s))
			}
		}
		fmt.Fprintf(&b, form, args...)
	}
	put(
		"<!doctype html>\n<html lang=\"en\">\n<head>\n<meta charset=\"utf-8\">\n<meta name=\"viewport\" content=\"width=device-width, initial-scale=1\">\n")
	if f.Turn > 0 {
		put("<noscript><meta http-equiv=\"refresh\" content=\"%d\"></noscript>\n", f.Turn)
	}
	if f.Site == "" {
		put("<title>hod</title>\n")
	} else {
		put("<title>%s: %s</title>\n", f.Site, f.Here)
	}
	b.WriteString("<style>" + style + "</style>\n")
	if f.Foot != "" {
		b.WriteString("<style>" + f.footStyle() + "</style>\n")
	}
	b.WriteString("</head>\n")
	if f.Says != "" {
		put("<body><main><p>%s</p></main></body>\n</html>\n", f.Says)
		return []byte(b.String())
	}
	if f.Turn > 0 {
		put(
			"<body data-now=\"%d\" data-root=\"%s\" data-foot=\"%s\">\n<a class=\"skip\" href=\"#main\">to the content</a>\n<nav class=\"bar\" aria-label=\"way back\">", f.Now, f.Root,
			quoted(f.Foot))
		if f.Here != "now" {
			put("<a href=\"%snow\">now</a>", f.Root)
		}
		put(
			"<a href=\"#more\">all pages</a><p id=\"live\" role=\"status\"></p></nav>\n<p id=\"age\"></p>\n<noscript><p>This page asks for itself again every %d seconds.</p></noscript>\n", f.Turn)
	} else {
		put("<body>\n")
	}
	b.WriteString("<main id=\"main\" tabindex=\"-1\">\n" + f.Body + "</main>\n")
	if len(f.Sign) > 0 {
		b.WriteString("<div class=\"sign\" aria-hidden=\"true\">")
		for _, who := range f.Sign {
			put("<span>%s</span><span>date</span>", who)
		}
		b.WriteString("</div>\n")
	}
	f.foot(put)
	if f.Turn > 0 {
		b.WriteString("<script>" + script + "</script>\n")
	}
	put("</body>\n</html>\n")
	return []byte(b.String())
}

func (f Frame) foot(put func(form string, args ...any)) {
	if len(f.Links) > 0 {
		put("<nav class=\"more\" id=\"more\" aria-label=\"all pages\">")
		for _, l := range f.Links {
			current := `<a href="%s%s">%s</a>`
			if l[0] == f.Here {
				current = `<a href="%s%s" aria-current="page">%s</a>`
			}
			put(current, f.Root, l[0], l[1])
		}
		put("</nav>\n")
	}
	put("<footer>\n<p>For reading only.")
	if f.Until != "" {
		put(" The link holds until %s.", f.Until)
	}
	if f.Authority != "" {
		put(` <a href="%s">The site's own certificate</a>`, f.Authority)
	}
	put("</p>\n")
	for _, c := range f.Cautions {
		put("<p>%s</p>\n", c)
	}
	put("</footer>\n")
}

// File is a page's body as a file of its own, which needs nothing else. In print each sheet has the digest of what it
// rests on in its foot, where there is one, and the last has lines to sign.
func File(site, title, digest, body string) []byte {
	if site == "" {
		site = "hod"
	}
	return Frame{
		Site: site, Here: title, Cautions: cautions, Body: body, Sign: []string{"foreman", "inspector"},
		Foot: footOf(site, title, digest),
	}.text()
}

// footLetters of a site's name go beside the number of the sheet.
const footLetters = 48

// footOf is what each sheet of a page in print says of itself.
func footOf(site, what, digest string) string {
	if name := []rune(site); len(name) > footLetters {
		site = string(name[:footLetters-1]) + "…"
	}
	foot := site + "; " + what
	if digest != "" {
		foot += "; digest " + digest
	}
	return foot
}

// footStyle hands the foot to the style that all pages have. It is one of its own, since that style is named in the
// policy by its digest; the script says it anew where the page has changed.
func (f Frame) footStyle() string { return ":root{--foot:" + quoted(f.Foot) + "}" }

// sourceOf names a style or a script in a policy by its digest.
func sourceOf(text string) string {
	sum := sha256.Sum256([]byte(text))
	return "sha256-" + base64.StdEncoding.EncodeToString(sum[:])
}

// Headers go with every answer.
var Headers = map[string]string{
	"Content-Security-Policy": policy(style),
	"Referrer-Policy":         "no-referrer", // the address is the key
	"X-Content-Type-Options":  "nosniff",
	"Cache-Control":           "no-store",
	"X-Robots-Tag":            "noindex",
}

// policy lets a browser take these styles, the script, and nothing else but what the pages themselves answer.
func policy(styles ...string) string {
	var all strings.Builder
	for _, s := range styles {
		all.WriteString(" '" + sourceOf(s) + "'")
	}
	return "default-src 'none'; style-src" + all.String() + "; script-src '" + sourceOf(script) +
		"'; connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"
}

// quoted is a text as a string of CSS, in which each letter that could end it, or the style, is a number.
func quoted(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range report.Clean(s) {
		if c == ' ' || c < 0x80 && (unicode.IsLetter(c) || unicode.IsDigit(c)) {
			b.WriteRune(c)
		} else {
			fmt.Fprintf(&b, "\\%06x ", c) // the space belongs to the number
		}
	}
	b.WriteByte('"')
	return b.String()
}
