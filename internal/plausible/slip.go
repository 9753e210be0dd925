package plausible

import (
	"math"
	"strconv"
	"strings"

	"hod/internal/unit"
)

// dimension is a set of units whose numbers are taken for one another.
type dimension []written

// written is one unit: how it is written, and what a number of it is in SI.
type written struct {
	name   string
	us     bool
	factor float64
	zero   float64 // SI of 0, of temperatures
}

func (w written) si(number float64) float64 { return number*w.factor + w.zero }

func (w written) number(si float64) float64 { return (si - w.zero) / w.factor }

var (
	temperature = dimension{{"°C", false, 1, 0}, {"°F", true, 5.0 / 9, -160.0 / 9}}
	share       = dimension{{"%", false, 0.01, 0}, {"", false, 1, 0}}
	speed       = dimension{
		{"m/s", false, 1, 0},
		{"km/h", false, 1 / 3.6, 0},
		{"mph", true, float64(unit.MilePerHour), 0},
		{"kn", false, 1852.0 / 3600, 0},
	}
	depth  = dimension{{"mm", false, 1e-3, 0}, {"in", true, float64(unit.Inch), 0}, {"cm", false, 1e-2, 0}}
	length = dimension{
		{"mm", false, 1e-3, 0},
		{"in", true, float64(unit.Inch), 0},
		{"cm", false, 1e-2, 0},
		{"m", false, 1, 0},
		{"ft", true, float64(unit.Foot), 0},
	}
	sunlight = dimension{{"W/m²", false, 1, 0}, {"kW/m²", false, 1000, 0}}
	density  = dimension{
		{"kg/m³", false, 1, 0},
		{"lb/ft³", true, float64(unit.PoundPerCubicFoot), 0},
		{"lb/yd³", true, float64(unit.PoundPerCubicFoot) / 27, 0},
	}
	perSecond = dimension{
		{"L/s", false, 1e-3, 0},
		{"L/min", false, 1e-3 / 60, 0},
		{"gal/min", true, float64(unit.Gallon) / 60, 0},
	}
	pressure = dimension{{"MPa", false, 1e6, 0}}
	mass     = dimension{
		{"kg", false, 1, 0},
		{"lb", true, float64(unit.Pound), 0},
		{"g", false, 1e-3, 0},
		{"oz", true, float64(unit.Ounce), 0},
	}
	volume = dimension{
		{"L", false, 1e-3, 0},
		{"gal", true, float64(unit.Gallon), 0},
		{"qt", true, float64(unit.Quart), 0},
		{"mL", false, 1e-6, 0},
		{"fl oz", true, float64(unit.FluidOunce), 0},
		{"ft³", true, float64(unit.CubicFoot), 0},
	}
	// massOrVolume stands for the two: an amount is one or the other.
	massOrVolume = dimension(nil)
	force        = dimension{{"kN", false, 1e3, 0}, {"lbf", true, float64(unit.PoundForce), 0}, {"N", false, 1, 0}}
)

// Reading is a value as it would be written.
type Reading struct {
	SI   float64
	Text string // 85 °F
}

// Doubt is a value that the trade does not know, with the reading of the same number that it does know, if there is
// one.
type Doubt struct {
	What   string // air temperature, thickness, sand
	Said   string // 85 °C
	Why    string // is hotter than any air (57 °C at most)
	Other  *Reading
	Source string
	Number float64 // as it was written
}

// String is the doubt in a sentence without its end.
func (d Doubt) String() string {
	text := d.What + " " + d.Said + " " + d.Why
	if d.Other != nil {
		text += "; " + d.Other.Text + " would fit"
	}
	return text
}

// as finds how a value was written: by the words typed if they say a plain number of a unit; else in the system's own
// unit, unless it is a round number of another only.
func (d dimension) as(si float64, entered string, us bool) (written, float64) {
	number, _ := strconv.ParseFloat(strings.TrimRight(leading(entered), "."), 64)
	typed, own, even := -1, -1, -1
	for i, w := range d {
		if number != 0 && near(w.si(number), si) && typed < 0 {
			typed = i
		}
		if w.us == us && own < 0 {
			own = i
		}
		if even < 0 && isRound(w.number(si)) {
			even = i
		}
	}
	i := max(own, 0)
	switch {
	case typed >= 0:
		i = typed
	case even >= 0 && !isRound(d[i].number(si)):
		i = even
	}
	return d[i], round(d[i].number(si))
}

