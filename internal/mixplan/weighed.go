package mixplan

import (
	"fmt"

	"hod/internal/trade/mix"
	"hod/internal/unit"
)

// Weighed is what to weigh of a mix in a batch of another size, its sands at a total moisture of their dry mass: more
// of the sand, and less of the water, by what the sand brings.
func Weighed(m mix.Mix, scale float64, moisture unit.Share) (mix.Batch, error) {
	at, err := m.Scaled(scale)
	if err != nil {
		return mix.Batch{}, fmt.Errorf("at this size: %w", err)
	}
	wet := map[string]unit.Share{}
	for _, c := range at.Constituents {
		if c.Kind == mix.Sand {
			wet[c.Name] = moisture
		}
	}
	weighed, err := at.AtMoisture(wet)
	if err != nil {
		return mix.Batch{}, fmt.Errorf("at this moisture: %w", err)
	}
	return weighed, nil
}
