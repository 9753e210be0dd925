package drawing

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// Map is the shell laid flat: each zone in its cell, with how far one coat of it is, or all are, and what is open along
// the edges.
type Map struct {
	Site  string    `json:"site"`
	AsOf  time.Time `json:"as_of"`
	Units string    `json:"units"`
	Coats []MapCoat `json:"coats"`           // that the plan has, as they are placed
	Shown *MapCoat  `json:"shown,omitempty"` // the coat that is shown; nil: all of them
	Parts []MapPart `json:"parts"`           // pieces of the shell that hang together, each on a grid of its own
	Notes []string  `json:"notes,omitempty"` // where the map is not as the plan has it
}

// MapCoat is a coat by its face and number, whatever the zone.
type MapCoat struct {
	Face string `json:"face,omitempty"`
	Coat int32  `json:"coat"`
}

// MapPart is one grid.
type MapPart struct {
	Rows    int32     `json:"rows"`
	Columns int32     `json:"columns"`
	Planned bool      `json:"planned"` // the plan says where its zones lie; false: laid by their neighbours
	Zones   []MapZone `json:"zones"`
	Edges   []MapEdge `json:"edges"`
}

// MapZone is a zone in its cell, from the top left, 1 the first.
type MapZone struct {
	Zone   string `json:"zone"`
	Row    int32  `json:"row"`
	Column int32  `json:"column"`
	// State is waiting, under way or done: of the coat shown, or of all; not planned where the zone has no such coat.
	State string `json:"state"`
	// of what was placed last: bare, drying (bare, and over the limit) or covered; empty: nothing fresh, no cover
	Surface    string     `json:"surface,omitempty"`
	MeanM      float64    `json:"mean_m"`                // of the coat shown
	DesignM    float64    `json:"design_m"`              // of the coat shown
	FinishedAt *time.Time `json:"finished_at,omitempty"` // of the coat shown
	LastAt     *time.Time `json:"last_at,omitempty"`     // when something was placed last
	Done       int32      `json:"coats_done"`            // of the coats that are planned
	Planned    int32      `json:"coats_planned"`
	Grave      int32      `json:"grave_flags,omitempty"` // open
}

// MapEdge is an edge between two zones, with the joint along it that presses most.
type MapEdge struct {
	A       string  `json:"a"`
	B       string  `json:"b"`
	LengthM float64 `json:"length_m"`
	// State: live, closing, may be cold or cold of an open joint; made in time, made late or made cold where it is
	// made; ended where what is open was ended on purpose; not met where nothing lies on either side, or nothing more
	// is to come.
	State       string     `json:"state"`
	Joint       string     `json:"joint,omitempty"` // its id
	From        string     `json:"from,omitempty"`  // the zone of the earlier side
	Coat        *MapCoat   `json:"coat,omitempty"`
	TurnsAt     *time.Time `json:"turns_at,omitempty"` // the soonest
	TurnsLatest *time.Time `json:"turns_latest,omitempty"`
	// Minutes from now until it turns cold, by the soonest and the latest; 0 where that has passed, nil where it is not
	// open.
	MinutesLow  *float64 `json:"minutes_low,omitempty"`
	MinutesHigh *float64 `json:"minutes_high,omitempty"`
}

// MapOf the site at an instant, for a coat of all zones, or where none is named for the one that was placed last; all
// shows every coat at once.
func MapOf(s *fold.Site, now time.Time, in *time.Location, coat *MapCoat, all bool) Map {
	return mapOf(s, view.CoatLines(s), view.OpenJoints(s, now, in), now, coat, all)
}