// isRound says of a number that somebody may have typed it: it has four figures at most.
func isRound(x float64) bool {
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 4, 64), 64)
	return err == nil && near(short, x)
}

// leading is the number that a text begins with.
func leading(s string) string {
	s = strings.ReplaceAll(strings.TrimSpace(s), "\u2212", "-")
	n := 0
	for n < len(s) && (s[n] >= '0' && s[n] <= '9' || s[n] == '.' || s[n] == '-' && n == 0) {
		n++
	}
	return s[:n]
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-6*max(math.Abs(a), math.Abs(b), 1e-9) }

// round takes away what a change of units leaves behind the sixth figure.
func round(x float64) float64 {
	r, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 6, 64), 64)
	if err != nil {
		return x
	}
	return r
}

func (w written) text(number float64) string {
	switch w.name {
	case "": // a share is said in per cent
		return figures(100*number) + "%"
	case "%":
		return figures(number) + "%"
	}
	return figures(number) + " " + w.name
}

// about is a value in SI to three figures.
func (w written) about(si float64) string {
	short, err := strconv.ParseFloat(strconv.FormatFloat(w.number(si), 'g', 3, 64), 64)
	if err != nil {
		return w.text(w.number(si))
	}
	return w.text(short)
}

func figures(x float64) string { return strconv.FormatFloat(round(x), 'g', 6, 64) }

// others are the readings of the same number in the other units.
func (d dimension) others(number float64, not written, us bool) []Reading {
	var all []Reading
	for _, first := range []bool{true, false} { // the other system's units are taken for its own first
		for _, w := range d {
			if w == not || (w.us != not.us) != first {
				continue
			}
			all = append(all, Reading{w.si(number), w.text(number)})
		}
	}
	return all
}

// Judge a value in SI, with the words in which it was given, if any; true if it is doubtful.
func (r Range) Judge(si float64, entered string, sys unit.System) (Doubt, bool) {
	why := ""
	switch {
	case si < r.Lo:
		why = r.Below
	case si > r.Hi:
		why = r.Above
	default:
		return Doubt{}, false
	}
	w, number := r.of.as(si, entered, sys == unit.US)
	d := Doubt{What: r.Name, Said: w.text(number), Source: r.Source, Number: number}
	lo, hi := w.text(w.number(r.Lo)), w.text(w.number(r.Hi))
	d.Why = "is " + why + " (" + lo + " to " + hi + ")"
	for _, o := range r.of.others(number, w, sys == unit.US) {
		if o.SI >= r.Lo && o.SI <= r.Hi {
			d.Other = &o
			break
		}
	}
	return d, true
}

// Amount says whether an amount is by volume, for Charge.
type Amount struct {
	SI       float64 // kg, or m³
	ByVolume bool
	Entered  string
}

// Judge a value in SI against what was designed; true if it is doubtful.
func (r Ratio) Judge(si, designed float64, entered string, sys unit.System) (Doubt, bool) {
	return r.judge(r.of, si, designed, entered, sys)
}

// JudgeAmount is Judge of an amount, by mass or by volume; designed is in the same.
func (r Ratio) JudgeAmount(what string, a Amount, designed float64, sys unit.System) (Doubt, bool) {
	of := mass
	if a.ByVolume {
		of = volume
	}
	d, doubtful := r.judge(of, a.SI, designed, a.Entered, sys)
	d.What = what
	return d, doubtful
}

