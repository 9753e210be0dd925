package device

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/archive"
	"hod/internal/chain"
)

// importing takes in what a file holds, as if it had come from the server.
type importing struct{ file string }

// NewImport makes hod import.
func NewImport(env *session.Env) *cobra.Command {
	var m importing
	c := env.NewCommand("import FILE", "Take in a file that another device exported",
		"hod import /media/stick/tuesday.hodlog")
	c.Long = "It may be imported any number of times. Only what is signed by a device that the site enrolled is taken in; " +
		"the next sync brings to the server what it lacks. A file with damage gives what of it is whole, and the exit code 5."
	c.Args = terminal.ExactArgs(1, "the file")
	c.RunE = func(c *cobra.Command, args []string) error {
		m.file = args[0]
		return session.Run(c.Context(), env, func(s *session.Session) error { return m.run(c.Context(), s) })
	}
	return c
}

// imported is the document hod.import.v1. All but Why, Forks and Damage count events.
type imported struct {
	File     string   `json:"file"`
	Site     string   `json:"site"`
	New      int      `json:"new"`
	Repeated int      `json:"repeated"`
	Waiting  int      `json:"waiting"` // for what comes before them, or for their device's enrolment; kept nowhere
	Refused  int      `json:"refused"`
	Why      []string `json:"why,omitempty"`
	Forks    []string `json:"forks,omitempty"`
	Damage   []string `json:"damage,omitempty"`
}

const (
	takeAtOnce  = 128 // segments in one transaction: at most 8 MiB in memory
	maxPasses   = 64  // over a file whose order is against it
	maxSaid     = 20  // sentences of each sort
	maxVerified = 1 << 30
)

func (m importing) run(ctx context.Context, s *session.Session) error {
	events, err := s.Journal.Events(ctx)
	if err != nil {
		return err
	}
	t := taking{site: s, ring: s.Device.KeyRing(events)}
	doc := imported{File: m.file, Site: s.Device.Site}
	// A pass may bring the enrolment, or the start, that something earlier in the file waits for.
	for pass := range maxPasses {
		t.pass = passed{}
		if err := t.file(ctx, m.file); err != nil {
			return err
		}
		if pass == 0 {
			doc.Repeated = t.pass.repeated
		}
		doc.New += t.pass.fresh
		if t.pass.fresh == 0 || t.pass.waiting == 0 {
			break
		}
	}
	doc.Waiting, doc.Refused, doc.Why, doc.Forks, doc.Damage = t.pass.waiting, t.pass.refused, t.pass.why, t.pass.forks,
		t.pass.damage
	s.Wrote = doc.New > 0
	if err := s.Env.Print("import", doc, func(w io.Writer) { sayImported(w, doc) }); err != nil {
		return err
	}
	switch {
	case len(doc.Damage) > 0:
		return &terminal.Error{
			Kind: terminal.Disk,
			Msg: fmt.Sprintf("%s is damaged; what of it is whole was taken in: export it again where it came from",
				terminal.Safe(m.file)),
		}
	case doc.Refused > 0 || len(doc.Forks) > 0:
		return terminal.Refusedf("not all in %s was taken in; the rest was", terminal.Safe(m.file))
	}
	return nil
}

func sayImported(w io.Writer, doc imported) {
	fmt.Fprintf(w, "%d new, %d repeated, %d waiting, %d refused, from %s\n", doc.New, doc.Repeated, doc.Waiting,
		doc.Refused, doc.File)
	if doc.Waiting > 0 {
		fmt.Fprintln(w,
			"What waits needs what comes before it, or its device's enrolment: sync, or import that first, then import this again.")
	}
	for _, list := range [][]string{doc.Why, doc.Forks, doc.Damage} {
		for _, why := range list {
			fmt.Fprintln(w, why)
		}
	}
}

// taking is the way from a file into the journal.
type taking struct {
	site  *session.Session
	ring  *chain.KeyRing
	batch []chain.Segment
	pass  passed
}

// passed is what one pass over the file came to.
type passed struct {
	fresh, repeated, waiting, refused int
	why, forks, damage                []string
}

