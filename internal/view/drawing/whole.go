package drawing

import (
	"time"

	"hod/internal/fold"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// Whole is the record of a shell as it is handed over.
type Whole struct {
	Site   string    `json:"site"`
	Place  string    `json:"place,omitempty"`
	AsOf   time.Time `json:"as_of"`
	Units  string    `json:"units"`
	Maps   []Map     `json:"maps"` // one a coat
	Lines  []view.CoatLine
	Zones  []ZoneLeaf  `json:"zones"`
	Charts Charts      `json:"charts"`
	Joints view.Joints `json:"joints"`
	Flags  daily.Flags `json:"flags"`
	Stock  view.Stock  `json:"stock"`
	Log    view.Log    `json:"log"`
	// Excluded says of whom what does not count in anything here.
	Excluded []view.Exclusion `json:"excluded,omitempty"`
	// LeftOut is how many of the oldest entries of the log are not in it.
	LeftOut int `json:"left_out,omitempty"`
}

// mostWhole is how many entries of the log are handed over: more belong into an export, which is the record itself.
const mostWhole = 20_000

// CoatMaps are the maps of all coats that are planned, each by itself.
func CoatMaps(s *fold.Site, now time.Time, in *time.Location) []Map {
	var all []Map
	for _, c := range mapCoats(view.CoatLines(s)) {
		all = append(all, MapOf(s, now, in, &c, false))
	}
	return all
}

// RecordOf the site at an instant, in the site's place.
func RecordOf(s *fold.Site, now time.Time, in *time.Location) Whole {
	p := s.Plan()
	v := Whole{Site: view.SiteName(s), Place: p.Place, AsOf: now, Units: p.System.String(), Lines: view.CoatLines(s)}
	for _, c := range mapCoats(v.Lines) {
		v.Maps = append(v.Maps, MapOf(s, now, in, &c, false))
	}
	for _, name := range p.ZoneNames() {
		if z, ok := ZoneLeafOf(s, now, in, name); ok {
			v.Zones = append(v.Zones, z)
		}
	}
	v.Joints, v.Flags, v.Stock = view.JointsOf(s, now, in), daily.FlagsOf(s, now, in, true), view.StockOf(s, now, in)
	v.Charts = ChartsOf(s, now, in)
	v.Log = view.LogOf(s, now, in, view.LogQuery{Most: mostWhole})
	v.Excluded = view.ExclusionsOf(s)
	v.LeftOut = max(0, s.Len()-len(v.Log.Entries))
	return v
}
