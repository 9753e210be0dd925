package pages

import (
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/report/paper"
)

// PaperFlags are those of a command that puts what it shows on paper.
type PaperFlags struct {
	File string // where the PDF goes; "-" is the output, empty: no paper was asked for
	size string
}

// Register gives a command the flags --pdf and --paper.
func (f *PaperFlags) Register(c *cobra.Command) {
	c.Flags().StringVar(&f.File, "pdf", "", "write it as a PDF for paper into this `FILE`, or - for the output")
	c.Flags().StringVar(&f.size, "paper", "",
		"size of the PDF's sheets: letter or a4; without it letter for a job in feet and pounds, else a4")
}

// Check refuses a size of paper that there is none of, and one that nothing is printed on.
func (f *PaperFlags) Check() error {
	if f.size != "" && !slices.Contains(paper.Sizes, strings.ToLower(f.size)) {
		return terminal.Usagef("--paper %s is none of %s", terminal.Safe(f.size), strings.Join(paper.Sizes, ", "))
	}
	if f.size != "" && f.File == "" {
		return terminal.Usagef("--paper is the size of a PDF's sheets: name its file too, as in --pdf monday.pdf")
	}
	return nil
}

// Size is the one that was said, else the usual one of a system of units.
func (f *PaperFlags) Size(units string) paper.Size {
	if f.size != "" {
		return paper.Size(strings.ToLower(f.size))
	}
	return paper.SizeFor(units)
}

// Save writes the PDF. A file that is there is replaced once the new one is whole.
func (f *PaperFlags) Save(env *session.Env, p paper.Paper) error {
	if f.File == "-" {
		if _, err := env.Stdout.Write(p.PDF); err != nil {
			return &terminal.PrintError{Err: err}
		}
		return nil
	}
	path := f.File
	if filepath.Ext(path) == "" {
		path += ".pdf"
	}
	if err := replace(path, p.PDF); err != nil {
		return unwritten(path, err)
	}
	pages := 0
	for _, n := range p.Pages {
		pages += n
	}
	env.Tellf("%s is written, %s, %d kB", terminal.Safe(path), terminal.Plural(pages, "page", "pages"),
		(len(p.PDF)+999)/1000)
	return nil
}
