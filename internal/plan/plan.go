package plan

import (
	"go.yaml.in/yaml/v3"

	"hod/internal/event"
)

// Plan is what one file says: everything in the order of the file.
type Plan struct {
	Site      event.SitePlanned
	Crews     []event.CrewPlanned
	Materials []event.MaterialPlanned
	Mixes     []event.MixPlanned
	Zones     []event.ZonePlanned
	Coats     []event.CoatPlanned
	Edges     []event.EdgePlanned
}

// Read reads a whole plan; name is the file's, for the messages; knows says whether a time zone is one, which this
// room, having no list of them, leaves to its caller: nil takes any. The error is Mistakes, all of them.
func Read(name string, data []byte, knows func(zone string) bool) (Plan, error) {
	r := &reader{file: name, told: map[told]bool{}, knows: knows}
	var p Plan
	if top := r.document(data); top != nil {
		p = r.plan(top)
	}
	if len(r.mistakes) == 0 { // every value is sound by itself; so must each body be as a whole
		for _, b := range p.Events() {
			if err := cannot(b); err != nil {
				r.wrong(nil, What(b), "%v", err)
			}
		}
	}
	if err := r.result(); err != nil {
		return Plan{}, err
	}
	return p, nil
}

// Events are what a device writes to make this the plan of a new site, each after what it refers to.
func (p Plan) Events() []event.Body {
	all := []event.Body{p.Site}
	all = addAll(all, p.Crews)
	all = addAll(all, p.Materials)
	all = addAll(all, p.Mixes)
	all = addAll(all, p.Zones)
	all = addAll(all, p.Coats)
	return addAll(all, p.Edges)
}

func addAll[B event.Body](to []event.Body, run []B) []event.Body {
	for _, b := range run {
		to = append(to, b)
	}
	return to
}

func (r *reader) plan(top *yaml.Node) Plan {
	f, ok := r.fields(top, "", "site", "crews", "materials", "mixes", "zones", "edges")
	if !ok {
		return Plan{}
	}
	var p Plan
	f.need("site", "mixes", "zones")
	if n := f.of["site"]; n != nil {
		p.Site = r.site(n)
	}
	p.Crews = f.crews()
	p.Materials = f.materials()
	p.Mixes = f.mixes()
	z := f.zones(p.Mixes)
	p.Zones, p.Coats = z.planned, z.coats
	p.Edges = f.edges(z)
	f.crewsPlanned(p.Crews, z.names)
	return p
}

// once reports a name that was given before.
func (r *reader) once(lines map[string]int, what, name, path string, n *yaml.Node) {
	if line, twice := lines[name]; twice {
		r.wrong(n, path, "a %s of this name is there already, at line %d; each has a name of its own", what, line)
		return
	}
	lines[name] = n.Line
}
