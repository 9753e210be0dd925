package device

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"syscall"

	"github.com/spf13/cobra"

	"hod/client/journal"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
)

// export writes the record, or what of it the server is not known to have, into a file that a person carries.
type export struct {
	file   string
	unsent bool
}

// exportEnding is that of files of a record.
const exportEnding = ".hodlog"

// NewExport makes hod export.
func NewExport(env *session.Env) *cobra.Command {
	var x export
	c := env.NewCommand("export FILE", "Write the record into a file to carry by hand, or to keep",
		"hod export /media/stick/tuesday.hodlog --unsent", "hod export vault.hodlog   # all that this device holds")
	c.Long = "Whoever imports the file on a device that has a network brings the events to the server. " +
		"They are signed by the devices that wrote them, so nobody can change them on the way; anybody can read them."
	c.Args = terminal.ExactArgs(1, "the name of a new file; "+exportEnding+" is put to one without an ending")
	c.Flags().BoolVar(&x.unsent, "unsent", false, "only what the server is not known to have")
	c.RunE = func(c *cobra.Command, args []string) error {
		if x.file = args[0]; filepath.Ext(x.file) == "" {
			x.file += exportEnding
		}
		return session.Run(c.Context(), env, func(s *session.Session) error { return x.run(c.Context(), s) })
	}
	return c
}

// exported is the document hod.export.v1.
type exported struct {
	File     string   `json:"file"`
	Site     string   `json:"site"`
	Whole    bool     `json:"whole"`
	Segments int      `json:"segments"`
	Events   uint64   `json:"events"`
	Devices  []inFile `json:"devices"`
	Digest   string   `json:"digest"` // SHA-256 of the file before its last 32 bytes
}

type inFile struct {
	Device string `json:"device"`
	First  uint64 `json:"first"`
	Last   uint64 `json:"last"`
}

func (x export) run(ctx context.Context, s *session.Session) error {
	from, err := x.starts(ctx, s)
	if err != nil {
		return err
	}
	if len(from) == 0 {
		if !x.unsent {
			return terminal.NotFoundf("this device holds no event yet; nothing was written")
		}
		return terminal.NotFoundf(
			"all that this device holds is at the server: nothing waits to be carried, and nothing was written. `hod export FILE` writes all of it")
	}
	doc := exported{File: x.file, Site: s.Device.Site, Whole: !x.unsent}
	if err := newFile(x.file, func(w io.Writer) error { return x.write(ctx, s, w, from, &doc) }); err != nil {
		return err
	}
	return s.Env.Print("export", doc, func(w io.Writer) {
		fmt.Fprintf(w, "%s of %s in %s\n", terminal.Plural(int(doc.Events), "event", "events"),
			terminal.Plural(len(doc.Devices), "device", "devices"), doc.File)
		for _, d := range doc.Devices {
			fmt.Fprintf(w, "  %s/%d to %d\n", d.Device, d.First, d.Last)
		}
		fmt.Fprintf(w, "Digest %s\n", doc.Digest)
		if x.unsent {
			fmt.Fprintf(w,
				"On a device with a network: hod import %s. Until it has synced, these events still count as waiting here.\n", terminal.ShellQuote(doc.File))
		}
	})
}

// starts are the heads after which each device's record goes into the file; the site's own first, since its enrolments
// let the others in.
func (x export) starts(ctx context.Context, s *session.Session) ([]chain.Head, error) {
	heads, err := s.Journal.Heads(ctx)
	if err != nil {
		return nil, err
	}
	var from []chain.Head
	for _, h := range heads {
		after := chain.Head{Device: h.Device, Chain: chain.Root(s.Device.Site, h.Device)}
		if x.unsent {
			if after, err = x.unsentAfter(ctx, s, after); err != nil {
				return nil, err
			}
		}
		if after.Seq >= h.Seq {
			continue
		}
		if h.Device == s.Device.Root {
			from = slices.Insert(from, 0, after)
		} else {
			from = append(from, after)
		}
	}
	return from, nil
}

// unsentAfter is what the server is known to have of a device's record. Where it has another history than this device,
// all goes along: what of it the server lacks, it finds out.
func (x export) unsentAfter(ctx context.Context, s *session.Session, root chain.Head) (chain.Head, error) {
	for _, known := range s.Contact.Server {
		if known.Device != root.Device {
			continue
		}
		mine, err := s.Journal.Head(ctx, known.Device)
		if err != nil {
			return root, err
		}
		if known.Seq > mine.Seq {
			return known, nil
		}
		if here, ok, err := s.Journal.HeadAt(ctx, known.Device, known.Seq); err != nil || (ok && here == known) {
			return here, err
		}
	}
	return root, nil
}

