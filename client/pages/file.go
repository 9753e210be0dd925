package pages

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/chain"
	"hod/internal/report/leaf"
	"hod/internal/view/drawing"
	"hod/internal/web"
)

// Save writes a page as one file that needs nothing else: style and pictures are inside. A file that is there is
// replaced once the new one is whole; "-" is the command's output.
func Save(s *session.Session, path, title, digest, body string) error {
	text := web.File(s.Plan.Name, title, digest, body)
	if path == "-" {
		if _, err := s.Env.Stdout.Write(text); err != nil {
			return &terminal.PrintError{Err: err}
		}
		return nil
	}
	if filepath.Ext(path) == "" {
		path += ".html"
	}
	if err := replace(path, text); err != nil {
		return unwritten(path, err)
	}
	s.Env.Tellf("%s is written, %d kB", terminal.Safe(path), (len(text)+999)/1000)
	return nil
}

// replace what is at path by a whole file, or leave it as it was.
func replace(path string, text []byte) error {
	return replaceBy(path, func(w io.Writer) error {
		_, err := w.Write(text)
		return err
	})
}

// replaceBy what write writes. Until that is whole and on the disk it lies beside the path, under a name of its own.
func replaceBy(path string, write func(io.Writer) error) error {
	f, err := os.CreateTemp(filepath.Dir(path), filepath.Base(path)+".*.part")
	if err != nil {
		return err
	}
	err = write(f)
	if err == nil {
		err = f.Chmod(0o644)
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err == nil {
		err = os.Rename(f.Name(), path)
	}
	if err != nil {
		_ = os.Remove(f.Name()) // what is left of it is of no use
	}
	return err
}

// unwritten says why a file could not be written, and what would do.
func unwritten(path string, err error) error {
	says := "it could not be written"
	switch {
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		says = "that folder cannot be written to; name a file in another one"
	case errors.Is(err, fs.ErrNotExist):
		says = "there is no such folder; make it, or name a file in another one"
	case errors.Is(err, syscall.ENOSPC):
		says = "the disk is full; nothing of it was left there"
	case errors.Is(err, syscall.EISDIR), errors.Is(err, fs.ErrExist):
		says = "a folder has that name; name a file"
	}
	return &terminal.Error{Kind: terminal.Disk, Msg: terminal.Safe(path) + ": " + says, Err: err}
}

// NewRecord makes hod record.
func NewRecord(env *session.Env) *cobra.Command {
	file := ""
	var sheets PaperFlags
	c := env.NewCommand("record", "The whole record of the shell in one file to hand over, with its pictures",
		"hod record --pdf vault.pdf", "hod record --html vault.html")
	c.Long = "For each zone and coat what was placed when and of which batches, joints with their treatment, cure, weather, stock, " +
		"flags with their answers; on paper also the lots, and how a third party verifies it; on the page also the log. " +
		"The file needs no network and no other file; what it shows is this device's own copy, and it says how old that is."
	c.Flags().StringVar(&file, "html", "", "the `FILE` to write, or - for the output")
	sheets.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		if err := sheets.Check(); err != nil {
			return err
		}
		switch {
		case file == "" && sheets.File == "":
			return terminal.Usagef(
				"--pdf or --html is missing: it names the file to write, as in hod record --pdf vault.pdf")
		case file != "" && sheets.File != "":
			return terminal.Usagef("--pdf and --html are two files: say hod record once for each")
		}
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			if sheets.File != "" {
				return onPaper(c.Context(), s, sheets)
			}
			heads, err := s.Journal.Heads(c.Context())
			if err != nil {
				return err
			}
			digest := chain.Digest(s.Device.Site, heads).String()
			page := s.Page()
			page.HTML = true
			return Save(s, file, "record", digest, leaf.Record(drawing.RecordOf(s.Fold, s.Now, s.Location), page))
		})
	}
	return c
}
