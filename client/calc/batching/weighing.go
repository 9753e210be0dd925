package batching

import (
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"hod/client/calc/sheet"
	"hod/client/parse"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/mixplan"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcWeighing holds what was charged against the tolerances of a standard.
type calcWeighing struct {
	charged, sprays []string
	standard, scale string
	cumulative      bool
}

// weighingLine is one constituent against its tolerance.
type weighingLine struct {
	Name      string   `json:"name"`
	Target    float64  `json:"target_kg"`
	Charged   float64  `json:"charged_kg"`
	Deviation float64  `json:"deviation_percent"`
	Low       *float64 `json:"low_kg,omitempty"`
	High      *float64 `json:"high_kg,omitempty"`
	Within    *bool    `json:"within,omitempty"` // left out where no tolerance is known
	Source    string   `json:"source"`
}

// chargedDoc is what the batch that was charged comes to, at the mix's air.
type chargedDoc struct {
	Mass  float64 `json:"mass_kg"`
	Yield float64 `json:"yield_m3"`
	Water float64 `json:"water_kg"`
	WCm   float64 `json:"w_cm"`
}

// standards by the words that a person writes.
var standards = []struct {
	word string
	is   mixes.Standard
}{{"c94", mixes.C94}, {"c94-before-2021", mixes.C94Before2021}, {"c685", mixes.C685}}

func (q *calcWeighing) flags(f *pflag.FlagSet) {
	f.StringArrayVar(&q.charged, "charged", nil,
		"what was charged, once for each: cement=94lb; of a liquid, water=4.7gal")
	f.StringArrayVar(&q.sprays, "spray", nil, "water sprayed by a calibrated wand: 10s@1qt/4s")
	f.StringVar(&q.standard, "standard", "", "tolerances: c94 (if not said), c94-before-2021 or c685")
	f.StringVar(&q.scale, "scale", "",
		"capacity of the scale that weighs the cement; c94 asks more where it is well used")
	f.BoolVar(&q.cumulative, "cumulative", false, "sands are weighed one on top of another")
}

// judge reads the charges and holds them against the batch that the mix asks for at this moisture.
func (q calcWeighing) judge(s *sheet.Sheet, planned event.MixPlanned, m mixes.Mix, target mixes.Batch,
	doc *mixDoc,
) error {
	if len(q.charged) == 0 {
		if len(q.sprays) > 0 || q.standard != "" || q.scale != "" || q.cumulative {
			return terminal.Usagef(
				"--spray, --standard, --scale and --cumulative judge what was charged; say it with --charged")
		}
		return nil
	}
	weighing, err := q.weighing(s)
	if err != nil {
		return err
	}
	batch, err := q.batch(s, planned, m, target)
	if err != nil {
		return err
	}
	lines, err := weighing.Judge(target, batch)
	if err != nil {
		return terminal.AsUsage(err)
	}
	var none []string
	for _, j := range lines {
		q.line(s, j, doc)
		if j.Charged == 0 && j.Target > 0 {
			none = append(none, terminal.Safe(j.Name))
		}
	}
	if len(none) > 0 {
		s.Warnf("not among --charged, so taken as left out of the batch: %s; w/cm as charged counts none of it",
			strings.Join(none, ", "))
	}
	f, err := batch.Figures(unit.Share(doc.Air / 100))
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc.Charged = &chargedDoc{float64(f.Mass), float64(f.Yield), float64(f.Water.Total), f.WaterCementitious}
	s.Figuref("charged in all", "%s, yield %s at the mix's air", sheet.Both(f.Mass, unit.System.Mass),
		sheet.Both(f.Yield, unit.System.Volume))
	s.Figuref("w/cm as charged", "%s: %s of water", sheet.Decimal(f.WaterCementitious, 4),
		sheet.Both(f.Water.Total, unit.System.Mass))
	if m.WaterLimit > 0 {
		s.AtMost("w/cm as charged", "at most "+sheet.Decimal(m.WaterLimit, 3),
			unit.Round(f.WaterCementitious, 0.0005) > m.WaterLimit, "the mix's own limit")
	}
	return nil
}

// weighing is by which standard and scale the batch is judged.
func (q calcWeighing) weighing(s *sheet.Sheet) (mixes.Weighing, error) {
	weighing := mixes.Weighing{Standard: mixes.C94, Cumulative: q.cumulative}
	if q.standard != "" {
		known := false
		var words []string
		for _, w := range standards {
			words = append(words, w.word)
			if strings.EqualFold(w.word, q.standard) {
				weighing.Standard, known = w.is, true
			}
		}
		if !known {
			return weighing, terminal.Usagef("--standard: %q is not known%s", terminal.Safe(q.standard),
				terminal.Suggest(q.standard, words))
		}
	}
	s.Noted("standard", weighing.Standard.String())
	scale, err := sheet.AskedIfGiven(s, "scale", q.scale, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return weighing, err
	}
	if scale != nil {
		weighing.Scale = *scale
	}
	return weighing, nil
}

// batch is what was charged, a solid by its bulk density where it was measured by the bucket; a sand has the moisture
// that the target has.
func (q calcWeighing) batch(s *sheet.Sheet, planned event.MixPlanned, m mixes.Mix, target mixes.Batch) (mixes.Batch,
	error,
) {
	var amounts []mixes.Amount
	for _, text := range q.charged {
		name, value, ok := strings.Cut(text, "=")
		if !ok {
			return mixes.Batch{}, terminal.Usagef("--charged: %q is not a charge; it looks like cement=94lb",
				terminal.Safe(text))
		}
		var names []event.Material
		for _, c := range planned.Constituents {
			names = append(names, c.Name)
		}
		material, err := terminal.PickName("constituent of the mix", strings.TrimSpace(name), names)
		if err != nil {
			return mixes.Batch{}, sheet.FlagErr("charged", err)
		}
		name = string(material)
		c := planned.Constituents[slices.Index(names, material)]
		a, err := parse.Amount(strings.TrimSpace(value), c.Kind)
		if err != nil {
			return mixes.Batch{}, sheet.FlagErr("charged", err)
		}
		mass, err := mixplan.Mass(a, c)
		if err != nil {
			return mixes.Batch{}, sheet.FlagErr("charged", err)
		}
		s.Understood("charged "+terminal.Safe(name), value, float64(mass), "kg",
			unit.Both(unit.Metric, unit.As[unit.Mass]{SI: mass, Entered: value}, unit.System.Mass))
		one := mixes.Amount{Name: name, Mass: mass}
		for _, t := range target.Charges {
			if t.Name == name {
				one.Moisture = t.Moisture
			}
		}
		amounts = append(amounts, one)
	}
	var sprays []mixes.Spray
	for _, text := range q.sprays {
		spray, err := sprayed(s, text)
		if err != nil {
			return mixes.Batch{}, sheet.FlagErr("spray", err)
		}
		sprays = append(sprays, spray)
	}
	b, err := m.Charged(amounts, sprays...)
	return b, sheet.FlagErr("charged", err)
}

// sprayed reads 10s@1qt/4s.
func sprayed(s *sheet.Sheet, text string) (mixes.Spray, error) {
	spell, rate, ok := strings.Cut(text, "@")
	if !ok {
		return mixes.Spray{},
			terminal.Usagef("%q is not a spray; it looks like 10s@1qt/4s, the time and the rate of the wand",
				terminal.Safe(text))
	}
	var spray mixes.Spray
	var err error
	if spray.For, err = unit.ParseDuration(spell); err != nil {
		return spray, err
	}
	if spray.Rate, err = unit.ParseFlow(rate); err != nil {
		return spray, err
	}
	mass, err := spray.Mass()
	if err != nil {
		return spray, terminal.AsUsage(err)
	}
	s.Understood("spray", text, float64(mass), "kg",
		unit.Duration(spray.For)+" at "+sheet.Both(spray.Rate, unit.System.Flow)+": "+sheet.Both(mass,
			unit.System.Mass))
	return spray, nil
}

func (q calcWeighing) line(s *sheet.Sheet, j mixes.Judgement, doc *mixDoc) {
	l := weighingLine{
		Name: j.Name, Target: float64(j.Target), Charged: float64(j.Charged),
		Deviation: float64(j.Share) * 100, Source: j.Source,
	}
	s.Figuref("charged "+terminal.Safe(j.Name), "%s for %s: %s %%", sheet.Both(j.Charged, unit.System.Mass),
		sheet.Both(j.Target, unit.System.Mass),
		strings.Replace(sheet.Decimal(l.Deviation, 3), "-", "−", 1))
	if j.Judged {
		low, high, within := float64(j.Low), float64(j.High), j.Within
		l.Low, l.High, l.Within = &low, &high, &within
		s.Between("charged "+terminal.Safe(j.Name),
			sheet.Both(j.Low, unit.System.Mass)+" to "+sheet.Both(j.High, unit.System.Mass), !within, j.Source)
	} else {
		s.Warnf("%s is not judged: %s", terminal.Safe(j.Name), j.Source)
	}
	doc.Weighing = append(doc.Weighing, l)
	doc.Ticket = doc.Weighing
}
