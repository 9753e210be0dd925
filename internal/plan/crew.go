package plan

import (
	"go.yaml.in/yaml/v3"

	"hod/internal/event"
)

func (f fields) crews() []event.CrewPlanned {
	var all []event.CrewPlanned
	lines := map[string]int{}
	f.items("crews", MostCrews, func(i int, n *yaml.Node) {
		path := f.place("crew", i, n)
		c, ok := f.fields(n, path, "name", "full_name", "people")
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
		all = append(all, b)
	})
	return all
}
