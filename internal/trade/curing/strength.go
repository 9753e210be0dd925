package curing

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/gonum/stat/distuv"

	"hod/internal/unit"
)

// Form is a curve of strength over maturity.
type Form int

const (
	Hyperbolic  Form = iota + 1 // S = Su k (m - m0) / (1 + k (m - m0)); ASTM C1074 appendix, Carino
	Logarithmic                 // S = a + b log10 m; Plowman
	Exponential                 // S = Su exp(-(tau/m)^alpha); Freiesleben Hansen and Pedersen
)

var formNames = map[Form]string{Hyperbolic: "hyperbolic", Logarithmic: "logarithmic", Exponential: "exponential"}

func (f Form) String() string {
	if name, ok := formNames[f]; ok {
		return name
	}
	return fmt.Sprintf("form %d", int(f))
}

// ParseForm reads the name of a form.
func ParseForm(s string) (Form, error) {
	for _, f := range []Form{Hyperbolic, Logarithmic, Exponential} {
		if strings.EqualFold(strings.TrimSpace(s), f.String()) {
			return f, nil
		}
	}
	return 0, fmt.Errorf("form %q is not known: hyperbolic, logarithmic or exponential", s)
}

// HyperbolicStrength is Su k (m - m0)/(1 + k (m - m0)); 0 up to m0. k is in 1/unit of m.
func HyperbolicStrength(ultimate unit.Pressure, k, m0, m float64) unit.Pressure {
	return finite(ultimate * unit.Pressure(hyperbola(k, m0, m)))
}

// LogarithmicStrength is a + b log10 m; 0 where that is below 0, and for m not above 0.
func LogarithmicStrength(a, b unit.Pressure, m float64) unit.Pressure {
	if !(m > 0) {
		return 0
	}
	return finite(max(0, a+b*unit.Pressure(math.Log10(m))))
}

// ExponentialStrength is Su exp(-(tau/m)^alpha); 0 for m not above 0.
func ExponentialStrength(ultimate unit.Pressure, tau, alpha, m float64) unit.Pressure {
	return finite(ultimate * unit.Pressure(stretched(tau, alpha, m)))
}

// finite keeps what is no number from leaving the room: parameters that make one make no strength.
func finite(s unit.Pressure) unit.Pressure {
	if math.IsNaN(float64(s)) || math.IsInf(float64(s), 0) {
		return 0
	}
	return s
}

func hyperbola(k, m0, m float64) float64 {
	if !(m > m0) {
		return 0
	}
	return k * (m - m0) / (1 + k*(m-m0))
}

func stretched(tau, alpha, m float64) float64 {
	if !(m > 0) {
		return 0
	}
	return math.Exp(-math.Pow(tau/m, alpha))
}

// Point is a break: how mature the specimen was, and what it bore.
type Point struct {
	Maturity float64 // days, days of equivalent age, °C·h: any measure, the same for all points
	Strength unit.Pressure
}

// Parameter is one figure of a fitted curve.
type Parameter struct {
	Name   string
	Unit   string // "MPa", or in terms of the unit of maturity, "m"
	Value  float64
	StdErr float64
}

// Curve is a mix's own strength curve, fitted to its breaks.
type Curve struct {
	Form       Form
	Parameters []Parameter
	Covariance [][]float64   // of the parameters, in their units
	RMS        unit.Pressure // root of the mean squared residual
	// the same with the parameters allowed for: root of RSS over Freedom; the band uses this one
	Residual unit.Pressure
	Breaks   int
	Freedom  int     // breaks less parameters
	From, To float64 // the maturities that the breaks cover
	Notes    []string

	values   []float64
	quantile float64
}

// Confidence is that of the bands: 95 %, two-sided.
const Confidence = 0.95

// Student is the quantile of Student's t that a two-sided band of Confidence takes. freedom must be at least 1, else 0.
func Student(freedom int) float64 {
	if freedom < 1 {
		return 0
	}
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: float64(freedom)}.Quantile(1 - (1-Confidence)/2)
}

