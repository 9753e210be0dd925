package session

import (
	"fmt"

	"hod/client/journal"
	"hod/internal/unit"
)

// How much of a device's disk the record may fill, in bytes. What this device writes itself is kept as long as the disk
// takes it: the quota is for what others wrote.
const (
	leastQuota = 64 << 20 // of a small disk
	leastFree  = 64 << 20 // on the disk, below which nothing of others is fetched
	soonFull   = 4        // times leastFree, below which people are told
	nearQuota  = 80       // hundredths of the quota
)

// Room is what follows from the space of a device's record.
type Room struct {
	Notice string // what to know and do, in sentences; empty: there is room
	Closed bool   // nothing of others is fetched any more
}

// Room measures the space of the record. HOD_QUOTA says how much it may fill; otherwise half of what the disk has for
// it, and as much as it takes where the disk does not say.
func (s *Session) Room() (Room, error) {
	is, err := s.Journal.Space()
	if err != nil {
		return Room{}, err
	}
	var quota int64
	if text := s.Env.Getenv("HOD_QUOTA"); text != "" {
		if quota, err = unit.ParseBytes(text); err != nil {
			return Room{}, fmt.Errorf("HOD_QUOTA: %w", err)
		}
	}
	return roomOf(is, quota), nil
}

// roomOf judges a space; quota 0: the usual one.
func roomOf(is journal.Space, quota int64) Room {
	if quota == 0 && is.Free < 0 { // half of what nobody knows is no limit
		return Room{}
	}
	if quota == 0 {
		quota = max(leastQuota, (is.Used+is.Free)/2)
	}
	const own = "What you write is kept all the same"
	used, whole := unit.FormatBytes(is.Used), unit.FormatBytes(quota)
	switch low := is.Free >= 0 && is.Free < leastFree; {
	case low:
		return Room{"This device's disk has " + unit.FormatBytes(is.Free) +
			" left: nothing more is fetched of what others wrote. " +
			own + ", while there is any room: free some now.", true}
	case is.Used >= quota:
		return Room{"This device's record fills " + used +
			", as much as it may: nothing more is fetched of what others wrote. " +
			own + "; HOD_QUOTA=SIZE lets it fill more.", true}
	case is.Free >= 0 && is.Free < soonFull*leastFree:
		return Room{
			"This device's disk has " + unit.FormatBytes(is.Free) + " left; free some before it is full.",
			false,
		}
	case is.Used >= quota/100*nearQuota:
		return Room{"This device's record fills " + used + " of the " + whole +
			" that it may; HOD_QUOTA=SIZE lets it fill more.", false}
	}
	return Room{}
}
