package planning

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/proto/hod/v1"
)

// NewZone makes hod zone.
func NewZone(env *session.Env) *cobra.Command {
	return env.NewGroup("zone", "The zones of the shell, their coats and edges", "hod zone show A3",
		newZoneAdd(env), newZoneCoat(env), newZoneEdge(env), newZoneList(env), newZoneShow(env))
}

// zoneAdd plans a zone with its coats and edges.
type zoneAdd struct {
	name, area, shape string
	order             int
	at                string
	coats, edges      []string
	replace           bool
}

func newZoneAdd(env *session.Env) *cobra.Command {
	var z zoneAdd
	c := env.NewCommand("add ZONE", "Plan a zone (foreman)",
		`hod zone add A3 --area 72ft2 --coat "outer 1 12mm face" --edge B3=2.4m`,
		"hod zone add A3 --area 70ft2 --replace")
	c.Args = terminal.ExactArgs(1, "the name of the zone")
	f := c.Flags()
	env.SureFlag(f)
	f.StringVar(&z.area, "area", "", "area of its surface: 72ft2, 6.7m2")
	f.StringVar(&z.shape, "shape", "", "its shape, in words")
	f.IntVar(&z.order, "order", 0, "its place in the order in which zones are placed")
	f.StringVar(&z.at, "at", "",
		"its `CELL` on the map of the shell laid flat: row from the top, column from the left, as in 2,3")
	f.StringArrayVar(&z.coats, "coat", nil, `a coat: "outer 1 12mm face"`)
	f.StringArrayVar(&z.edges, "edge", nil, "an edge that it shares: B3=2.4m")
	f.BoolVar(&z.replace, "replace", false, "plan it anew where it is planned already")
	c.RunE = func(c *cobra.Command, args []string) error {
		z.name = args[0]
		return session.Run(c.Context(), env, func(s *session.Session) error { return z.run(c.Context(), s) })
	}
	return c
}

func (z zoneAdd) run(ctx context.Context, s *session.Session) error {
	body, err := z.read(s)
	if err != nil {
		return err
	}
	drafts := []session.Draft{{Body: body}}
	for _, word := range z.coats {
		coat, err := readCoat(s, body.Zone, strings.Fields(word))
		if err != nil {
			return terminal.InFlag("coat", err)
		}
		drafts = append(drafts, session.Draft{Body: coat})
	}
	for _, word := range z.edges {
		edge, err := readEdge(s, body.Zone, word)
		if err != nil {
			return terminal.InFlag("edge", err)
		}
		drafts = append(drafts, session.Draft{Body: edge})
	}
	return keepPlan(ctx, s, drafts)
}

// read is the zone itself; where it is planned anew, what was not said stays as it was.
func (z zoneAdd) read(s *session.Session) (event.ZonePlanned, error) {
	name := event.Zone(z.name)
	body := event.ZonePlanned{Zone: name, Shape: z.shape, Order: z.order}
	old, planned := s.Plan.Zones[name]
	switch {
	case planned && !z.replace:
		return body, terminal.Refusedf("zone %s is planned already, with %s; --replace plans it anew", name,
			s.Units.Area(old.Area.SI))
	case planned:
		body = old.ZonePlanned
		if z.shape != "" {
			body.Shape = z.shape
		}
		if z.order != 0 {
			body.Order = z.order
		}
	case z.area == "":
		return body, terminal.Usagef("--area is missing, as in --area 72ft2")
	case z.order == 0:
		for _, other := range s.Plan.Zones {
			body.Order = max(body.Order, other.Order+1)
		}
	}
	if z.area != "" {
		var err error
		if body.Area, err = unit.Said(z.area, unit.ParseArea); err != nil {
			return body, terminal.InFlag("area", err)
		}
	}
	if z.at != "" {
		cell, err := freeCell(s, name, z.at)
		if err != nil {
			return body, err
		}
		body.At = &cell
	}
	body.Replaces = s.ReplacedBy(body)
	return body, nil
}

// freeCell is a cell of the map, which no other zone has.
func freeCell(s *session.Session, name event.Zone, word string) (event.MapCell, error) {
	cell, err := event.ParseMapCell(word)
	if err != nil {
		return cell, terminal.InFlag("at", err)
	}
	for _, other := range s.Plan.ZoneNames() {
		if at := s.Plan.Zones[other].At; other != name && at != nil && *at == cell {
			return cell, terminal.Refusedf("--at %d,%d of the map is zone %s already; each zone has a cell of its own",
				cell.Row, cell.Column, other)
		}
	}
	return cell, nil
}

