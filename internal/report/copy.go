package report

import (
	"time"
)

// Copy says how old a device's own copy of the record is.
type Copy struct {
	Met  bool          // the device has met the server at all
	AsOf time.Time     // what others had written by then is in it; zero: not known
	Age  time.Duration // since then, by the device's clock; below zero where that was set back

	// Notice is what people should know of the server, in sentences, on a page of the server's own; the others do not
	// count where it is said.
	Notice string
}

// OwnCopy says how old the copy is that the page was made of. What one device holds is not the site's record of now.
func (s *Sheet) OwnCopy() {
	c := s.copy
	if c == nil {
		return
	}
	if c.Notice != "" {
		s.serverNotice(c.Notice)
		return
	}
	const own = "Own copy,"
	asOf := "as of " + s.Clock(c.AsOf) + ","
	switch {
	case !c.Met:
		s.Para(0, 2, Join(" ", Say(own), Say("which has never met the server:", strong),
			Say("what others wrote is not in it.")))
	case c.AsOf.IsZero():
		s.Para(0, 2, Join(" ", Say(own), Say("never fetched in full:", strong),
			Say("`hod sync` fetches what others wrote.")))
	case c.Age < 0:
		s.Para(0, 2, Join(" ", Say(own), Figure(asOf, strong), Say("and this device's clock was set back since.")))
	case c.Age < time.Minute:
		s.Para(0, 2, Join(" ", Say(own), Figure(asOf), Say("now.")))
	default:
		s.Para(0, 2, Join(" ", Say(own), Figure(asOf, strong), Figure(Minutes(c.Age)+" ago.", strong)))
	}
}

// serverNotice is what people should know of the server.
func (s *Sheet) serverNotice(notice string) {
	if notice != "" {
		s.Para(0, 2, Join(" ", Say("At the server:", strong), Say(notice)))
	}
}

// OwnCopy says how old the copy of the record is that a page is made of, as a part of it; nothing where it is no copy.
func OwnCopy(p Page, asOf time.Time) string {
	p.HTML = true
	s := Open(p, "", asOf)
	s.OwnCopy()
	return s.String()
}