func (x export) write(ctx context.Context, s *session.Session, to io.Writer, from []chain.Head, doc *exported) error {
	w, err := archive.NewWriter(to, archive.Header{
		Site: s.Device.Site, Whole: !x.unsent, Root: s.Device.Root,
		RootKey: s.Device.RootKey,
	})
	if err != nil {
		return err
	}
	add := func(seg chain.Segment) error {
		doc.Segments++
		return w.Add(seg)
	}
	if x.unsent && from[0].Device != s.Device.Root {
		// Whom the site enrolled goes along, so that the file can be verified where there is nothing else.
		enrolments := chain.Head{Device: s.Device.Root, Chain: chain.Root(s.Device.Site, s.Device.Root)}
		if err := offered(ctx, s.Journal, enrolments, func(seg chain.Segment) error {
			if slices.ContainsFunc(seg.Events, enrols) {
				return add(seg)
			}
			return nil
		}); err != nil {
			return err
		}
	}
	for _, after := range from {
		if err := offered(ctx, s.Journal, after, add); err != nil {
			return err
		}
	}
	closing, err := w.Close()
	if err != nil {
		return err
	}
	doc.Digest = closing.Digest.String()
	for _, r := range closing.Index {
		doc.Devices = append(doc.Devices, inFile{string(r.Device), r.First, r.Last})
		doc.Events += r.Last - r.First + 1
	}
	return nil
}

func enrols(e event.Event) bool {
	_, ok := e.Body.(event.DeviceEnrolled)
	return ok
}

// offered gives the segments of a device's record after a head, all of them.
func offered(ctx context.Context, j *journal.Journal, after chain.Head, do func(chain.Segment) error) error {
	for {
		segments, err := j.Offer(ctx, after.Device, after)
		if err != nil || len(segments) == 0 {
			return err
		}
		for _, seg := range segments {
			if err := do(seg); err != nil {
				return err
			}
			after = seg.After
		}
	}
}

// newFile writes a file that was not there before, flushed, wholly or not at all.
func newFile(path string, write func(io.Writer) error) error {
	if _, err := os.Lstat(path); err == nil {
		return terminal.Usagef("%s is there already; it was left as it is: name a new file", terminal.Safe(path))
	}
	// The name is drawn by chance and made anew, so that nothing that lies in the folder, a link least of all, is
	// written to.
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return carried(path, err)
	}
	part := f.Name()
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = named(part, path)
	}
	if err != nil {
		_ = os.Remove(part) // what is left of it is of no use
		return carried(path, err)
	}
	return nil
}

// named gives a finished file its name, unless something has taken that name meanwhile.
func named(part, path string) error {
	switch err := os.Link(part, path); {
	case err == nil:
		return os.Remove(part)
	case errors.Is(err, fs.ErrExist):
		return terminal.Usagef("%s is there by now; it was left as it is: name a new file", terminal.Safe(path))
	}
	// A stick's file system may know no second name for a file.
	if _, err := os.Lstat(path); err == nil {
		return terminal.Usagef("%s is there by now; it was left as it is: name a new file", terminal.Safe(path))
	}
	return os.Rename(part, path)
}

// carried says why a file that a person carries could not be read or written.
func carried(path string, err error) error {
	var file *fs.PathError
	var link *os.LinkError
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return terminal.NotFoundf("there is no %s; see how the stick is called here", terminal.Safe(path))
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return &terminal.Error{
			Kind: terminal.Disk,
			Msg:  fmt.Sprintf("%s may not be read or written by this user; choose another place", terminal.Safe(path)),
			Err:  err,
		}
	case errors.Is(err, syscall.ENOSPC):
		return &terminal.Error{
			Kind: terminal.Disk,
			Msg: fmt.Sprintf("the disk that is to hold %s is full; nothing was written: make room, or choose another",
				terminal.Safe(path)), Err: err,
		}
	case errors.As(err, &file), errors.As(err, &link):
		return &terminal.Error{
			Kind: terminal.Disk,
			Msg:  fmt.Sprintf("%s cannot be read or written (%v); try another place", terminal.Safe(path), err),
			Err:  err,
		}
	}
	return err
}
