package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcProportion makes a mix: the binder from water and w/cm, the sand by what is left.
type calcProportion struct {
	volume, weight             string
	water, cementitious, ratio string
	binder, other              []string
	sand, air                  string
	moisture                   []string
}

func newCalcProportion(env *streams) *cobra.Command {
	var q calcProportion
	c := env.command("proportion", "A mix by absolute volumes: binder from water and w/cm, sand by what is left",
		`hod calc proportion --volume 2.7ft3 --cementitious 120lb --w-cm 0.39 --binder cement=80%,gravity=3.15 --binder ash=20%,kind=pozzolan,gravity=2.35 --sand sand,gravity=2.65,absorption=1% --other fibre=1.2lb,gravity=1.30 --air 5%`,
		`hod calc proportion --weight 4070lb --water 300lb --w-cm 0.62 --binder cement=100%,gravity=3.15 --other coarse=1917lb,kind=sand,gravity=2.68 --sand sand,gravity=2.64 --air 1%`)
	c.Long = "The batch is a volume, air included, or its weight as estimated. Two of --water (all of it, that of admixtures too),\n" +
		"--cementitious and --w-cm are given. --binder is a share of the cementitious by mass; the shares make 100%. --other is\n" +
		"fibre, admixture, foam or more aggregate with its mass. Specific gravities have no default."
	f := c.Flags()
	f.StringVar(&q.volume, "volume", "", "what the batch is to fill, air included")
	f.StringVar(&q.weight, "weight", "", "what the batch is to weigh, as estimated, in place of --volume")
	f.StringVar(&q.water, "water", "", "all mixing water, by mass or volume")
	f.StringVar(&q.cementitious, "cementitious", "", "cement and pozzolan")
	f.StringVar(&q.ratio, "w-cm", "", "water to cementitious ratio by mass")
	f.StringArrayVar(&q.binder, "binder", nil, "a part of the cementitious: ash=20%,kind=pozzolan,gravity=2.35")
	f.StringVar(&q.sand, "sand", "", "the sand that takes what is left: sand,gravity=2.65,absorption=1%")
	f.StringArrayVar(&q.other, "other", nil, "any other constituent: fibre=1.2lb,gravity=1.30")
	f.StringVar(&q.air, "air", "", "design air")
	f.StringArrayVar(&q.moisture, "moisture", nil, "total moisture of the sand, of its dry mass: 4%, or sand=4%")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcProportion) run(_ context.Context, env *streams, s *calcSheet) error {
	trial, err := q.trial(s)
	if err != nil {
		return err
	}
	m, err := mixes.Proportion(trial)
	if err != nil {
		return impossible(err)
	}
	moisture, err := ofSands(s, "moisture", q.moisture, m)
	if err != nil {
		return err
	}
	batch, err := m.AtMoisture(moisture)
	if err != nil {
		return impossible(err)
	}
	figures, err := batch.Figures(m.Air)
	if err != nil {
		return impossible(err)
	}
	doc := mixDocument(1, m, batch, figures)
	s.by("cementitious = water / (w/cm); each binder its share of it by mass", "ACI 211.1")
	if trial.Weight > 0 {
		s.by("sand = weight of the batch − all others", "weight method, ACI 211.1")
	} else {
		s.by("sand = (volume × (1 − air) − Σ mass / (gravity × 62.4 lb/ft³)) × gravity × 62.4 lb/ft³", "absolute volumes, ACI 211.1")
	}
	if err := (calcMix{}).judge(s, m, figures, &doc); err != nil {
		return err
	}
	figuresOfMix(s, figures, doc)
	for _, a := range doc.Amounts {
		s.figure("absolute "+safe(a.Name), "%s", bothUnits(unit.Volume(a.Volume), unit.System.Volume))
	}
	s.figure("in each m³", "%s", eachCubicMetre(doc))
	s.caution(fold.Caution)
	doc.calcSheet = *s
	return s.print(env, "proportion", doc)
}

// eachCubicMetre is the design in the form that a mix is compared in.
func eachCubicMetre(doc mixDoc) string {
	var all []string
	for _, a := range doc.Amounts {
		all = append(all, safe(a.Name)+" "+decimal(a.Design/doc.Yield, 4)+" kg")
	}
	return strings.Join(all, ", ")
}

func (q calcProportion) trial(s *calcSheet) (mixes.Trial, error) {
	t := mixes.Trial{Name: "trial"}
	if err := s.together("volume", q.volume, "weight", q.weight); err != nil {
		return t, err
	}
	var err error
	switch {
	case q.volume != "":
		t.Volume, err = asked(s, "volume", q.volume, unit.ParseVolume, "m3", unit.System.Volume)
		if err == nil && t.Volume <= 0 {
			err = usage("--volume: %q is no batch; give a volume above 0", safe(q.volume))
		}
	case q.weight != "":
		t.Weight, err = asked(s, "weight", q.weight, unit.ParseMass, "kg", unit.System.Mass)
		if err == nil && t.Weight <= 0 {
			err = usage("--weight: %q is no batch; give a mass above 0", safe(q.weight))
		}
	default:
		err = s.missing("volume", "weight")
	}
	if err != nil {
		return t, err
	}
	if err := q.ratios(s, &t); err != nil {
		return t, err
	}
	if err := q.constituents(s, &t); err != nil {
		return t, err
	}
	air, err := maybeAsked(s, "air", q.air, unit.ParseShare, "", unit.System.Share)
	if air != nil {
		t.Air = *air
	} else if err == nil {
		s.warn("no air was said: none is counted")
	}
	return t, err
}

