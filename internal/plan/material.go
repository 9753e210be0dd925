package plan

import (
	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/unit"
)

// MostMaterials is how many a plan may have.
const MostMaterials = 200

func (f fields) materials() []event.MaterialPlanned {
	var all []event.MaterialPlanned
	lines := map[string]int{}
	f.items("materials", MostMaterials, func(i int, n *yaml.Node) {
		path := f.place("material", i, n)
		m, ok := f.fields(n, path, "name", "bulk", "bag")
		if !ok {
			return
		}
		m.need("name")
		name, at := m.text("name")
		if at == nil {
			return
		}
		b := event.MaterialPlanned{Material: event.Material(name)}
		m.can("name", b)
		f.once(lines, "material", name, path, n)
		b.Bulk = quantity(m, "bulk", unit.ParseDensity)
		m.can("bulk", event.MaterialPlanned{Material: "x", Bulk: b.Bulk})
		b.Bag = quantity(m, "bag", unit.ParseMass)
		m.can("bag", event.MaterialPlanned{Material: "x", Bag: b.Bag})
		if b.Bulk == nil && b.Bag == nil {
			m.wrong(n, path,
				"nothing is said of it; give its loose bulk density, as 1500kg/m3, or the mass of a bag, as 25kg")
		}
		all = append(all, b)
	})
	return all
}
