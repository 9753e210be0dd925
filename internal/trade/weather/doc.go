// Package weather computes what the air does to a fresh, thin layer: vapour pressure and dew point, evaporation, the
// share of the mixing water that has gone, heat for the people, and the published limits for cold and hot days.
//
// Every function takes numbers and returns numbers; inside all is SI, and a formula that was published in °F, mph or
// psi is evaluated in those units and never mixed with its metric sibling. A figure comes with the name of its form and
// its Source, and a Source says whether the document was read or is quoted from memory. Nothing here is NaN or
// infinite: an input outside what a formula can take is an error that says what would do.
//
// An evaporation estimate is a guide and never a pass or a fail: see Caution. This room does not decide when a surface
// lies uncovered, and it knows no sun and no rain.
//
// Start at Observation and UnoSI for evaporation, at Saturation for humidity, at ColdWeather for the limits.
package weather

// Caution goes beside every evaporation figure that is shown.
const Caution = "guide only: the real rate can differ by about 40 % either way; never a pass or a fail (Hover, ACI SP-338, 2020, abstract)"

// Spread is the share by which a real rate can differ from an estimate (EVAP-L4).
const Spread = 0.40

// Source says where a formula or a figure was published.
type Source struct {
	Name       string // what people call it
	Text       string // the formula or the rule, with its units
	Published  string // document, year, clause where known
	FromMemory bool   // the document was not at hand when this was written: check it before quoting it to anyone
}

// String is the line for a screen: name, document, and whether it is from memory.
func (s Source) String() string {
	if s.FromMemory {
		return s.Name + " (" + s.Published + "; from memory)"
	}
	return s.Name + " (" + s.Published + ")"
}
