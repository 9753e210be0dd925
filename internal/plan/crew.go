package plan

import (
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
)

func (f fields) crews() []event.CrewPlanned {
	var all []event.CrewPlanned
	lines := map[string]int{}
	f.items("crews", MostCrews, func(i int, n *yaml.Node) {
		path := f.place("crew", i, n)
		c, ok := f.fields(n, path, "name", "full_name", "people", "zones")
		if !ok {
			return
		}
		c.need("name")
		name, at := c.text("name")
		if at == nil {
			return
		}
		b := event.CrewPlanned{Crew: event.Crew(name)}
		c.can("name", b)
		f.once(lines, "crew", name, path, n)
		b.Name, _ = c.text("full_name")
		c.can("full_name", event.CrewPlanned{Crew: "x", Name: b.Name})
		b.People = c.whole("people")
		c.can("people", event.CrewPlanned{Crew: "x", People: b.People})
		c.crewZones(&b)
		all = append(all, b)
	})
	return all
}

// crewZones reads the zones that a crew works on: names, or "any" for the next coat of one list that crews share.
func (f fields) crewZones(b *event.CrewPlanned) {
	n := f.of["zones"]
	if n == nil {
		return
	}
	if f.follow(n).Kind == yaml.ScalarNode {
		if s, at := f.text("zones"); at != nil && s != "any" {
			f.wrong(at, f.path,
				"zones %s is neither a list of zones, as [A1, A2], nor any, which is the next coat of the common list",
				quoted(s))
		}
		b.FromList = true
		return
	}
	f.items("zones", event.MaxRun, func(_ int, n *yaml.Node) {
		v := f.follow(n)
		if v.Kind != yaml.ScalarNode {
			f.wrong(n, f.path, "zones: %s; each is the name of a zone, as [A1, A2]", whatIs(v))
			return
		}
		z := event.Zone(strings.TrimSpace(v.Value))
		if slices.Contains(b.Zones, z) {
			f.wrong(n, f.path, "zone %s is named twice", named(string(z)))
			return
		}
		b.Zones = append(b.Zones, z)
		f.crewsZones = append(f.crewsZones, crewsZone{n, f.path, string(z)})
	})
}

// crewsZone is a zone that a crew is said to work on, with where that stands: zones are read after crews.
type crewsZone struct {
	node       *yaml.Node
	path, zone string
}

// crewsPlanned says which zones of crews are not planned, and which planned zones no crew works on where each crew has
// its own.
func (f fields) crewsPlanned(crews []event.CrewPlanned, names []string) {
	for _, c := range f.crewsZones {
		if !known(names, c.zone) {
			f.wrong(c.node, c.path, "zone %s is not planned%s", named(c.zone), f.offer(c.zone, names))
		}
	}
	taken := map[string]bool{}
	for _, c := range crews {
		if len(c.Zones) == 0 { // it has no zones of its own, and may take any
			return
		}
		for _, z := range c.Zones {
			taken[string(z)] = true
		}
	}
	for _, name := range names {
		if len(crews) > 0 && !taken[name] {
			f.wrong(f.of["crews"], "",
				"each crew has zones of its own, and zone %s is no crew's; give it to one, or say \"zones: any\" for a crew that takes what comes", named(name))
		}
	}
}