// ratios reads two of water, cementitious and w/cm; the third follows.
func (q calcProportion) ratios(s *calcSheet, t *mixes.Trial) error {
	given := 0
	for _, text := range []string{q.water, q.cementitious, q.ratio} {
		if text != "" {
			given++
		}
	}
	if given != 2 {
		return usage("give two of --water, --cementitious and --w-cm; %d of them were given", given)
	}
	var cementitious unit.Mass
	var err error
	if q.cementitious != "" {
		if cementitious, err = asked(s, "cementitious", q.cementitious, unit.ParseMass, "kg", unit.System.Mass); err != nil {
			return err
		}
		if !(cementitious > 0) {
			return usage("--cementitious: %q is no cement; give a mass above 0", safe(q.cementitious))
		}
	}
	if q.ratio != "" {
		if t.WaterCementitious, err = s.askedNumber("w-cm", q.ratio); err != nil {
			return err
		}
	}
	if q.water == "" {
		t.Water = cementitious * unit.Mass(t.WaterCementitious)
		return nil
	}
	a, err := unit.Said(q.water, unit.ParseLiquid)
	if err != nil {
		return ofFlag("water", err)
	}
	if t.Water, err = a.SI.At(unit.WaterDensity); err != nil {
		return ofFlag("water", err)
	}
	s.understood("water", q.water, float64(t.Water), "kg", unit.Both(unit.Metric, unit.As[unit.Mass]{SI: t.Water, Entered: q.water}, unit.System.Mass))
	if q.ratio == "" {
		t.WaterCementitious = float64(t.Water / cementitious)
	}
	return nil
}

// constituents reads the binder, the others and the sand, in the form that hod mix add reads them.
func (q calcProportion) constituents(s *calcSheet, t *mixes.Trial) error {
	if len(q.binder) == 0 {
		return s.missing("binder")
	}
	if q.sand == "" {
		return s.missing("sand")
	}
	for _, text := range q.binder {
		name, rest, _ := strings.Cut(text, "=")
		share, properties, _ := strings.Cut(rest, ",")
		c, err := loose(name, properties, "")
		if err != nil {
			return ofFlag("binder", err)
		}
		if !c.Kind.Cementitious() {
			return usage("--binder: %s is %s; the binder is cement and pozzolan, and the rest is --other", safe(name), c.Kind)
		}
		p := mixes.Portion{Constituent: c}
		if p.Share, err = asked(s, "binder", share, unit.ParseShare, "", unit.System.Share); err != nil {
			return err
		}
		s.Inputs[len(s.Inputs)-1].Name = "binder " + safe(name)
		t.Binder = append(t.Binder, p)
	}
	for _, text := range q.other {
		planned, err := readConstituent(text)
		if err != nil {
			return ofFlag("other", err)
		}
		c, err := reckoned(planned)
		if err != nil {
			return ofFlag("other", err)
		}
		s.understood("other "+safe(c.Name), planned.Amount.Entered, float64(c.Mass), "kg",
			unit.Both(unit.Metric, unit.As[unit.Mass]{SI: c.Mass, Entered: planned.Amount.Entered}, unit.System.Mass))
		t.Others = append(t.Others, c)
	}
	name, properties, _ := strings.Cut(q.sand, ",")
	sand, err := loose(name, properties, "sand")
	if err != nil {
		return ofFlag("sand", err)
	}
	t.Sand = sand
	s.noted("sand", fmt.Sprintf("%s, specific gravity %s, absorption %s", sand.Name, decimal(sand.Gravity, 4), unit.Metric.Share(sand.Absorption)))
	return nil
}

// loose is a constituent whose amount is to be found.
func loose(name, properties, kind string) (mixes.Constituent, error) {
	word := name + "=1kg"
	if properties != "" {
		word += "," + properties
	}
	if kind != "" && !strings.Contains(properties, "kind=") {
		word += ",kind=" + kind
	}
	planned, err := readConstituent(word)
	if err != nil {
		return mixes.Constituent{}, err
	}
	return reckoned(planned)
}

// reckoned is one constituent in the form that internal/trade/mix reckons with.
func reckoned(planned event.Constituent) (mixes.Constituent, error) {
	if planned.Gravity == 0 && planned.Kind != event.Water {
		return mixes.Constituent{}, usage("%s needs its specific gravity, as gravity=2.65", safe(string(planned.Name)))
	}
	m, err := fold.Reckoned(event.MixPlanned{Constituents: []event.Constituent{planned}})
	if err != nil {
		return mixes.Constituent{}, err
	}
	c := m.Constituents[0]
	return c, c.Check()
}
