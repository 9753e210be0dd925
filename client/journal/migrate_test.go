package journal

import (
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// withMigration has this program know a form more while the test lasts.
func withMigration(t *testing.T, text string) {
	t.Helper()
	was := migrations
	migrations = append(slices.Clone(was), migration{since: "2027-03-01", text: text})
	t.Cleanup(func() { migrations = was })
}

func TestAJournalIsCopiedBeforeItsFormIsChangedAndTheOlderProgramNamesWhatItNeeds(t *testing.T) {
	j := create(t, "n1")
	dir := j.dir
	appendNotes(t, j, "first", "second")
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	t.Run("newer", func(t *testing.T) {
		withMigration(t, `create table more (id integer primary key) strict`)
		for range 2 {
			j, err := Open(dir)
			if err != nil {
				t.Fatal(err)
			}
			if got := words(t, j); !slices.Equal(got, []string{"n1/1 first", "n1/2 second"}) {
				t.Errorf("it holds %v", got)
			}
			j.Close()
		}
		j, err := Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		appendNotes(t, j, "third")
		j.Close()
	})
	_, err := Open(dir)
	if kindOf(err) != Newer || !strings.Contains(err.Error(), "its form is 2, this program knows up to 1") ||
		!strings.Contains(err.Error(), "needs a hod of 2027-03-01 or later") {
		t.Errorf("the older program says %v", err)
	}
	// The way back: the copy, in the place of the journal.
	back := t.TempDir()
	for from, to := range map[string]string{dbFile + "-form1": dbFile, keyFile: keyFile} {
		text, err := os.ReadFile(filepath.Join(dir, from))
		if err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(back, to), text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	old, err := Open(back)
	if err != nil {
		t.Fatal(err)
	}
	defer old.Close()
	if got := words(t, old); !slices.Equal(got, []string{"n1/1 first", "n1/2 second"}) {
		t.Errorf("the copy holds %v", got)
	}
}

// What fails half-way leaves the journal as it was.
func TestAMigrationThatFailsLeavesTheJournalAsItWas(t *testing.T) {
	j := create(t, "n1")
	dir := j.dir
	appendNotes(t, j, "first")
	j.Close()
	t.Run("newer", func(t *testing.T) {
		withMigration(t, `create table more (id integer primary key) strict; insert into nowhere values (1)`)
		if _, err := Open(dir); err == nil {
			t.Error("a migration that cannot be is taken for done")
		}
	})
	old, err := Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer old.Close()
	if got := words(t, old); !slices.Equal(got, []string{"n1/1 first"}) {
		t.Errorf("it holds %v", got)
	}
}
