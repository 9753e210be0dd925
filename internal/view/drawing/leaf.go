package drawing

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// LogLeaf is one page of the log, the newest first, and what it leaves out.
type LogLeaf struct {
	view.Log
	Page    int           `json:"page"` // from 1, the newest
	Pages   int           `json:"pages"`
	Found   int           `json:"found"`    // entries that are asked for, on all pages
	LeftOut int           `json:"left_out"` // entries of the record that are not asked for
	Crews   []string      `json:"crews"`    // that wrote, to choose from
	Kinds   []string      `json:"kinds"`    // that were written, to choose from
	People  []string      `json:"people"`   // that are named, to choose from
	Days    []string      `json:"days"`     // on which anything happened, the newest first
	Query   view.LogQuery `json:"-"`
}

// LogLeafOf the site: one page of so many entries of the log. A page beyond the last is the last. Only what is on the
// page is put in words.
func LogLeafOf(s *fold.Site, now time.Time, in *time.Location, q view.LogQuery, page, size int) LogLeaf {
	v := LogLeaf{Log: view.Log{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String()}, Query: q}
	crews, kinds, people, days := map[string]bool{}, map[string]bool{}, map[string]bool{}, map[string]bool{}
	all := view.RecordsByTime(s, func(r *fold.Record) bool {
		if r.Crew != "" {
			crews[string(r.Crew)] = true
		}
		kinds[event.KindOf(r.Body)] = true
		people[r.Person] = true
		days[r.When.In(in).Format(time.DateOnly)] = true
		if q.Wants(s, r) {
			return true
		}
		v.LeftOut++
		return false
	})
	v.Found, v.Crews, v.Kinds, v.People, v.Days = len(all), sorted(crews), sorted(kinds), sorted(people), sorted(days)
	slices.Reverse(v.Days)
	v.Pages = max(1, (len(all)+size-1)/size)
	v.Page = min(max(page, 1), v.Pages)
	to := len(all) - (v.Page-1)*size
	for i := to - 1; i >= max(0, to-size); i-- {
		v.Entries = append(v.Entries, view.EntryOf(s, in, all[i]))
	}
	return v
}

func sorted(set map[string]bool) []string {
	all := make([]string, 0, len(set))
	for k := range set {
		if k != "" {
			all = append(all, k)
		}
	}
	slices.Sort(all)
	return all
}

// EventLeaf is one event: as it stands, what corrects it or is corrected by it, and the flags that rest on it.
type EventLeaf struct {
	Site  string     `json:"site"`
	AsOf  time.Time  `json:"as_of"`
	Units string     `json:"units"`
	Entry view.Entry `json:"entry"`
	// it and all that correct the same, in order; none where it stands alone
	Chain []view.Entry `json:"chain,omitempty"`
	Zones []string     `json:"zones,omitempty"`
	Flags []daily.Flag `json:"flags,omitempty"`
}

// EventLeafOf the site; false if the record holds no event of that name.
func EventLeafOf(s *fold.Site, now time.Time, in *time.Location, name string) (EventLeaf, bool) {
	n, err := event.ParseName(name)
	if err != nil {
		return EventLeaf{}, false
	}
	r, ok := s.Record(n)
	if !ok {
		return EventLeaf{}, false
	}
	v := EventLeaf{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String(), Entry: view.EntryOf(s, in, r)}
	body := r.Now
	if body == nil {
		body = r.Body
	}
	for _, z := range event.ZonesOf(body) {
		if z != "" {
			v.Zones = append(v.Zones, string(z))
		}
	}
	first := r
	if f, ok := s.FirstWriting(r); ok {
		first = f
	}
	if first != r || len(first.Via) > 0 {
		v.Chain = append(v.Chain, view.EntryOf(s, in, first))
		for _, fix := range first.Via {
			v.Chain = append(v.Chain, view.EntryOf(s, in, fix))
		}
	}
	for _, f := range daily.FlagsOf(s, now, in, true).Flags {
		if slices.Contains(f.Events, name) {
			v.Flags = append(v.Flags, f)
		}
	}
	return v, true
}

// JointLeaf is one joint with what it rests on.
type JointLeaf struct {
	Site  string     `json:"site"`
	AsOf  time.Time  `json:"as_of"`
	Units string     `json:"units"`
	Joint view.Joint `json:"joint"`
	Limit Limits     `json:"limits"`
	// Flags speak of it, open or answered.
	Flags []daily.Flag `json:"flags,omitempty"`
}

// Limits are the shares of initial set at which the words of joints change, with where they are from.
type Limits struct {
	Closing float64 `json:"closing"`
	Cold    float64 `json:"cold"`
	Source  string  `json:"source"`
	Formula string  `json:"formula"`
}

// JointLeafOf the site by the joint's id; false if there is none. A joint that was open and is made has another id.
func JointLeafOf(s *fold.Site, now time.Time, in *time.Location, id string) (JointLeaf, bool) {
	v := view.JointsOf(s, now, in)
	i := slices.IndexFunc(v.Joints, func(j view.Joint) bool { return j.ID == id })
	if i < 0 {
		return JointLeaf{}, false
	}
	j := v.Joints[i]
	leaf := JointLeaf{Site: v.Site, AsOf: now, Units: v.Units, Joint: j, Limit: Limits{
		Closing: float64(s.Plan().Closing), Cold: 1,
		Formula: "share of initial set consumed = equivalent age of the earlier material / initial set at its reference temperature (Arrhenius)",
		Source:  "ASTM C403 (initial set: penetration resistance 500 psi, 3.5 MPa), C1074; ACI 309R on cold joints; from which share a joint is closing is the plan's word",
	}}
	if j.Flagged || !j.Made {
		for _, f := range daily.FlagsOf(s, now, in, true).Flags {
			if concernsJoint(f, j) {
				leaf.Flags = append(leaf.Flags, f)
			}
		}
	}
	return leaf, true
}

// concernsJoint says whether a flag rests on an event of the later side of a joint; of one that is open, on one of both
// sides.
func concernsJoint(f daily.Flag, j view.Joint) bool {
	for _, name := range j.Later {
		if slices.Contains(f.Events, name) {
			return true
		}
	}
	return false
}

// ZoneList is all zones with the progress of their coats.
type ZoneList struct {
	Site  string          `json:"site"`
	AsOf  time.Time       `json:"as_of"`
	Units string          `json:"units"`
	Lines []view.CoatLine `json:"lines"`
}

// ZoneListOf the site.
func ZoneListOf(s *fold.Site, now time.Time) ZoneList {
	return ZoneList{Site: view.SiteName(s), AsOf: now, Units: s.Plan().System.String(), Lines: view.CoatLines(s)}
}
