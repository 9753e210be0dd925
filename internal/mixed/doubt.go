package mixed

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/mixplan"
	"hod/internal/planned"
	"hod/internal/plausible"
	"hod/internal/trade/curing"
	"hod/internal/unit"
)

// Doubtful is a value of an event that the trade does not know, and how many more of the same quantity in it are like
// it.
type Doubtful struct {
	plausible.Doubt
	More int
}

// String is the doubt in a sentence without its end.
func (d Doubtful) String() string {
	if d.More == 0 {
		return d.Doubt.String()
	}
	return fmt.Sprintf("%s (and %s like it)", d.Doubt, unit.Count(d.More, "more value", "more values"))
}

// Doubts are the values of a body, as of an instant, that are beyond what the trade knows: one of each quantity. Where
// the same number in another unit would fit for all of a quantity, the first says which.
func (s *Mixing) Doubts(body event.Body, at time.Time) []Doubtful {
	s.computeDoubted(body)
	return s.DoubtsOf(body, at)
}

// computeDoubted brings up to date what the values of a body are held against.
func (s *Mixing) computeDoubted(body event.Body) {
	s.ComputePlan()
	if a, is := body.(event.Amended); is {
		body = a.Body
	}
	if t, is := body.(event.BatchTested); is {
		s.Batch(t.Batch)
	}
}

// DoubtsOf are Doubts where what they are held against is up to date.
func (s *Mixing) DoubtsOf(body event.Body, at time.Time) []Doubtful {
	var all []Doubtful
	s.eachDoubt(body, at, func(d plausible.Doubt) *plausible.Reading {
		for i := range all {
			if all[i].What == d.What {
				if all[i].More++; d.Other == nil {
					all[i].Other = nil
				}
				return nil
			}
		}
		all = append(all, Doubtful{Doubt: d})
		return nil
	})
	return all
}

// Reread is the body with every doubtful value read in the other unit, where one fits.
func (s *Mixing) Reread(body event.Body, at time.Time) event.Body {
	s.computeDoubted(body)
	var meant []string
	body = s.eachDoubt(body, at, func(d plausible.Doubt) *plausible.Reading {
		if d.Other != nil {
			meant = append(meant, d.Other.Text)
		}
		return d.Other
	})
	if len(meant) == 0 {
		return body
	}
	switch b := body.(type) { // what was typed stays beside what was meant
	case event.WeatherObserved:
		b.Entered = withMeant(b.Entered, meant[0])
		return b
	case event.CureReadings:
		b.Entered = withMeant(b.Entered, meant[0])
		return b
	default: // the others keep what was typed with each value
		return body
	}
}

func withMeant(entered, meant string) string {
	if entered == "" {
		return ""
	}
	return entered + "; meant: " + meant
}

// instead is asked of each doubtful value and gives what is to stand in its place; nil leaves it.
type instead func(plausible.Doubt) *plausible.Reading

// eachDoubt goes through the measured values of a body and gives the body with what was put in their place. It changes
// nothing that the body points at.
func (s *Mixing) eachDoubt(body event.Body, at time.Time, in instead) event.Body {
	sys := s.Current.System
	switch b := body.(type) {
	case event.WeatherObserved:
		b.Samples = doubtWeather(b.Samples, sys, in)
		return b
	case event.WeatherForecast:
		b.Samples = doubtWeather(b.Samples, sys, in)
		return b
	case event.BatchMixed:
		b.SandMoisture = doubtAs(plausible.SandMoisture, b.SandMoisture, sys, in)
		b.Temperature = doubtAs(plausible.Mortar, b.Temperature, sys, in)
		b.SprayPerS = doubtAs(plausible.Wand, b.SprayPerS, sys, in)
		if m, _ := s.Current.MixOf(b, at); m != nil {
			b.Charges = doubtCharges(b, m, sys, in)
		}
		return b
	case event.BatchTested:
		return s.doubtTest(b, in)
	case event.Placement:
		if c, aside := s.Current.Coat(b.Coat); aside == nil {
			designed := float64(s.Current.CoatAt(c, at).Thickness.SI)
			b.Gauges = eachOf(b.Gauges, func(g unit.As[unit.Length]) unit.As[unit.Length] {
				return doubtRatio(plausible.Gauge, g, designed, sys, in)
			})
		}
		return b
	case event.CureReadings:
		b.Samples = eachOf(b.Samples, func(r event.Reading) event.Reading {
			r.Temperature = *doubt(plausible.Coat, &r.Temperature, "", sys, in)
			return r
		})
		if c, aside := s.Current.Coat(b.Coat); aside == nil && b.Depth != nil {
			b.Depth = new(doubtRatio(plausible.Depth, *b.Depth, float64(s.Current.CoatAt(c, at).Thickness.SI), sys, in))
		}
		return b
	case event.SpecimensBroken:
		return doubtBreak(b, sys, in)
	case event.CoatPlanned:
		b.Thickness = *doubtAs(plausible.Thickness, &b.Thickness, sys, in)
		return b
	case event.EdgePlanned:
		b.Length = *doubtAs(plausible.Edge, &b.Length, sys, in)
		return b
	case event.MixPlanned:
		b.UnitWeight = doubtAs(plausible.UnitWeight, b.UnitWeight, sys, in)
		b.SetReference = doubtAs(plausible.SetReference, b.SetReference, sys, in)
		return b
	case event.Amended:
		if b.Body != nil {
			b.Body = s.eachDoubt(b.Body, at, in)
		}
		return b
	default: // nothing in it is measured
		return body
	}
}

