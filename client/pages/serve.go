package pages

import (
	"context"
	"encoding/base32"
	"errors"
	"fmt"
	"html"
	"io"
	"log"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"time"

	"github.com/rs/zerolog"
	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/web"
)

// serving is hod pages.
type serving struct {
	port      int
	noBrowser bool
}

// New makes hod pages.
func New(env *session.Env) *cobra.Command {
	var s serving
	c := env.NewCommand("pages",
		"The site's pages from this device's own copy, in its browser, with or without a network",
		"hod pages", "hod pages --port 7423 --no-browser")
	c.Long = "The pages are the server's, made from what this device holds. They follow what is written and synced here while they are open. " +
		"Only this device reaches them, as long as the command runs: Ctrl-C ends it."
	c.Flags().IntVar(&s.port, "port", 0, "`PORT` on 127.0.0.1; without it one that is free")
	c.Flags().BoolVar(&s.noBrowser, "no-browser", false, "only say the address")
	c.RunE = func(c *cobra.Command, _ []string) error {
		return session.RunReadOnly(c.Context(), env, func(open *session.Session) error {
			return s.run(c.Context(), open)
		})
	}
	return c
}

// served is the document hod.pages.v1.
type served struct {
	Address string `json:"address"`
}

func (s serving) run(ctx context.Context, open *session.Session) error {
	if s.port < 0 || s.port > 65535 {
		return terminal.Usagef("--port %d is no port; one is from 1 to 65535", s.port)
	}
	l, err := new(net.ListenConfig).Listen(ctx, "tcp", net.JoinHostPort("127.0.0.1", strconv.Itoa(s.port)))
	if err != nil {
		return terminal.Usagef("the pages cannot be shown at 127.0.0.1:%d: %s; name another --port, or none", s.port,
			reason(err))
	}
	secret := make([]byte, 10)
	if _, err := io.ReadFull(open.Env.Random, secret); err != nil {
		return errors.Join(err, l.Close())
	}
	root := "/" + strings.ToLower(base32.StdEncoding.EncodeToString(secret)) + "/"
	address := "http://" + l.Addr().String() + root
	err = open.Env.Print("pages", served{address}, func(w io.Writer) {
		fmt.Fprintln(w, address)
		fmt.Fprintln(w, "This device's own copy, for reading only, as long as this command runs: Ctrl-C ends it.")
	})
	if err != nil {
		return errors.Join(err, l.Close())
	}
	if !s.noBrowser && open.Env.StdoutTerminal {
		dir, err := open.Env.Folder()
		if err != nil {
			return errors.Join(err, l.Close())
		}
		if left := browse(ctx, dir, address); left != "" {
			defer os.Remove(left) //nolint:errcheck // its secret opens nothing once the command has ended
		}
	}
	return serve(ctx, open, l, root)
}

// reason of an error of the network, without the addresses around it.
func reason(err error) string {
	var system *net.OpError
	if errors.As(err, &system) && system.Err != nil {
		return system.Err.Error()
	}
	return err.Error()
}

// serve the pages on l until ctx ends.
func serve(ctx context.Context, open1 *session.Session, l net.Listener, root string) error {
	r, err := open(ctx, open1)
	if err != nil {
		return errors.Join(err, l.Close())
	}
	ctx, end := context.WithCancel(ctx)
	defer end()
	const slowest = 10 * time.Second
	server := &http.Server{
		Handler: handler(web.New(r, zerolog.Nop()), l.Addr().String(), root), ReadHeaderTimeout: slowest,
		IdleTimeout: time.Minute, MaxHeaderBytes: 16 << 10,
		ErrorLog: log.New(io.Discard, "", 0), BaseContext: func(net.Listener) context.Context { return ctx },
	}
	failed := make(chan error, 2)
	go func() { failed <- r.follow(ctx) }()
	go func() { failed <- server.Serve(l) }()
	var first error
	select {
	case first = <-failed:
	case <-ctx.Done():
	}
	end()
	ending, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	if server.Shutdown(ending) != nil {
		_ = server.Close()
	}
	if errors.Is(first, http.ErrServerClosed) {
		first = nil
	}
	return first
}

// handler answers questions that name the address by which this device reaches it: a page from elsewhere that was told
// another name for it is refused, and so is who does not know the secret.
func handler(pages *web.Pages, address, root string) http.Handler {
	_, port, _ := net.SplitHostPort(address)
	return http.HandlerFunc(func(to http.ResponseWriter, q *http.Request) {
		path, known := strings.CutPrefix(q.URL.Path, root)
		switch {
		case q.Host != address && q.Host != "localhost:"+port:
			pages.Refuse(to, q, http.StatusForbidden, "These pages are for this device alone.")
		case q.Method != http.MethodGet && q.Method != http.MethodHead:
			to.Header().Set("Allow", "GET, HEAD")
			pages.Refuse(to, q, http.StatusMethodNotAllowed, "These pages are for reading only.")
		case !known:
			pages.Refuse(to, q, http.StatusNotFound, "Open the address that hod pages says.")
		default:
			pages.Answer(to, q, web.Visit{
				Path:     path,
				Deadline: func() time.Time { return time.Now().Add(10 * time.Second) },
			})
		}
	})
}

// browse opens the address in the device's browser, where it has one that can be asked. What it leaves in dir is at the
// name that it gives, empty for nothing.
func browse(ctx context.Context, dir, address string) string {
	words, left := opener(dir, address, exec.LookPath)
	if len(words) > 0 {
		// the address is said; who has no browser opens it by hand
		_ = exec.CommandContext(ctx, words[0], words[1:]...).Start()
	}
	return left
}

// opener gives the words that ask for a browser, or none. Other users of the machine can read the words of a program
// that runs, so the address, which has the secret in it, stands in a file for this user alone that leads on to it.
// Android alone is given the address: there no app sees another's words, and none reads another's files. A browser that
// is confined to folders whose names begin with no dot cannot read the file; its user has the address from the
// terminal.
func opener(dir, address string, look func(string) (string, error)) (words []string, left string) {
	if path, err := look("termux-open-url"); err == nil {
		return []string{path, address}, ""
	}
	tries := []string{"xdg-open"}
	switch runtime.GOOS {
	case "darwin":
		tries = []string{"open"}
	case "windows":
		tries = []string{"rundll32", "url.dll,FileProtocolHandler"}
	}
	path, err := look(tries[0])
	if err != nil {
		return nil, ""
	}
	if left, err = leading(dir, address); err != nil {
		return nil, ""
	}
	return append(append([]string{path}, tries[1:]...), left), left
}

// leading writes a page for this user alone that leads on to the address, and gives its name.
func leading(dir, address string) (string, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return "", err
	}
	f, err := os.CreateTemp(dir, "pages-*.html") // readable by its owner only
	if err != nil {
		return "", err
	}
	at := html.EscapeString(address)
	_, err = fmt.Fprintf(f, `<!doctype html><meta charset="utf-8"><meta name="referrer" content="no-referrer">`+
		`<meta http-equiv="refresh" content="0;url=%s"><title>hod</title><p><a href="%s">The pages of this device</a></p>`+"\n", at, at)
	if err = errors.Join(err, f.Close()); err != nil {
		return "", errors.Join(err, os.Remove(f.Name()))
	}
	return f.Name(), nil
}
