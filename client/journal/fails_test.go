//go:build unix

package journal

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"hod/internal/chain"
	"hod/internal/event"
)

// Each write, flush and truncation below SQLite fails once, by a disk that is full or broken, while a device writes,
// reads others' events and stores contacts. What was said to be kept is kept, nothing else is, the same process goes on
// once the disk does, and so does the next one.
func TestEachCallToTheDiskFailsOnceAndTheJournalLosesNothingThatItTold(t *testing.T) {
	tried, refused := 0, 0
	every := 1
	if testing.Short() {
		every = 7
	}
	for k := 1; ; k += every {
		dir := filepath.Join(t.TempDir(), "hod")
		disk := watch(t, dir)
		j, err := Create(dir, deviceNamed("n2"))
		if err != nil {
			t.Fatal(err)
		}
		if _, err := j.conn.ExecContext(t.Context(), `pragma wal_autocheckpoint = 4`); err != nil {
			t.Fatal(err)
		}
		other := inMemory(t, "n3")
		disk.failAt(k)
		var told []string
		step := func(i int) {
			if i%3 == 2 {
				appendNotes(t, other, fmt.Sprint("other's ", i))
				segs, err := other.Offer(t.Context(), "n3", chain.Head{})
				if err != nil {
					t.Fatal(err)
				}
				if _, err := j.Keep(t.Context(), segs...); err == nil {
					told = slices.DeleteFunc(told, func(s string) bool { return strings.HasPrefix(s, "n3/") })
					for _, e := range segs[0].Events {
						told = append(told, e.Name.String())
					}
				} else {
					refused++
				}
				_ = j.SetContact(t.Context(), Contact{At: noon})
				return
			}
			written, err := j.Append(t.Context(), noon, note(fmt.Sprint(i)), note(strings.Repeat("x", 900)))
			if err != nil {
				refused++
				return
			}
			for _, e := range written {
				told = append(told, e.Name.String())
			}
		}
		for i := range 6 {
			step(i)
		}
		hit := disk.failed()
		if _, err := j.Append(t.Context(), noon, note("once the disk goes on")); err != nil {
			t.Fatalf("call %d: the same process does not go on: %v", k, err)
		}
		told = append(told, namesOf(t, j, "n2")[len(namesOf(t, j, "n2"))-1])
		for _, by := range []string{"the same process", "the next one"} {
			var got []string
			for _, d := range []event.Device{"n2", "n3"} {
				got = append(got, namesOf(t, j, d)...)
			}
			slices.Sort(told)
			slices.Sort(got)
			if !slices.Equal(got, told) {
				t.Fatalf("call %d (%s): told %v were kept, and %s holds %v", k, disk.what, told, by, got)
			}
			if by == "the next one" {
				break
			}
			if err := j.Close(); err != nil {
				t.Fatal(err)
			}
			if j, err = Open(dir); err != nil {
				t.Fatalf("call %d (%s): %v", k, disk.what, err)
			}
		}
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
		if !hit {
			break
		}
		tried++
	}
	t.Logf("%d calls failed, %d commands heard of it", tried, refused)
	if tried < 100/every || refused < 40/every {
		t.Errorf("%d calls failed, %d commands heard of it", tried, refused)
	}
}

// namesOf are the names of a device's events, in order.
func namesOf(t *testing.T, j *Journal, d event.Device) (names []string) {
	t.Helper()
	events, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range events {
		if e.Device == d {
			names = append(names, e.Name.String())
		}
	}
	return names
}
