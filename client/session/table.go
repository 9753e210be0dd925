package session

import (
	"bytes"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/terminal"
	"hod/internal/report/csvtable"
)

// TableFlags are those of a command that can show what it shows as CSV.
type TableFlags struct {
	CSV   bool
	Table string // which of its tables; empty: the usual one
}

// Register gives a command the flags --csv and --table.
func (t *TableFlags) Register(c *cobra.Command) {
	c.Flags().BoolVar(&t.CSV, "csv", false,
		"one of its tables as CSV, for a spreadsheet; deploy/csv.md names the columns")
	c.Flags().StringVar(&t.Table, "table", "", "which `TABLE`, with --csv; one that there is none of names them all")
}

// asked is a table that was asked for.
type asked struct {
	name string
	in   *time.Location
}

// ShowTable has what is shown next shown as CSV, where that was asked for.
func (t TableFlags) ShowTable(s *Session) error {
	if t.Table != "" && !t.CSV {
		return terminal.Usagef("--table is one of the tables of --csv: say both, as in --csv --table %s",
			terminal.Safe(t.Table))
	}
	if !t.CSV {
		return nil
	}
	if s.Env.JSON {
		return terminal.Usagef("--csv and --json are two forms: leave one out")
	}
	s.Env.table = &asked{t.Table, s.Location}
	return nil
}

// AsTable tells whether what is shown is a table and nothing else.
func (env *Env) AsTable() bool { return env.table != nil }

// usualTable of a view, where that is not its first.
var usualTable = map[string]string{
	"day": "zones", "weather-view": csvtable.Summary, "next": csvtable.Summary, "flag": csvtable.Summary,
}

// writeTable writes the table of a view that was asked for.
func (env *Env) writeTable(thing string, doc any) error {
	tables := csvtable.Of(doc)
	want := env.table.name
	if want == "" {
		want = usualTable[thing]
	}
	names := make([]string, 0, len(tables))
	for _, t := range tables {
		names = append(names, t.Name)
	}
	if env.table.name == "" && len(names) > 1 {
		env.Hintf("--table names another: %s", strings.Join(names, ", "))
	}
	for i, t := range tables {
		if t.Name == want || want == "" && i == 0 {
			var b bytes.Buffer
			if err := t.Write(&b, env.table.in); err != nil {
				return err
			}
			if _, err := env.Stdout.Write(b.Bytes()); err != nil {
				return &terminal.PrintError{Err: err}
			}
			return nil
		}
	}
	return terminal.Usagef("--table %s: there are %s", terminal.Safe(want), strings.Join(names, ", "))
}