// eachOf changes each of a run, in a copy where any of them changes.
func eachOf[T comparable](run []T, change func(T) T) []T {
	out, copied := run, false
	for i, old := range run {
		if is := change(old); is != old {
			if !copied {
				out, copied = slices.Clone(run), true
			}
			out[i] = is
		}
	}
	return out
}

func doubt[Q ~float64](r plausible.Range, q *Q, entered string, sys unit.System, in instead) *Q {
	if q == nil {
		return nil
	}
	d, doubtful := r.Judge(float64(*q), entered, sys)
	if !doubtful {
		return q
	}
	if other := in(d); other != nil {
		return new(Q(other.SI))
	}
	return q
}

func doubtAs[Q ~float64](r plausible.Range, q *unit.As[Q], sys unit.System, in instead) *unit.As[Q] {
	if q == nil {
		return nil
	}
	d, doubtful := r.Judge(float64(q.SI), q.Entered, sys)
	if !doubtful {
		return q
	}
	if other := in(d); other != nil {
		return &unit.As[Q]{SI: Q(other.SI), Entered: other.Text}
	}
	return q
}

func doubtRatio[Q ~float64](r plausible.Ratio, q unit.As[Q], designed float64, sys unit.System, in instead) unit.As[Q] {
	d, doubtful := r.Judge(float64(q.SI), designed, q.Entered, sys)
	if !doubtful {
		return q
	}
	if other := in(d); other != nil {
		return unit.As[Q]{SI: Q(other.SI), Entered: other.Text}
	}
	return q
}

func doubtWeather(samples []event.Weather, sys unit.System, in instead) []event.Weather {
	return eachOf(samples, func(w event.Weather) event.Weather {
		w.Air = doubt(plausible.Air, w.Air, "", sys, in)
		w.Humidity = doubt(plausible.Humidity, w.Humidity, "", sys, in)
		w.DewPoint = doubt(plausible.DewPoint, w.DewPoint, "", sys, in)
		w.Wind = doubt(plausible.Wind, w.Wind, "", sys, in)
		w.SunWattPerM2 = doubt(plausible.Sun, w.SunWattPerM2, "", sys, in)
		w.SurfaceTemperature = doubt(plausible.Surface, w.SurfaceTemperature, "", sys, in)
		if w.RainMillimetres != nil {
			fell := unit.Length(*w.RainMillimetres) * unit.Millimetre
			if is := doubt(plausible.Rain, &fell, "", sys, in); is != &fell {
				w.RainMillimetres = new(float64(*is / unit.Millimetre))
			}
		}
		return w
	})
}

