package web

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"html"
	"net/http"
	"strings"

	"hod/internal/auth"
)

// Authority is the certificate of the site's authority as a page tells of it.
type Authority struct {
	File        string // the address of the certificate, from the page
	Certificate []byte // DER
}

// Tell answers with the page on the site's authority.
func (p *Pages) Tell(to http.ResponseWriter, r *http.Request, a Authority) {
	for name, value := range Headers {
		to.Header().Set(name, value)
	}
	p.write(to, r, http.StatusOK, Frame{Site: "hod", Here: "the site's certificate", Body: a.body()})
}

// body says what the certificate is for, and that its words are to be had from somebody, not from this page: who put
// himself between the phone and the server would show the words of his own.
func (a Authority) body() string {
	sum := sha256.Sum256(a.Certificate)
	digits := strings.ToUpper(hex.EncodeToString(sum[:]))
	var pairs []string
	for ; digits != ""; digits = digits[2:] {
		pairs = append(pairs, digits[:2])
	}
	words := auth.FingerprintOf(a.Certificate).Words()
	var b strings.Builder
	b.WriteString("<header class=\"top\"><h1>The site's own certificate</h1></header>\n")
	b.WriteString(
		"<p>A phone that installs it opens this site's pages without a question, and knows when it is another who answers.</p>\n")
	fmt.Fprintf(&b, "<p class=\"act calm\"><b>%s</b><span>%s</span></p>\n",
		html.EscapeString(strings.Join(words[:5], " ")), "<b>"+html.EscapeString(strings.Join(words[5:], " "))+"</b>")
	b.WriteString(
		"<p>These ten words are its fingerprint. <strong>Install it only if the foreman reads the same ten out to you</strong>, from what hodd or hod link shows. " +
			"This page alone proves nothing: whoever stands between the phone and the server would show his own.</p>\n")
	fmt.Fprintf(&b, "<p><a class=\"big\" href=\"%s\">Fetch the certificate</a></p>\n", html.EscapeString(a.File))
	b.WriteString(
		"<p>Android: Settings, Security, Encryption and credentials, Install a certificate, CA certificate. " +
			"iPhone: install the profile in Settings, then switch it on under General, About, Certificate Trust Settings. " +
			"It can be taken away there again; do so when the job is done, since a phone that trusts it trusts this server for any address.</p>\n")
	fmt.Fprintf(&b, "<p>The whole fingerprint, SHA-256, as a phone shows it: %s</p>\n", strings.Join(pairs, " "))
	return b.String()
}
