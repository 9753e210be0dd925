package air

import (
	"time"

	"hod/internal/unit"
)

func (t *Timeline) AirAtStart(at time.Time) (unit.Celsius, string) {
	air, source := t.AirAt(at)
	return air, "batch not measured, taken at the air's temperature; " + source
}
