package web

import (
	"net/http"
	"strconv"
	"strings"

	"hod/internal/auth"
	"hod/internal/web"
)

// authorityPage is the address of what is said of the site's authority, from the page at that path under a link; empty
// where browsers know the certificate of the pages.
func (w *Web) authorityPage(path string) string {
	if len(w.config.Authority) == 0 {
		return ""
	}
	return "../../" + strings.Repeat("../", strings.Count(path, "/")) + "authority"
}

// authority answers with the certificate of the site's authority, to be installed, or says what it is and how it is
// compared.
func (w *Web) authority(to http.ResponseWriter, r *http.Request, name string) {
	switch name {
	case "":
		w.pages.Tell(to, r, web.Authority{File: "authority.crt", Certificate: w.config.Authority})
	case ".crt":
		for key, value := range web.Headers {
			to.Header().Set(key, value)
		}
		to.Header().Set("Content-Type", "application/x-x509-ca-cert")
		to.Header().Set("Content-Disposition",
			`attachment; filename="hod-`+auth.FingerprintOf(w.config.Authority).Words()[0]+`.crt"`)
		to.Header().Set("Content-Length", strconv.Itoa(len(w.config.Authority)))
		to.WriteHeader(http.StatusOK)
		if r.Method == http.MethodGet {
			_, _ = to.Write(w.config.Authority) // who no longer reads is not told so
		}
	default:
		w.refuse(to, r, http.StatusNotFound, string(notALink))
	}
}
