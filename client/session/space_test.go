package session

import (
	"strings"
	"testing"

	"hod/client/journal"
)

func TestADeviceThatRunsOutOfSpaceSaysSoEarlyAndFetchesNothingMoreOfOthers(t *testing.T) {
	const mib = 1 << 20
	for _, c := range []struct {
		name   string
		is     journal.Space
		quota  int64
		closed bool
		says   string
	}{
		{"much room", journal.Space{Used: 10 * mib, Free: 4000 * mib}, 0, false, ""},
		{"a disk that says nothing", journal.Space{Used: 10 * mib, Free: -1}, 0, false, ""},
		{"a large record on a disk that says nothing", journal.Space{Used: 900 * mib, Free: -1}, 0, false, ""},
		{
			"at its quota on a disk that says nothing",
			journal.Space{Used: 9 * mib, Free: -1},
			9 * mib, true,
			"HOD_QUOTA",
		},
		{"near the quota", journal.Space{Used: 81 * mib, Free: 4000 * mib}, 100 * mib, false, "81 MiB of the 100 MiB"},
		{"at the quota", journal.Space{Used: 100 * mib, Free: 4000 * mib}, 100 * mib, true, "HOD_QUOTA"},
		{"at half of the disk", journal.Space{Used: 501 * mib, Free: 500 * mib}, 0, true, "as much as it may"},
		{"the disk soon full", journal.Space{Used: 10 * mib, Free: 200 * mib}, 0, false, "before it is full"},
		{
			"the disk nearly full",
			journal.Space{Used: 10 * mib, Free: 60 * mib},
			0, true,
			"What you write is kept all the same",
		},
		{"a disk with nothing left", journal.Space{Used: 10 * mib}, 0, true, "0 bytes left"},
	} {
		got := roomOf(c.is, c.quota)
		if got.Closed != c.closed || !strings.Contains(got.Notice, c.says) || c.says == "" && got.Notice != "" {
			t.Errorf("%s: %+v, want closed %v and %q", c.name, got, c.closed, c.says)
		}
	}
}
