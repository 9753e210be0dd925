package main

import (
	"crypto/tls"
	"net"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// pagesFlags are how the pages are reached from outside.
type pagesFlags struct {
	address string // by which people reach them, host or host:port; empty: as devices reach this machine
	cert    string // PEM files of a certificate that browsers know; empty: the site's own authority
	key     string
	plain   string // where they are shown without TLS to a proxy on this machine; empty: nowhere
}

func (f pagesFlags) check() error {
	switch {
	case (f.cert == "") != (f.key == ""):
		return usage("--pages-cert and --pages-key go together: the certificate and its key, both PEM files")
	case f.plain != "" && f.cert != "":
		return usage(
			"--pages-plain shows the pages without TLS, so --pages-cert has no use: the proxy has the certificate")
	case f.plain != "" && f.address == "":
		return usage(
			"--pages-plain needs --pages-address, the name by which the proxy is reached, as in --pages-address pages.example")
	case strings.ContainsAny(f.address, "/ "):
		return usage(
			"--pages-address %q is not the name of a machine; one looks like pages.example or pages.example:443",
			f.address)
	}
	if f.plain == "" {
		return nil
	}
	host, _, err := net.SplitHostPort(f.plain)
	if ip := net.ParseIP(host); err != nil || host != "localhost" && (ip == nil || !ip.IsLoopback()) {
		return usage(
			"--pages-plain %s is not of this machine alone, and links would cross the network for all to read; it looks like 127.0.0.1:7423", f.plain)
	}
	return nil
}

// outside is the address in links: as it is said, with the port of the pages where none is said and no proxy has its
// own.
func (f pagesFlags) outside(host, port string) string {
	switch _, _, err := net.SplitHostPort(f.address); {
	case f.address == "":
		return net.JoinHostPort(host, port)
	case err == nil, f.plain != "":
		return f.address
	}
	return net.JoinHostPort(strings.Trim(f.address, "[]"), port)
}

// certificateFiles are a certificate and its key on disk, read anew when they change: what renews them need not tell
// the server.
type certificateFiles struct {
	cert, key string
	now       func() time.Time
	log       zerolog.Logger

	mu      sync.Mutex
	looked  time.Time
	changed [2]time.Time
	held    *tls.Certificate
}

// lookEvery is how often it is looked whether the files have changed.
const lookEvery = 5 * time.Second

// openCertificate reads the files once, so that a server does not start with what browsers would refuse.
func openCertificate(cert, key string, now func() time.Time, log zerolog.Logger) (*certificateFiles, error) {
	c := &certificateFiles{cert: cert, key: key, now: now, log: log}
	c.looked = now()
	c.changed = c.times()
	held, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		return nil, usage("--pages-cert %s with --pages-key %s: %v", cert, key, err)
	}
	c.held = &held
	return c, nil
}

func (c *certificateFiles) times() (all [2]time.Time) {
	for i, path := range []string{c.cert, c.key} {
		if is, err := os.Stat(path); err == nil {
			all[i] = is.ModTime()
		}
	}
	return all
}

// certificate is what the files hold now; what cannot be read keeps the one before in use, and is told in the log.
func (c *certificateFiles) certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	now := c.now()
	if since := now.Sub(c.looked); since >= 0 && since < lookEvery {
		return c.held, nil
	}
	c.looked = now
	times := c.times()
	if times == c.changed {
		return c.held, nil
	}
	held, err := tls.LoadX509KeyPair(c.cert, c.key)
	if err != nil { // half of the pair may be written so far: it is read again at the next look
		c.log.Warn().Err(err).Str("file",
			c.cert).Msg("the certificate of the pages has changed and cannot be read; the one before stays in use")
		return c.held, nil
	}
	c.changed, c.held = times, &held
	c.log.Info().Str("file", c.cert).Msg("the certificate of the pages was read anew")
	return c.held, nil
}