// Estimate is a strength off a mix's own curve. Show Caution and Scope beside it.
type Estimate struct {
	Strength unit.Pressure
	// where the mean strength lies, Confidence of the time, if the form is right; Low not below 0
	Low, High unit.Pressure
	// LowBreak and HighBreak are the same for a single further break.
	LowBreak, HighBreak unit.Pressure
	Extrapolated        bool // the breaks do not cover this maturity
}

// Fit draws form through breaks by least squares, every break counting alike.
//
// Errors: too few breaks (one more than the form has parameters is the least, at as many different maturities as it has
// parameters), all of one age, a strength or maturity not above 0, or breaks that do not settle the form's parameters
// (such as strengths that fall with age, or that show no sign yet of levelling off).
func Fit(form Form, breaks []Point) (Curve, error) {
	kit, ok := kits[form]
	if !ok {
		return Curve{}, fmt.Errorf("%v is not known: hyperbolic, logarithmic or exponential", form)
	}
	xs, ys, err := columns(breaks)
	if err != nil {
		return Curve{}, err
	}
	ages := slices.Clone(xs)
	slices.Sort(ages)
	ages = slices.Compact(ages)
	k := len(kit.names)
	if len(xs) < k+1 {
		are := "breaks are"
		if len(xs) == 1 {
			are = "break is"
		}
		return Curve{}, fmt.Errorf(
			"%d %s too few: the %v form has %d parameters and needs at least %d breaks to say how sure it is", len(xs),
			are, form, k, k+1)
	}
	if len(ages) == 1 {
		return Curve{}, fmt.Errorf("all %d breaks are of one age, %g: a curve needs at least %d ages", len(xs), ages[0],
			k)
	}
	if len(ages) < k {
		return Curve{}, fmt.Errorf("breaks of %d ages are too few: the %v form needs at least %d", len(ages), form, k)
	}
	if most := slices.Max(ys); most-slices.Min(ys) <= 1e-9*most {
		return Curve{}, fmt.Errorf(
			"all %d breaks have one strength, %g MPa: a curve needs strength that rises with age", len(xs), most)
	}
	sol, err := kit.solve(xs, ys)
	if err != nil {
		return Curve{}, fmt.Errorf("%v form through %d breaks: %w; %s", form, len(xs), err, kit.advice)
	}
	c := Curve{
		Form: form, Breaks: len(xs), Freedom: sol.freedom, From: ages[0], To: ages[len(ages)-1],
		RMS:      unit.Pressure(math.Sqrt(sol.rss/float64(len(xs)))) * unit.Megapascal,
		Residual: unit.Pressure(math.Sqrt(sol.rss/float64(sol.freedom))) * unit.Megapascal,
		values:   sol.p, quantile: Student(sol.freedom),
	}
	for i, name := range kit.names {
		c.Parameters = append(c.Parameters, Parameter{
			Name: name, Unit: kit.units[i], Value: sol.p[i],
			StdErr: math.Sqrt(sol.covariance.At(i, i)),
		})
		c.Covariance = append(c.Covariance, slices.Clone(sol.covariance.RawRowView(i)))
	}
	c.Notes = kit.doubts(c)
	for _, p := range c.Parameters {
		if p.StdErr > math.Abs(p.Value) && p.Name != "start" && p.Name != "a" { // those two may well be near 0
			c.Notes = append(c.Notes,
				fmt.Sprintf(
					"the breaks do not settle %s: it may be off by more than itself; breaks at other ages, or another form, would", p.Name))
		}
	}
	return c, nil
}

func columns(breaks []Point) (xs, ys []float64, err error) {
	for i, b := range breaks {
		if !(b.Maturity > 0) || b.Maturity > 1e9 {
			return nil, nil, fmt.Errorf("break %d has maturity %g: it must be above 0", i+1, b.Maturity)
		}
		if mpa := float64(b.Strength / unit.Megapascal); !(mpa > 0) || mpa > 1000 {
			return nil, nil, fmt.Errorf("break %d has strength %g MPa: it must be above 0 and at most 1000", i+1, mpa)
		}
		xs = append(xs, b.Maturity)
		ys = append(ys, float64(b.Strength/unit.Megapascal))
	}
	return xs, ys, nil
}

