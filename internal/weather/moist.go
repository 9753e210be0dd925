package weather

import (
	"fmt"
	"time"
)

// Cement is the class of cement by which the moist-cure periods go.
type Cement int

const (
	OrdinaryCement  Cement = iota
	HighEarlyCement        // Type III
	TypeIICement
	TypeIVCement
	TypeVCement
)

// WarmEnoughToCure is what a surface must have for its moist curing to count: 50 °F, 10 °C.
var WarmEnoughToCure = Degrees{C: 10, F: 50}

// MoistCureSource is the rule behind MoistCure.
var MoistCureSource = Source{
	Name: "moist cure", Text: "7 days, 3 for high-early cement, at 50 °F (10 °C) or warmer; 10 days for Type II, 14 for Type IV and V",
	Published: "ACI 318 (7 and 3 days); ACI 308R (10 and 14)", FromMemory: true,
}

// MoistCure is how long a surface is kept wet, at WarmEnoughToCure or warmer, by its cement.
func MoistCure(c Cement) (time.Duration, error) {
	days := [...]int{OrdinaryCement: 7, HighEarlyCement: 3, TypeIICement: 10, TypeIVCement: 14, TypeVCement: 14}
	if c < 0 || int(c) >= len(days) {
		return 0, fmt.Errorf("no moist-cure period for cement %d; name ordinary, high-early, Type II, IV or V", int(c))
	}
	return time.Duration(days[c]) * day, nil
}
