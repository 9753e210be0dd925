// Package space says how much of a server's disk its stream and its archive may fill, how full they are, and whether
// new events can be taken.
//
// It promises that a server which is told to close at a quota is told to open again once there is room, and not to and
// fro at the limit; and that what it says names the quota, and what its operator can do. It judges numbers that it is
// given, and moves nothing. Free alone asks the system.
//
// Its user is server/hodd, which measures, tells the stream and shows what Judge says.
package space

import (
	"fmt"
	"strings"

	"hod/internal/unit"
)

// Sizes below which nothing is asked of a disk.
const (
	// LeastQuota is the least that a stream or an archive can be given: a site's first weeks.
	LeastQuota = 1 << 20
	// UsualReserve is what stays free on the disk where nothing else is said: the archive takes in what the stream has
	// acknowledged, and the server writes enrolments and revocations, after nobody else may write.
	UsualReserve = 256 << 20
	// unknownQuota is the quota of a server that cannot ask how large its disk is.
	unknownQuota = 4 << 30
	// nearParts and backParts say when a quota is near, and when one that was reached has room again, in hundredths.
	nearParts, backParts = 80, 95
	// slack is what a stream keeps below its quota: no segment goes in there any more.
	slack = 80 << 10
	// MostBehind is how many messages a server may be behind with what its stream acknowledged before it takes no more,
	// and lessBehind where it takes them again.
	MostBehind = 20_000
	lessBehind = MostBehind / 4
)

// Quotas are what may be filled, in bytes.
type Quotas struct {
	Stream  int64 `json:"stream_bytes"`
	Archive int64 `json:"archive_bytes"`
	Reserve int64 `json:"reserve_bytes"` // that stays free on the disk
}

// Used is what is filled, in bytes.
type Used struct {
	Stream  int64 `json:"stream_bytes"`
	Archive int64 `json:"archive_bytes"`
	Free    int64 `json:"free_bytes"` // on the disk; below 0: not known
	// Behind is how many messages of the stream were not taken in yet.
	Behind int64 `json:"messages_behind"`
}

// State is how full a server is.
type State int

// States, from the best on.
const (
	Fine State = iota
	Near       // it goes on, and says that it will not for long
	Full       // it takes no new events; all else goes on
)

func (s State) String() string { return [...]string{"fine", "near", "full"}[s] }

// Verdict is what follows from quotas and what is used.
type Verdict struct {
	State State
	// Why says what is near or full and what to do, a sentence each; none where all is fine.
	Why []string

	closed parts
}

// parts says by what a server is full: one that has room again opens, whatever the others are near to.
type parts struct{ stream, archive, behind, disk bool }

// Says is the sentences in one line.
func (v Verdict) Says() string { return strings.Join(v.Why, " ") }

// Usual are the quotas of a disk of which so much is used by a server and so much is free: a third of both together for
// each of stream and archive, so that a third is left for backups and all else.
func Usual(u Used) Quotas {
	q := Quotas{Stream: unknownQuota, Archive: unknownQuota, Reserve: UsualReserve}
	if u.Free >= 0 {
		third := max((u.Stream+u.Archive+u.Free)/3, LeastQuota)
		q.Stream, q.Archive = third, third
		q.Reserve = min(UsualReserve, (u.Stream+u.Archive+u.Free)/10)
	}
	return q
}

// Judge says how full a server is, of which was was said before.
func Judge(q Quotas, u Used, was Verdict) Verdict {
	var v Verdict
	add := func(s State, format string, args ...any) {
		v.State = max(v.State, s)
		v.Why = append(v.Why, fmt.Sprintf(format, args...))
	}
	for _, part := range []struct {
		name, flag, disposable string
		used, full, quota      int64 // full: from this on nothing goes in
		was                    bool
		closed                 *bool
	}{
		{
			"stream", "--stream-quota",
			"`hodd space --compact` takes repeats and strangers' messages out of it, ", u.Stream, q.Stream - slack,
			q.Stream, was.closed.stream, &v.closed.stream,
		},
		{
			"archive", "--archive-quota", "", u.Archive, q.Archive, q.Archive,
			was.closed.archive, &v.closed.archive,
		},
	} {
		switch level(part.used, part.full, part.was) {
		case Full:
			*part.closed = true
			add(Full, "The %s has reached its quota of %s: the server takes no new events, and all else goes on. "+
				"%s`hodd space %s SIZE` gives it more.", part.name, unit.FormatBytes(part.quota), part.disposable,
				part.flag)
		case Near:
			add(Near, "The %s is near its quota: %s of %s. %s`hodd space %s SIZE` gives it more.",
				part.name, unit.FormatBytes(part.used), unit.FormatBytes(part.quota), part.disposable, part.flag)
		}
	}
	if u.Behind > MostBehind || was.closed.behind && u.Behind > lessBehind {
		v.closed.behind = true
		add(Full,
			"The server is behind with %d messages that it was sent: it takes no new ones until it has read these, "+
				"which goes on by itself, and all else goes on.", u.Behind)
	}
	switch {
	case u.Free < 0:
	case u.Free < q.Reserve, was.closed.disk && u.Free < q.Reserve+q.Reserve/4:
		v.closed.disk = true
		add(Full,
			"The disk has %s left, and %s are to stay free: the server takes no new events, and all else goes on. "+
				"Make room on the disk.", unit.FormatBytes(u.Free), unit.FormatBytes(q.Reserve))
	case u.Free < 2*q.Reserve:
		add(Near, "The disk has %s left; below %s the server takes no new events. Make room on the disk.",
			unit.FormatBytes(u.Free), unit.FormatBytes(q.Reserve))
	}
	return v
}

// level of one quota. One that was reached counts as reached until there is room for more than the next event.
func level(used, quota int64, was bool) State {
	share := float64(used) / float64(quota) * 100
	switch {
	case share >= 100, was && share >= backParts:
		return Full
	case share >= nearParts:
		return Near
	}
	return Fine
}

// Limit is how many bytes the stream may hold: a stream that is closed for another reason than its own size takes
// nothing, whatever it holds.
func Limit(q Quotas, v Verdict) int64 {
	if v.State == Full {
		return 1
	}
	return q.Stream
}