// At is the strength at a maturity, in the measure that the breaks had. At or below the curve's start it is 0 with no
// band. An error where m is below 0 or no number.
func (c Curve) At(m float64) (Estimate, error) {
	if !(m >= 0) || m > 1e9 {
		return Estimate{}, fmt.Errorf("maturity %g must be 0 or above", m)
	}
	kit, ok := kits[c.Form]
	if !ok || len(c.values) == 0 {
		return Estimate{}, errors.New("this curve was fitted to nothing: make one with Fit")
	}
	e := Estimate{Extrapolated: m < c.From || m > c.To}
	if m == 0 {
		return e, nil
	}
	s := kit.model.value(c.values, m)
	gradient := make([]float64, len(c.values))
	kit.model.gradient(c.values, m, gradient)
	variance := 0.0
	for i, gi := range gradient {
		for j, gj := range gradient {
			variance += gi * gj * c.Covariance[i][j]
		}
	}
	curve := c.quantile * math.Sqrt(max(0, variance))
	residual := float64(c.Residual / unit.Megapascal)
	single := c.quantile * math.Sqrt(max(0, variance)+residual*residual)
	if math.IsNaN(s) || math.IsInf(single, 0) || math.IsNaN(single) {
		return Estimate{}, fmt.Errorf("the %v curve has no strength at maturity %g; its breaks run from %g to %g",
			c.Form, m, c.From, c.To)
	}
	mpa := func(x float64) unit.Pressure { return unit.Pressure(max(0, x)) * unit.Megapascal }
	e.Strength, e.Low, e.High = mpa(s), mpa(s-curve), mpa(s+curve)
	e.LowBreak, e.HighBreak = mpa(s-single), mpa(s+single)
	return e, nil
}

// Reaches is the maturity at which the curve has a strength, and whether it ever has. Read off the middle of the band.
func (c Curve) Reaches(strength unit.Pressure) (float64, bool) {
	s := float64(strength / unit.Megapascal)
	if !(s > 0) || len(c.values) == 0 {
		return 0, false
	}
	var m float64
	switch p := c.values; c.Form {
	case Hyperbolic:
		if s >= p[0] {
			return 0, false
		}
		m = p[2] + s/(p[1]*(p[0]-s))
	case Logarithmic:
		m = math.Pow(10, (s-p[0])/p[1])
	case Exponential:
		if s >= p[0] {
			return 0, false
		}
		m = p[1] / math.Pow(math.Log(p[0]/s), 1/p[2])
	}
	return max(m, 0), m <= 1e9 // not when m is no number
}

// formKit is what a form needs to be fitted.
type formKit struct {
	names, units []string
	model        model
	solve        func(xs, ys []float64) (solution, error)
	doubts       func(Curve) []string
	advice       string
}

var kits = map[Form]formKit{
	Hyperbolic: {
		names: []string{"ultimate", "rate", "start"}, units: []string{"MPa", "1/m", "m"},
		model: hyperbolicModel, solve: solveHyperbolic, doubts: doubtUltimate,
		advice: "breaks at five ages, the last well past where strength levels off, settle it",
	},
	Logarithmic: {
		names: []string{"a", "b"}, units: []string{"MPa", "MPa"},
		model: logarithmicModel, solve: solveLogarithmic, doubts: func(Curve) []string { return nil },
		advice: "strength must rise with age",
	},
	Exponential: {
		names: []string{"ultimate", "tau", "alpha"}, units: []string{"MPa", "m", "1"},
		model: exponentialModel, solve: solveExponential, doubts: doubtUltimate,
		advice: "breaks at five ages, the last well past where strength levels off, settle it",
	},
}

// doubtUltimate warns of a curve whose last break is far below where it would level off.
func doubtUltimate(c Curve) []string {
	var notes []string
	if c.values[0] > 0 && c.Parameters[0].StdErr > 0.25*c.values[0] {
		notes = append(notes, fmt.Sprintf(
			"the ultimate strength is hardly known (%.3g ± %.2g MPa): the breaks end too early", c.values[0],
			c.Parameters[0].StdErr))
	}
	if c.Form == Hyperbolic && c.values[2] < 0 {
		notes = append(notes,
			"the curve begins before the mix was made: an early break would show where strength starts")
	}
	return notes
}