func mapOf(s *fold.Site, lines []view.CoatLine, open []view.Joint, now time.Time, coat *MapCoat, all bool) Map {
	p := s.Plan()
	v := Map{Site: view.SiteName(s), AsOf: now, Units: p.System.String()}
	v.Coats = mapCoats(lines)
	if !all {
		if v.Shown = coat; coat == nil || !slices.Contains(v.Coats, *coat) {
			v.Shown = lastPlaced(lines)
		}
	}
	zones := p.ZoneNames()
	cells := map[event.Zone]*event.MapCell{}
	for _, z := range zones {
		cells[z] = p.Zones[z].At
	}
	var edges [][2]event.Zone
	for _, e := range p.Edges {
		edges = append(edges, [2]event.Zone{e.A, e.B})
	}
	parts, crowded := layout(zones, cells, edges)
	for _, z := range crowded {
		v.Notes = append(v.Notes,
			fmt.Sprintf("the plan has %s in a cell that is another zone's; it is shown beside its neighbours", z))
	}
	d := mapper{
		site: s, now: now, shown: v.Shown, lines: map[string][]view.CoatLine{},
		edges: edgesNow(open, v.Shown, now), made: madeEdges(s, v.Shown),
	}
	for _, l := range lines {
		d.lines[l.Zone] = append(d.lines[l.Zone], l)
	}
	_, _, fresh := s.FreshSurface(now)
	d.fresh = fresh
	if c, ok := view.WeatherOf(s, now, time.UTC); ok {
		d.drying = c.OverLimit != nil && *c.OverLimit
	}
	d.grave = graveOf(s)
	for _, k := range parts {
		v.Parts = append(v.Parts, d.part(k))
	}
	return v
}

// mapCoats are the coats of all zones, as they come in the zones of the plan.
func mapCoats(lines []view.CoatLine) []MapCoat {
	var all []MapCoat
	for _, l := range lines {
		if c := (MapCoat{l.Face, l.Coat}); !slices.Contains(all, c) {
			all = append(all, c)
		}
	}
	return all
}

// lastPlaced is the coat into which something was placed last; where nothing was, the first of the plan.
func lastPlaced(lines []view.CoatLine) *MapCoat {
	var last *view.CoatLine
	for i, l := range lines {
		if last == nil || l.LastPlacedAt != nil &&
			(last.LastPlacedAt == nil || l.LastPlacedAt.After(*last.LastPlacedAt)) {
			last = &lines[i]
		}
	}
	if last == nil {
		return nil
	}
	return &MapCoat{last.Face, last.Coat}
}

// graveOf counts the open grave flags of each zone.
func graveOf(s *fold.Site) map[string]int32 {
	n := map[string]int32{}
	for _, f := range s.Flags(s.Findings()) {
		for _, l := range f.Lines {
			if l.Grave && l.Open() {
				zone, _, _ := strings.Cut(l.Subject, " ")
				n[zone]++
			}
		}
	}
	return n
}

// mapper makes the cells and edges of a map.
type mapper struct {
	site   *fold.Site
	now    time.Time
	shown  *MapCoat
	lines  map[string][]view.CoatLine
	fresh  []string // coats that lie fresh and uncovered
	drying bool
	grave  map[string]int32
	edges  map[[2]string]MapEdge // open ones
	made   map[[2]string]MapEdge
}

func (d mapper) part(k *laidFlat) MapPart {
	v := MapPart{Planned: k.planned}
	here := map[event.Zone]bool{}
	for _, z := range k.zones {
		at := k.at[z]
		v.Rows, v.Columns = max(v.Rows, int32(at.row+1)), max(v.Columns, int32(at.column+1))
		cell := d.zone(string(z))
		cell.Row, cell.Column = int32(at.row+1), int32(at.column+1)
		v.Zones = append(v.Zones, cell)
		here[z] = true
	}
	slices.SortStableFunc(v.Zones,
		func(a, b MapZone) int { return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Column, b.Column)) })
	for _, e := range d.site.Plan().Edges {
		if !here[e.A] || !here[e.B] {
			continue
		}
		pair := pairOf(string(e.A), string(e.B))
		m, is := d.edges[pair]
		if !is {
			if m, is = d.made[pair]; !is {
				m.State = view.NotMet
			}
		}
		m.A, m.B, m.LengthM = pair[0], pair[1], float64(e.Length)
		v.Edges = append(v.Edges, m)
	}
	return v
}