// doubtTest holds a unit weight against what the batch can hold, where it has figures.
func (s *Mixing) doubtTest(t event.BatchTested, in instead) event.BatchTested {
	sys := s.Current.System
	t.Temperature = doubtAs(plausible.Mortar, t.Temperature, sys, in)
	t.Flow = doubtAs(plausible.Flow, t.Flow, sys, in)
	meter := plausible.Meter
	st := s.ByBatch[t.Batch]
	if st == nil || st.Is == nil || st.Is.Mixed == nil || st.Is.Wrong != "" {
		t.Air = doubtAs(meter, t.Air, sys, in)
		t.UnitWeight = doubtAs(plausible.UnitWeight, t.UnitWeight, sys, in)
		return t
	}
	b := st.Is
	meter.Hi = max(meter.Hi, float64(b.designAir())+plausible.BeyondAir)
	t.Air = doubtAs(meter, t.Air, sys, in)
	weight, entered := unitWeight(t), ""
	if weight <= 0 {
		return t
	}
	if t.UnitWeight != nil {
		entered = t.UnitWeight.Entered
	}
	d, doubtful := plausible.Weight(weight, b.Figures.AirFreeUnitWeight, b.designAir(), entered, sys)
	if !doubtful {
		return t
	}
	if t.UnitWeight == nil {
		return b.doubtMeasure(t, d, sys, in)
	}
	if other := in(d); other != nil {
		t.UnitWeight = &unit.As[unit.Density]{SI: unit.Density(other.SI), Entered: other.Text}
	}
	return t
}

// doubtMeasure offers the weights of a measure in another unit, where the batch could hold the air that follows. Where
// that would not help either, nobody can tell which of the weights and volumes was wrong.
func (b *Batch) doubtMeasure(t event.BatchTested, d plausible.Doubt, sys unit.System, in instead) event.BatchTested {
	gross, tare, ok := plausible.Weighed(*t.Gross, t.Tare, sys, func(gross, tare unit.Mass) bool {
		return !b.beyond(unit.Density(float64(gross-tare) / float64(t.Measure.SI)))
	})
	d.What = "unit weight by the measure"
	if d.Other = nil; ok {
		d.Other = &plausible.Reading{SI: float64(gross.SI), Text: gross.Entered}
	}
	if other := in(d); other != nil {
		t.Gross = &gross
		if t.Tare != nil {
			t.Tare = &tare
		}
	}
	return t
}

// doubtCharges holds what went in against the mix at the size of this batch and the moisture of its sand. The size is
// the median of all constituents', so that one amount in the wrong unit does not pass for a batch of another size.
func doubtCharges(b event.BatchMixed, m *planned.Mix, sys unit.System, in instead) []event.Charge {
	expected := expectedOf(b, m)
	total, times := map[event.Material]unit.Mass{}, map[event.Material]int{}
	for _, c := range b.Charges {
		k, _ := m.Constituent(c.Constituent)
		if mass, err := mixplan.Mass(c.Amount, k); err == nil {
			total[c.Constituent] += mass
		}
		times[c.Constituent]++
	}
	var sizes []float64
	for name, mass := range total {
		if mass > 0 && expected[name] > 0 {
			sizes = append(sizes, float64(mass/expected[name]))
		}
	}
	if len(sizes) == 0 {
		return b.Charges
	}
	slices.Sort(sizes)
	size := unit.Mass(sizes[(len(sizes)-1)/2])
	return eachOf(b.Charges, func(c event.Charge) event.Charge {
		k, _ := m.Constituent(c.Constituent)
		one, err := mixplan.Mass(event.Amount{Volume: 1, ByVolume: true}, k)
		designed := float64(expected[c.Constituent] * size)
		if times[c.Constituent] > 1 || c.Amount.ByVolume && (err != nil || one <= 0) {
			return c // it went in in parts, and a part may be any
		}
		a := plausible.Amount{SI: float64(c.Amount.Mass), Entered: c.Amount.Entered}
		if c.Amount.ByVolume {
			a, designed = plausible.Amount{SI: float64(c.Amount.Volume), ByVolume: true, Entered: c.Amount.Entered},
				designed/float64(one)
		}
		d, doubtful := plausible.Charge.JudgeAmount(string(c.Constituent), a, designed, sys)
		if !doubtful {
			return c
		}
		if other := in(d); other != nil {
			if c.Amount.Entered = other.Text; c.Amount.ByVolume {
				c.Amount.Volume = unit.Volume(other.SI)
			} else {
				c.Amount.Mass = unit.Mass(other.SI)
			}
		}
		return c
	})
}

// expectedOf is what the mix takes of each constituent, sand and water at the moisture that was written.
func expectedOf(b event.BatchMixed, m *planned.Mix) map[event.Material]unit.Mass {
	all, moisture := map[event.Material]unit.Mass{}, map[string]unit.Share{}
	for _, c := range m.Constituents {
		if mass, err := mixplan.Mass(c.Amount, c); err == nil {
			all[c.Name] = mass
		}
		if c.Kind == event.Sand && b.SandMoisture != nil {
			moisture[string(c.Name)] = b.SandMoisture.SI
		}
	}
	if len(moisture) == 0 {
		return all
	}
	if wet, err := m.Mix.AtMoisture(moisture); err == nil {
		for i, c := range m.Mix.Constituents {
			all[event.Material(c.Name)] = wet.Charges[i].Mass
		}
	}
	return all
}