var hyperbolicModel = model{
	value: func(p []float64, x float64) float64 { return p[0] * hyperbola(p[1], p[2], x) },
	gradient: func(p []float64, x float64, into []float64) {
		if !(x > p[2]) {
			clear(into)
			return
		}
		d := 1 + p[1]*(x-p[2])
		into[0] = p[1] * (x - p[2]) / d
		into[1] = p[0] * (x - p[2]) / (d * d)
		into[2] = -p[0] * p[1] / (d * d)
	},
}

var logarithmicModel = model{
	value:    func(p []float64, x float64) float64 { return p[0] + p[1]*math.Log10(x) },
	gradient: func(_ []float64, x float64, into []float64) { into[0], into[1] = 1, math.Log10(x) },
}

var exponentialModel = model{
	value: func(p []float64, x float64) float64 { return p[0] * stretched(p[1], p[2], x) },
	gradient: func(p []float64, x float64, into []float64) {
		e := stretched(p[1], p[2], x)
		u := math.Pow(p[1]/x, p[2])
		into[0] = e
		into[1] = -p[0] * e * u * p[2] / p[1]
		into[2] = -p[0] * e * u * math.Log(p[1]/x)
	},
}

func solveLogarithmic(xs, ys []float64) (solution, error) {
	sol, err := leastSquares(logarithmicModel, xs, ys, []float64{ys[0], 1})
	if err == nil && !(sol.p[1] > 0) {
		return solution{}, errors.New("strength falls with age")
	}
	return sol, err
}

func solveHyperbolic(xs, ys []float64) (solution, error) {
	first, last := slices.Min(xs), slices.Max(xs)
	m := hyperbolicModel
	// The curve must have begun before the first break, and its start may not run off into the past.
	m.allowed = func(p []float64) bool {
		return p[0] > 0 && p[1] > 0 && p[2] < first && p[2] > -last && p[0] < 1e4
	}
	var starts [][2]float64
	for _, m0 := range []float64{0, 0.5 * first, 0.9 * first, -0.5 * first} {
		for k := 0.01 / last; k < 1000/first; k *= 2 {
			starts = append(starts, [2]float64{k, m0})
		}
	}
	return fromBest(m, xs, ys, starts, hyperbola, func(s [2]float64, su float64) []float64 {
		return []float64{su, s[0], s[1]}
	})
}

func solveExponential(xs, ys []float64) (solution, error) {
	first, last := slices.Min(xs), slices.Max(xs)
	m := exponentialModel
	m.allowed = func(p []float64) bool {
		return p[0] > 0 && p[1] > 0 && p[2] > 0.02 && p[2] < 20 && p[0] < 1e4 && p[1] < 1e3*last
	}
	var starts [][2]float64
	for _, alpha := range []float64{0.3, 0.5, 0.8, 1.2, 2, 4} {
		for tau := 0.05 * first; tau < 20*last; tau *= 1.6 {
			starts = append(starts, [2]float64{tau, alpha})
		}
	}
	return fromBest(m, xs, ys, starts, stretched, func(s [2]float64, su float64) []float64 {
		return []float64{su, s[0], s[1]}
	})
}

// fromBest starts leastSquares where a coarse grid of the two parameters that are not linear, each with its best
// ultimate strength, comes closest.
func fromBest(m model, xs, ys []float64, starts [][2]float64, shape func(a, b, x float64) float64,
	pack func([2]float64, float64) []float64,
) (solution, error) {
	best, from := math.Inf(1), []float64(nil)
	for _, s := range starts {
		var sy, ss float64
		for i, x := range xs {
			v := shape(s[0], s[1], x)
			sy += v * ys[i]
			ss += v * v
		}
		if !(ss > 0) || !(sy > 0) {
			continue
		}
		p := pack(s, sy/ss)
		rss := 0.0
		for i, x := range xs {
			r := ys[i] - m.value(p, x)
			rss += r * r
		}
		if rss < best && m.allowed(p) {
			best, from = rss, p
		}
	}
	if from == nil {
		return solution{}, errNoConvergence
	}
	return leastSquares(m, xs, ys, from)
}