func (d mapper) zone(name string) MapZone {
	v := MapZone{Zone: name, State: "not planned", Grave: d.grave[name]}
	waiting := 0
	for _, l := range d.lines[name] {
		if v.Planned++; l.State == "done" {
			v.Done++
		}
		if d.shown == nil || d.shown.Face == l.Face && d.shown.Coat == l.Coat {
			d.coat(&v, l)
			if l.State == "waiting" {
				waiting++
			}
		}
	}
	if d.shown == nil && v.Planned > 0 {
		v.MeanM, v.DesignM, v.FinishedAt = 0, 0, nil
		switch {
		case v.Done == v.Planned:
			v.State = "done"
		case waiting == int(v.Planned):
			v.State = "waiting"
		default:
			v.State = "under way"
		}
	}
	return v
}

// coat puts down one coat of a zone.
func (d mapper) coat(v *MapZone, l view.CoatLine) {
	v.State, v.MeanM, v.DesignM, v.FinishedAt = l.State, l.MeanThicknessM, l.DesignM, l.FinishedAt
	if l.LastPlacedAt != nil && (v.LastAt == nil || l.LastPlacedAt.After(*v.LastAt)) {
		v.LastAt = l.LastPlacedAt
	}
	id := event.Coat{Zone: event.Zone(l.Zone), Number: int(l.Coat)}
	id.Face, _ = event.ParseFace(l.Face)
	switch z, ok := d.site.Zone(id.Zone); {
	case slices.Contains(d.fresh, id.String()) && d.drying:
		v.Surface = "drying"
	case slices.Contains(d.fresh, id.String()):
		if v.Surface != "drying" {
			v.Surface = "bare"
		}
	case ok && v.Surface == "" && l.LastPlacedAt != nil && view.CoverLineOf(z, id.Face, d.now) != nil:
		v.Surface = "covered"
	}
}

func pairOf(a, b string) [2]string { return [2]string{min(a, b), max(a, b)} }

// minutesTo is how long it is until an instant; 0 where it has passed, nil where there is none.
func minutesTo(t *time.Time, now time.Time) *float64 {
	if t == nil {
		return nil
	}
	return new(max(t.Sub(now).Minutes(), 0))
}

// edgesNow are the open joints along edges, of each edge the one that presses most, which comes first among the open
// ones; one that was ended on purpose presses less than any other, and is counted down for nobody.
func edgesNow(open []view.Joint, shown *MapCoat, now time.Time) map[[2]string]MapEdge {
	all := map[[2]string]MapEdge{}
	for _, j := range open {
		if j.Kind != fold.AlongEdge.String() || shown != nil && *shown != (MapCoat{j.Face, j.Coat}) {
			continue
		}
		pair := pairOf(j.Zone, j.Other)
		if was, is := all[pair]; is && (was.State != view.EndedEdge || j.Ended) {
			continue
		}
		e := MapEdge{State: j.StateNow(now), Joint: j.ID, From: j.Zone, Coat: &MapCoat{j.Face, j.Coat}}
		if all[pair] = e; j.Ended {
			continue
		}
		e.TurnsAt, e.TurnsLatest = j.TurnsAt, j.TurnsLatest
		e.MinutesLow, e.MinutesHigh = minutesTo(j.TurnsAt, now), minutesTo(cmp.Or(j.TurnsLatest, j.TurnsAt), now)
		all[pair] = e
	}
	return all
}

// madeEdges are the joints that are made along edges, of each edge the worst, which comes first among the made ones.
func madeEdges(s *fold.Site, shown *MapCoat) map[[2]string]MapEdge {
	all := map[[2]string]MapEdge{}
	for _, j := range view.MadeJoints(s) {
		if j.Kind != fold.AlongEdge.String() || shown != nil && *shown != (MapCoat{j.Face, j.Coat}) {
			continue
		}
		pair := pairOf(j.Zone, j.Other)
		if was, is := all[pair]; is && was.State != view.MadeLive {
			continue
		}
		all[pair] = MapEdge{State: j.StateNow(time.Time{}), Joint: j.ID, From: j.Zone, Coat: &MapCoat{j.Face, j.Coat}}
	}
	return all
}
