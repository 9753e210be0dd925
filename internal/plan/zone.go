package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/unit"
)

// zones are those of the file, with what refers to them.
type zones struct {
	planned []event.ZonePlanned
	coats   []event.CoatPlanned
	names   []string // also of zones in which something is wrong
}

// draft is a zone while it is read.
type draft struct {
	fields
	zone  event.Zone
	place int // in the file
	coats []event.CoatPlanned
	like  string
}

func (f fields) zones(mixes []event.MixPlanned) zones {
	var z zones
	var mixNames []string
	for _, m := range mixes {
		mixNames = append(mixNames, string(m.Mix))
	}
	drafts := map[string]*draft{}
	var order []*draft
	lines, cells := map[string]int{}, map[event.MapCell]*draft{}
	f.items("zones", MostZones, func(i int, n *yaml.Node) {
		path := f.place("zone", i, n)
		d := &draft{place: i}
		var ok bool
		if d.fields, ok = f.fields(n, path, "name", "area", "shape", "order", "coats", "like", "sides", "outline",
			"ring", "mesh", "at", "exposure", "reached_from"); !ok {
			return
		}
		d.need("name")
		name, at := d.text("name")
		b := event.ZonePlanned{Zone: event.Zone(name), Area: unit.As[unit.Area]{SI: 1}}
		if at != nil {
			d.can("name", b)
			f.once(lines, "zone", name, path, n)
		}
		d.area(&b)
		d.form(&b)
		d.exposure(&b)
		d.reached(&b)
		if b.Order = d.whole("order"); b.Order > 0 {
			d.can("order", event.ZonePlanned{Zone: "x", Area: unit.As[unit.Area]{SI: 1}, Order: b.Order})
		}
		d.zone = b.Zone
		d.cell(&b, cells)
		d.readCoats(mixNames, f.of["mixes"] != nil)
		if at == nil || drafts[name] != nil {
			return
		}
		z.planned, z.names = append(z.planned, b), append(z.names, name)
		drafts[name], order = d, append(order, d)
	})
	for _, d := range order {
		if z.coats = append(z.coats, d.resolve(drafts, z.names)...); len(z.coats) > mostCoats {
			f.wrong(f.of["zones"], "", "the zones have more than %d coats together; a plan may have so many", mostCoats)
			break
		}
	}
	if n := f.of["zones"]; n != nil && f.follow(n).Kind == yaml.SequenceNode && len(f.follow(n).Content) == 0 {
		f.wrong(n, "", "zones is empty; a shell has at least one")
	}
	return z
}

func (d *draft) area(b *event.ZonePlanned) {
	area := quantity(d.fields, "area", unit.ParseArea)
	if area != nil {
		b.Area = *area
		d.can("area", event.ZonePlanned{Zone: "x", Area: *area})
	}
	n := d.of["shape"]
	if d.of["area"] == nil && (n == nil || d.follow(n).Kind != yaml.MappingNode) {
		d.wrong(d.node, d.path, "area is missing; it looks like 12m2, or give the shape with its measures")
	}
	d.shape(b)
}

// cell is the zone's place on the map: its row from the top and its column from the left. No two zones have one.
func (d *draft) cell(b *event.ZonePlanned, taken map[event.MapCell]*draft) {
	n := d.of["at"]
	if n == nil {
		return
	}
	list := d.follow(n)
	if list.Kind != yaml.SequenceNode || len(list.Content) != 2 {
		d.wrong(n, d.path, "at: it is the zone's row from the top of the map and its column from the left, [2, 3]")
		return
	}
	var numbers [2]int
	for i, v := range list.Content {
		value := d.follow(v)
		number, err := strconv.Atoi(value.Value)
		if value.Kind != yaml.ScalarNode || err != nil {
			d.wrong(v, d.path, "at: %s; row and column are whole numbers, [2, 3]", whatIs(value))
			return
		}
		numbers[i] = number
	}
	c := event.MapCell{Row: numbers[0], Column: numbers[1]}
	if !d.can("at", event.ZonePlanned{Zone: "x", Area: unit.As[unit.Area]{SI: 1}, At: &c}) {
		return
	}
	if other := taken[c]; other != nil {
		d.wrong(n, d.path,
			"at: row %d, column %d of the map is %s already, at line %d; each zone has a cell of its own", c.Row,
			c.Column, other.path, other.of["at"].Line)
		return
	}
	b.At, taken[c] = &c, d
}