// planKept is the document of a plan that was written: hod.zone.v1, hod.coat.v1, hod.edge.v1, hod.mix.v1.
type planKept struct {
	session.Kept
	Events []string `json:"events"`
	Plans  []string `json:"plans"`           // each in words
	Moved  string   `json:"moved,omitempty"` // of what puts an older plan right: what that moved in the record
}

// keepPlan keeps the parts of a plan, all or none, and says what each means.
func keepPlan(ctx context.Context, s *session.Session, drafts []session.Draft) error {
	all, err := s.KeepAll(ctx, drafts)
	if err != nil {
		return err
	}
	doc := planKept{Kept: all[0]}
	for _, k := range all {
		r, ok := s.Fold.Record(k.Name)
		if !ok {
			continue
		}
		doc.Events = append(doc.Events, k.Event)
		doc.Plans = append(doc.Plans, view.Describe(s.Fold, r, s.Location))
		s.AddWarnings(&k)
		doc.Warnings = append(doc.Warnings, k.Warnings...)
	}
	doc.Text = strings.Join(doc.Plans, "; ")
	for _, k := range all {
		if doc.Moved = s.MovedBy(k.Name); doc.Moved != "" {
			doc.Next = "it moved: " + doc.Moved
		}
	}
	return s.Tell(doc.Kept, doc)
}

// readCoat reads "outer 1 12mm face": face (where the shell has two), number, thickness, mix.
func readCoat(s *session.Session, zone event.Zone, words []string) (event.CoatPlanned, error) {
	body := event.CoatPlanned{Coat: event.Coat{Zone: zone}}
	if len(words) == 4 {
		face, err := event.ParseFace(words[0])
		if err != nil {
			return body, err
		}
		body.Coat.Face, words = face, words[1:]
	}
	if len(words) != 3 {
		return body,
			terminal.Usagef(
				"%q is no coat; write its face where the shell has two, its number, thickness and mix: outer 1 12mm face", terminal.Safe(strings.Join(words, " ")))
	}
	var err error
	if body.Coat.Number, err = strconv.Atoi(words[0]); err != nil {
		return body, terminal.Usagef("%q is no number of a coat; write outer 1 12mm face", terminal.Safe(words[0]))
	}
	if body.Thickness, err = unit.Said(words[1], unit.ParseLength); err != nil {
		return body, err
	}
	if body.Mix, err = terminal.PickName("mix", words[2], s.Plan.MixNames()); err != nil {
		return body, err
	}
	body.Replaces = s.ReplacedBy(body)
	return body, nil
}

// readEdge reads "B3=2.4m".
func readEdge(s *session.Session, zone event.Zone, word string) (event.EdgePlanned, error) {
	other, length, ok := strings.Cut(word, "=")
	if !ok {
		return event.EdgePlanned{}, terminal.Usagef("%q is no edge; write the other zone and the length, B3=2.4m",
			terminal.Safe(word))
	}
	b, err := terminal.PickName("zone", other, s.Plan.ZoneNames())
	if err != nil {
		return event.EdgePlanned{}, err
	}
	body := event.EdgePlanned{A: zone, B: b}
	for _, e := range s.Plan.Edges { // its sides and whether work may stop there stay as they are
		if e.A == min(zone, b) && e.B == max(zone, b) {
			body = e.Planned()
		}
	}
	if body.Length, err = unit.Said(length, unit.ParseLength); err != nil {
		return body, err
	}
	body.Replaces = s.ReplacedBy(body)
	return body, nil
}

func newZoneCoat(env *session.Env) *cobra.Command {
	c := env.NewCommand("coat ZONE [FACE] NUMBER THICKNESS MIX", "Plan a coat of a zone, or plan it anew (foreman)",
		"hod zone coat A3 outer 1 12mm face", "hod zone coat A3 2 3/8in face")
	c.Args = terminal.RangeArgs(4, 5, "a zone, the coat's face and number, its thickness and its mix")
	env.SureFlag(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			zone, err := s.FindZone(args[0])
			if err != nil {
				return err
			}
			body, err := readCoat(s, zone, args[1:])
			if err != nil {
				return err
			}
			return keepPlan(c.Context(), s, []session.Draft{{Body: body}})
		})
	}
	return c
}

func newZoneEdge(env *session.Env) *cobra.Command {
	c := env.NewCommand("edge ZONE ZONE LENGTH", "Plan an edge that two zones share, or plan it anew (foreman)",
		"hod zone edge A3 B3 2.4m")
	c.Args = terminal.ExactArgs(3, "two zones and the length of their edge")
	env.SureFlag(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			zone, err := s.FindZone(args[0])
			if err != nil {
				return err
			}
			body, err := readEdge(s, zone, args[1]+"="+args[2])
			if err != nil {
				return err
			}
			return keepPlan(c.Context(), s, []session.Draft{{Body: body}})
		})
	}
	return c
}