func (r Ratio) judge(of dimension, si, designed float64, entered string, sys unit.System) (Doubt, bool) {
	if si == 0 || designed <= 0 {
		return Doubt{}, false
	}
	ratio := si / designed
	w, number := of.as(si, entered, sys == unit.US)
	d := Doubt{What: r.Name, Said: w.text(number), Source: r.Source, Number: number}
	if ratio >= r.NearLo && ratio <= r.NearHi {
		return Doubt{}, false
	}
	for _, o := range of.others(number, w, sys == unit.US) {
		if x := o.SI / designed; x >= r.FitLo && x <= r.FitHi &&
			(d.Other == nil || away(x) < away(d.Other.SI/designed)) {
			d.Other = &o
		}
	}
	if d.Other == nil && ratio >= r.Lo && ratio <= r.Hi {
		return Doubt{}, false
	}
	why := r.High
	if ratio < 1 {
		why = r.Low
	}
	d.Why = "is " + strings.Replace(why, "%s", w.about(designed), 1)
	return d, true
}

// away is how far a ratio is from one, up or down.
func away(ratio float64) float64 { return math.Abs(math.Log(ratio)) }

// Load judges a load by the strength that it would be of specimens of an area.
func Load(newtons, area float64, entered string, sys unit.System) (Doubt, bool) {
	if _, doubtful := Strength.Judge(newtons/area, "", unit.Metric); !doubtful {
		return Doubt{}, false
	}
	w, number := force.as(newtons, entered, sys == unit.US)
	beyond := Strength.Above
	if newtons/area < Strength.Lo {
		beyond = Strength.Below
	}
	d := Doubt{
		What: "load", Said: w.text(number), Number: number, Source: Strength.Source,
		Why: "makes " + sys.Pressure(unit.Pressure(newtons/area)) + ", " + beyond,
	}
	for _, o := range force.others(number, w, sys == unit.US) {
		if p := o.SI / area; p >= Strength.Lo && p <= Strength.Hi {
			d.Other = &o
			break
		}
	}
	return d, true
}

// Weight judges a unit weight by the air that it leaves in a batch whose materials alone, without air, weigh airFree
// and which was designed for a share of air (ASTM C138: air = 1 − D/T).
func Weight(d, airFree unit.Density, designed unit.Share, entered string, sys unit.System) (Doubt, bool) {
	air := func(d float64) float64 { return 1 - d/float64(airFree) }
	if airFree <= 0 || HoldsAir(air(float64(d)), float64(designed)) {
		return Doubt{}, false
	}
	w, number := density.as(float64(d), entered, sys == unit.US)
	most := max(MostAir, float64(designed)+BeyondAir)
	doubt := Doubt{
		What: UnitWeight.Name, Said: w.text(number), Number: number, Source: AirSource,
		Why: "leaves " + percent(air(float64(d))) + " air in the batch, and such a mix holds " + percent(LeastAir) +
			" to " + percent(most),
	}
	for _, o := range density.others(number, w, sys == unit.US) {
		if HoldsAir(air(o.SI), float64(designed)) {
			doubt.Other = &o
			break
		}
	}
	return doubt, true
}

func percent(x float64) string { return strconv.FormatFloat(100*x, 'f', 0, 64) + " %" }

// Weighed is a filled measure and an empty one with the same numbers in another unit, the first in which they fit.
func Weighed(gross unit.As[unit.Mass], tare *unit.As[unit.Mass], sys unit.System,
	fits func(gross, tare unit.Mass) bool,
) (newGross, newTare unit.As[unit.Mass], ok bool) {
	w, number := mass.as(float64(gross.SI), gross.Entered, sys == unit.US)
	for _, o := range mass.others(number, w, sys == unit.US) {
		newGross = unit.As[unit.Mass]{SI: unit.Mass(o.SI), Entered: o.Text}
		newTare = unit.As[unit.Mass]{}
		if tare != nil && tare.SI != 0 {
			_, empty := mass.as(float64(tare.SI), tare.Entered, sys == unit.US)
			for _, t := range mass.others(empty, w, sys == unit.US) {
				if strings.TrimPrefix(t.Text, figures(empty)) == strings.TrimPrefix(o.Text, figures(number)) {
					newTare = unit.As[unit.Mass]{SI: unit.Mass(t.SI), Entered: t.Text}
				}
			}
		}
		if newGross.SI > newTare.SI && fits(newGross.SI, newTare.SI) {
			return newGross, newTare, true
		}
	}
	return gross, unit.As[unit.Mass]{}, false
}