func (d *draft) readCoats(mixes []string, mixesRead bool) {
	switch {
	case d.of["coats"] == nil && d.of["like"] == nil:
		d.wrong(d.node, d.path, "coats is missing; list them, or say \"like: A1\" for those of another zone")
		return
	case d.of["coats"] != nil && d.of["like"] != nil:
		d.wrong(d.of["like"], d.path, "like and coats are both there; the coats are its own or another zone's")
	}
	if d.of["coats"] == nil {
		d.like, _ = d.text("like")
		return
	}
	var numbers [3][]int // as given, by face
	d.items("coats", MostCoats, func(i int, n *yaml.Node) {
		path := d.path + ", coat " + strconv.Itoa(i)
		c, ok := d.fields.fields(n, path, "face", "number", "thickness", "mix")
		if !ok {
			return
		}
		c.need("thickness", "mix")
		b := event.CoatPlanned{Coat: event.Coat{Zone: d.zone}}
		face, at := words(c, "face", event.ParseFace)
		b.Coat.Face = face
		if c.of["face"] != nil && at == nil {
			return
		}
		try := func() event.CoatPlanned {
			return event.CoatPlanned{
				Coat: event.Coat{Zone: "x", Number: 1}, Thickness: unit.As[unit.Length]{SI: 0.01},
				Mix: "x",
			}
		}
		b.Coat.Number = len(numbers[face]) + 1
		if c.of["number"] != nil {
			b.Coat.Number = c.whole("number")
			t := try()
			if t.Coat.Number = b.Coat.Number; b.Coat.Number > 0 {
				c.can("number", t)
				if k := slices.Index(numbers[face], b.Coat.Number); k >= 0 {
					c.wrong(c.of["number"], path, "number %d is there already%s", b.Coat.Number, onFace(face))
				}
			}
		}
		numbers[face] = append(numbers[face], b.Coat.Number)
		if q := quantity(c, "thickness", unit.ParseLength); q != nil {
			b.Thickness = *q
			t := try()
			t.Thickness = *q
			c.can("thickness", t)
		}
		mix, at := c.text("mix")
		if b.Mix = event.Mix(mix); at != nil && mixesRead && !known(mixes, mix) {
			c.wrong(at, path, "mix %s is not planned%s", named(mix), c.offer(mix, mixes))
		}
		d.coats = append(d.coats, b)
	})
	d.gaps(numbers)
}

// gaps says which numbers are left out: a coat that is forgotten in the plan is one that nobody places.
func (d *draft) gaps(numbers [3][]int) {
	for face, given := range numbers {
		if len(given) == 0 || slices.Contains(given, 0) {
			continue
		}
		var missing []string
		for n := 1; n < min(slices.Max(given), event.MaxCoats+1) && len(missing) < 10; n++ {
			if !slices.Contains(given, n) {
				missing = append(missing, strconv.Itoa(n))
			}
		}
		if len(missing) > 0 {
			d.wrong(d.of["coats"], d.path,
				"coats%s are numbered up to %d, and %s is missing; they go 1, 2, 3 … as they are placed",
				onFace(event.Face(face)),
				slices.Max(given), strings.Join(missing, ", "))
		}
	}
	if len(numbers[event.AnyFace]) > 0 && len(numbers[event.Outer])+len(numbers[event.Inner]) > 0 {
		d.wrong(d.of["coats"], d.path, "some coats name their face and some do not; say outer or inner for each")
	}
}

func onFace(f event.Face) string {
	if f == event.AnyFace {
		return ""
	}
	return fmt.Sprintf(" on the %s face", f)
}

// resolve follows "like" to the zone that has coats of its own. A loop is told once, at the zone of it that comes
// first.
func (d *draft) resolve(all map[string]*draft, names []string) []event.CoatPlanned {
	from, way, passed := d, []string{string(d.zone)}, map[string]bool{string(d.zone): true}
	for first := true; from.like != ""; {
		next := all[from.like]
		switch {
		case next == nil:
			if from == d {
				d.wrong(d.of["like"], d.path, "like: zone %s is not planned%s", named(d.like), d.offer(d.like, names))
			}
			return nil
		case passed[from.like]:
			if from.like == string(d.zone) && first {
				d.wrong(d.of["like"], d.path, "like goes round in a loop: %s → %s; one of them needs coats of its own",
					strings.Join(shortened(way), " → "), d.zone)
			}
			return nil
		}
		first = first && next.place > d.place
		passed[from.like] = true
		way = append(way, from.like)
		from = next
	}
	coats := slices.Clone(from.coats)
	for i := range coats {
		coats[i].Coat.Zone = d.zone
	}
	return coats
}

// shortened leaves out the middle of a long way.
func shortened(way []string) []string {
	if len(way) <= 8 {
		return way
	}
	return slices.Concat(way[:4], []string{"…"}, way[len(way)-3:])
}
