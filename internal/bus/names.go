package bus

import (
	"unicode"
	"unicode/utf8"

	"hod/internal/chain"
	"hod/internal/event"
)

// Limits of what travels.
const (
	// MaxMessage is the largest message that the stream takes: a segment, and the headers that servers put on it.
	MaxMessage = chain.MaxSegmentBytes + 4<<10
	// MaxCarried is how many segments one device may put on the stream: a hundred a day for some five years.
	MaxCarried = 200_000
	// MaxPayload is the largest message that the broker takes at all, an answer with the site's heads among them.
	MaxPayload = 128 << 10
)

// ServerName is the name in the certificate of every site's server: a device knows its site by the authority that
// signed, wherever the server stands, so the name says only what kind of thing it is.
const ServerName = "hod.site"

// CheckSite says whether a name can be a site's on the bus: 1 to 32 of a to z, 0 to 9 and -.
func CheckSite(site string) error {
	if len(site) < 1 || len(site) > 32 {
		return fail(Invalid, nil,
			"the site's name on the bus has 1 to 32 characters, not %d; one looks like north-dome", len(site))
	}
	for _, r := range site {
		if (r < 'a' || r > 'z') && (r < '0' || r > '9') && r != '-' {
			return fail(Invalid, nil,
				"the site's name on the bus, %q, holds %q; it has a to z, 0 to 9 and -, as in north-dome", site, r)
		}
	}
	return nil
}

// CheckDevice says whether a name can be a device's on the bus. It is no stricter than the log, and lets through
// nothing that means something to the broker: dots, stars, angles, spaces.
func CheckDevice(device event.Device) error {
	s := string(device)
	if s == "" || !utf8.ValidString(s) || utf8.RuneCountInString(s) > event.MaxName {
		return fail(Invalid, nil, "a device's name has 1 to %d characters, not %d; one looks like n2", event.MaxName,
			utf8.RuneCountInString(s))
	}
	for i, r := range s {
		plain := unicode.IsLetter(r) || unicode.IsDigit(r)
		if !plain && (i == 0 || r != '-' && r != '_' && !unicode.IsMark(r)) {
			return fail(Invalid, nil, "the device's name, %q, holds %q; it has letters, digits, - and _, as in n2", s,
				r)
		}
	}
	return nil
}

// Stream is the name of a site's stream.
func Stream(site string) string { return "HOD_" + site }

// LogSubject is where a device puts the segments that it carries, its own and others'.
func LogSubject(site string, carrier event.Device) string {
	return "hod.log." + site + "." + string(carrier)
}

// LogSubjects are those of every carrier of a site; the stream takes from them.
func LogSubjects(site string) string { return "hod.log." + site + ".*" }

// NewSubjects are where the stream says again what it has just stored. They differ from LogSubjects so that nobody
// hears a segment that is not stored, or hears it twice.
func NewSubjects(site string) string { return "hod.new." + site + ".*" }

// HeadsSubject is where the host answers how far its log reaches.
func HeadsSubject(site string) string { return "hod.ask." + site + ".heads" }

// ReadSubject is where the stream answers direct gets.
func ReadSubject(site string) string { return "$JS.API.DIRECT.GET." + Stream(site) }

// Inbox is the prefix of the subjects where answers for a device arrive; nobody else may listen there.
func Inbox(device event.Device) string { return "_INBOX_" + string(device) }