func (t *taking) file(ctx context.Context, path string) error {
	f, head, r, err := openExport(path)
	if err != nil {
		return err
	}
	defer f.Close()
	d := t.site.Device
	if head.Site != d.Site {
		return terminal.Refusedf("%s is of the site %q, this device is of %q; nothing was taken in",
			terminal.Safe(path), terminal.Safe(head.Site), d.Site)
	}
	if head.RootKey != nil && (head.Root != d.Root || !head.RootKey.Equal(d.RootKey)) {
		return terminal.Refusedf(
			"%s is of another site that is called %q, too: its root key is another one; nothing was taken in",
			terminal.Safe(path), d.Site)
	}
	closed := false
	for {
		if ctx.Err() != nil {
			return context.Cause(ctx)
		}
		p, err := r.Next()
		switch {
		case errors.Is(err, io.EOF):
			if !closed {
				t.pass.damaged("the file's end is missing: it was not closed")
			}
			return t.keep(ctx)
		case err != nil:
			return carried(path, err)
		case p.Segment != nil:
			err = t.segment(ctx, p)
		case p.Closing != nil:
			closed = true
			if !p.Closing.Sound {
				t.pass.damaged("the file's digest, from byte %d on, is not that of what is in it",
					p.At+p.Size-int64(len(p.Closing.Digest)))
			}
		default:
			t.pass.damaged("bytes %d to %d are not what was written", p.At, p.At+p.Size-1)
		}
		if err != nil {
			return err
		}
	}
}

func (t *taking) segment(ctx context.Context, p archive.Piece) error {
	seg, err := chain.ReadSegment(p.Segment)
	if err != nil {
		t.pass.damaged("the record at byte %d is no segment: %v", p.At, err)
		return nil
	}
	switch err := t.ring.Admit(seg); {
	case err == nil:
		t.batch = append(t.batch, seg)
	case errors.Is(err, chain.ErrNotEnrolled):
		t.pass.waiting += len(seg.Events)
	default:
		t.pass.refused += len(seg.Events)
		if len(t.pass.why) < maxSaid {
			t.pass.why = append(t.pass.why, fmt.Sprintf("refused, at byte %d: %v", p.At, err))
		}
	}
	if len(t.batch) >= takeAtOnce {
		return t.keep(ctx)
	}
	return nil
}

func (t *taking) keep(ctx context.Context) error {
	kept, err := t.site.Journal.Keep(ctx, t.batch...)
	if err != nil {
		return err
	}
	t.batch = t.batch[:0]
	t.pass.fresh += kept.New
	t.pass.repeated += kept.Repeated
	for _, seg := range kept.Waiting {
		t.pass.waiting += len(seg.Events)
	}
	for _, f := range kept.Forks {
		if len(t.pass.forks) < maxSaid {
			t.pass.forks = append(t.pass.forks,
				f.Error()+"; the file's history was not taken in, the next sync settles which one holds")
		}
	}
	return nil
}

func (p *passed) damaged(format string, args ...any) {
	if len(p.damage) < maxSaid {
		p.damage = append(p.damage, fmt.Sprintf(format, args...))
	}
}

// kindOf says what a path leads to that is no regular file.
func kindOf(m os.FileMode) string {
	switch {
	case m.IsDir():
		return "a folder"
	case m&os.ModeNamedPipe != 0:
		return "a pipe"
	case m&os.ModeSocket != 0:
		return "a socket"
	}
	return "a device"
}

// openExport opens a file and reads its header.
func openExport(path string) (*os.File, archive.Header, *archive.Reader, error) {
	// A pipe would be waited for without end.
	if info, err := os.Stat(path); err == nil && !info.Mode().IsRegular() {
		return nil, archive.Header{}, nil, terminal.Usagef("%s is no file but %s; name a file that `hod export` wrote",
			terminal.Safe(path), kindOf(info.Mode()))
	}
	f, err := os.Open(path)
	if err != nil {
		return nil, archive.Header{}, nil, carried(path, err)
	}
	head, r, err := archive.NewReader(f)
	if err == nil {
		return f, head, r, nil
	}
	_ = f.Close() // it was only read
	switch {
	case errors.Is(err, archive.ErrForeign), errors.Is(err, archive.ErrNewer):
		err = terminal.Usagef("%s cannot be read: %v", terminal.Safe(path), err)
	case errors.Is(err, archive.ErrHeader):
		err = &terminal.Error{
			Kind: terminal.Disk,
			Msg:  fmt.Sprintf("%s is damaged: %v; export it again where it came from", terminal.Safe(path), err),
			Err:  err,
		}
	default:
		err = carried(path, err)
	}
	return nil, archive.Header{}, nil, err
}