func doubtBreak(b event.SpecimensBroken, sys unit.System, in instead) event.SpecimensBroken {
	b.Size = doubtAs(plausible.Specimen, b.Size, sys, in)
	if b.Size == nil {
		return b
	}
	one, err := StrengthOf(b, 1)
	if err != nil || one <= 0 {
		return b
	}
	b.Loads = eachOf(b.Loads, func(f unit.Force) unit.Force {
		if d, doubtful := plausible.Load(float64(f), 1/float64(one), "", sys); doubtful {
			if other := in(d); other != nil {
				return unit.Force(other.SI)
			}
		}
		return f
	})
	return b
}

// JudgeDoubts finds an event whose values the trade does not know; whoever wrote it may have been asked, and said that
// so it was.
func (s *Mixing) JudgeDoubts(r *history.Record, body event.Body) (finding.Finding, bool) {
	all := s.DoubtsOf(body, r.When)
	if len(all) == 0 {
		return finding.Finding{}, false
	}
	f := finding.Finding{
		Code: finding.DoubtfulValue, Key: r.Name.String(), Subject: r.Name.String(), Since: r.When,
		Events: []event.Name{r.Name},
	}
	var texts, sources []string
	for _, d := range all {
		texts = append(texts, d.String())
		f.Evidence = append(f.Evidence, finding.Fact{Name: d.What, Value: d.Said})
		if !slices.Contains(sources, d.Source) {
			sources = append(sources, d.Source)
		}
	}
	f.Text = fmt.Sprintf("%s, a %s: %s", r.Name, event.KindOf(body), strings.Join(texts, "; "))
	if do := rightly(r.Name, body, all); do != "" && !r.IsSure() {
		f.Do = []string{do}
	}
	f.Limit, f.Source = "what the trade knows of the quantity", strings.Join(sources, "; ")
	if r.IsSure() {
		f.Settled = "whoever wrote it was asked, and said that so it was"
	}
	return f, true
}

// amendable are the keys under which values are amended, by what a doubt is of.
var amendable = map[string]string{
	plausible.Air.Name: "air", plausible.DewPoint.Name: "dew-point", plausible.Humidity.Name: "humidity",
	plausible.Wind.Name: "wind",
	plausible.Rain.Name: "rain", plausible.Sun.Name: "sun", plausible.Surface.Name: "surface",
	plausible.Mortar.Name:     "temp",
	plausible.UnitWeight.Name: "unit-weight", plausible.SandMoisture.Name: "moisture", plausible.Flow.Name: "flow",
	plausible.Coat.Name: "temperature", plausible.Depth.Name: "depth", plausible.Specimen.Name: "size",
}

// rightly is the command that writes the other readings in the place of doubtful ones; empty where it takes more than
// one value of a kind, or no other reading fits.
func rightly(name event.Name, body event.Body, all []Doubtful) string {
	words := []string{"hod amend", name.String()}
	for _, d := range all {
		key := amendable[d.What]
		if b, ok := body.(event.BatchMixed); ok && key == "" &&
			slices.ContainsFunc(b.Charges, func(c event.Charge) bool { return string(c.Constituent) == d.What }) {
			key = d.What
		}
		if key == "" || d.Other == nil || d.More > 0 {
			return ""
		}
		words = append(words, key+"="+strings.ReplaceAll(d.Other.Text, " ", ""))
	}
	if _, forecast := body.(event.WeatherForecast); forecast {
		return ""
	}
	if b, weather := body.(event.WeatherObserved); weather && len(b.Samples) != 1 {
		return ""
	}
	return strings.Join(words, " ")
}

// StrengthOf a specimen that broke at a load.
func StrengthOf(b event.SpecimensBroken, load unit.Force) (unit.Pressure, error) {
	if b.Size == nil {
		return 0, fmt.Errorf("the size of the specimens was not written")
	}
	if b.Shape == event.Cylinder {
		c := curing.Cylinder{Diameter: b.Size.SI}
		if b.Height != nil {
			c.Length = b.Height.SI
		}
		return c.Strength(load)
	}
	return curing.Cube{Edge: b.Size.SI}.Strength(load)
}