// zoneList is the document hod.zones.v1.
type zoneList struct {
	Zones []zoneLine `json:"zones"`
}

type zoneLine struct {
	Zone   string            `json:"zone"`
	Area   terminal.Quantity `json:"area"`
	Shape  string            `json:"shape,omitempty"`
	Order  int               `json:"order"`
	Coats  []coatLine        `json:"coats"`
	Shares []string          `json:"shares_edges_with"`
}

type coatLine struct {
	Face      string            `json:"face,omitempty"`
	Coat      int               `json:"coat"`
	Thickness terminal.Quantity `json:"thickness"`
	Mix       string            `json:"mix"`
	Needed    terminal.Quantity `json:"needed"` // volume, loss counted
	Left      terminal.Quantity `json:"left"`
}

func newZoneList(env *session.Env) *cobra.Command {
	c := env.NewCommand("list", "List the zones in the order in which they are placed", "hod zone list")
	var tables session.TableFlags
	tables.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			if err := tables.ShowTable(s); err != nil {
				return err
			}
			doc := zoneList{Zones: []zoneLine{}}
			for _, name := range s.Plan.ZoneNames() {
				z, _ := s.Fold.Zone(name)
				doc.Zones = append(doc.Zones, zoneLineOf(s, z))
			}
			if len(doc.Zones) == 0 {
				s.Env.Hintf("no zone is planned here yet; the foreman plans them, or `hod sync` fetches the plan")
			}
			return env.Show("zones", doc, report.List("", []string{"zone", "area", "coats", "left", "edges with"},
				zoneRows(s, doc), s.Page()))
		})
	}
	return c
}

func zoneLineOf(s *session.Session, z fold.ZoneIs) zoneLine {
	line := zoneLine{
		Zone: string(z.Zone.Zone), Area: terminal.QuantityOf(z.Area, "m2"), Shape: z.Shape, Order: z.Order,
		Coats: []coatLine{}, Shares: []string{},
	}
	for _, c := range z.Coats {
		l := coatLine{
			Coat: c.Coat.Coat.Number, Thickness: terminal.QuantityOf(c.Thickness, "m"), Mix: string(c.Mix),
			Needed: terminal.QuantityOf(unit.Computed(c.Needed), "m3"),
			Left:   terminal.QuantityOf(unit.Computed(c.Left()), "m3"),
		}
		if c.Coat.Coat.Face != event.AnyFace {
			l.Face = c.Coat.Coat.Face.String()
		}
		line.Coats = append(line.Coats, l)
	}
	for _, e := range z.Edges {
		line.Shares = append(line.Shares, string(e.Other(z.Zone.Zone)))
	}
	return line
}

func zoneRows(s *session.Session, doc zoneList) [][]string {
	var rows [][]string
	for _, z := range doc.Zones {
		var coats, left []string
		for _, c := range z.Coats {
			face := ""
			if c.Face != "" {
				face = c.Face + " "
			}
			coats = append(coats, fmt.Sprintf("%s%d %s %s", face, c.Coat,
				s.Units.Thickness(unit.Length(c.Thickness.SI)), c.Mix))
			left = append(left, s.Units.Volume(unit.Volume(c.Left.SI)))
		}
		rows = append(rows, []string{
			z.Zone, s.Units.Area(unit.Area(z.Area.SI)), strings.Join(coats, ", "),
			strings.Join(left, ", "), strings.Join(z.Shares, " "),
		})
	}
	return rows
}

func newZoneShow(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	c := env.NewCommand("show ZONE", "Show a zone in full: coats, placements, joints, what covers it",
		"hod zone show A3", "hod zone show A3 --server")
	c.Args = terminal.ExactArgs(1, "a zone")
	l.Register(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := session.View(c.Context(), env, l,
			func(s *session.Session) (view.Zone, error) {
				name, err := s.FindZone(args[0])
				if err != nil {
					return view.Zone{}, err
				}
				v, _ := view.ZoneOf(s.Fold, s.Now, s.Location, name)
				return v, nil
			},
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.Zone(ctx, &hodv1.ZoneRequest{At: at, Zone: args[0]})
				return r.GetZone(), err
			})
		if err != nil {
			return err
		}
		defer s.Close()
		return env.Show("zone-view", v, report.Zone(v, s.Page()))
	}
	return c
}
