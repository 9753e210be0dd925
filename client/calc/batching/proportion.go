package batching

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/parse"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/mixplan"
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

// NewProportion makes hod calc proportion.
func NewProportion(env *terminal.Streams) *cobra.Command {
	var q calcProportion
	c := env.NewCommand("proportion", "A mix by absolute volumes: binder from water and w/cm, sand by what is left",
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
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcProportion) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	trial, err := q.trial(s)
	if err != nil {
		return err
	}
	m, err := mixes.Proportion(trial)
	if err != nil {
		return terminal.AsUsage(err)
	}
	moisture, err := ofSands(s, "moisture", q.moisture, m)
	if err != nil {
		return err
	}
	batch, err := m.AtMoisture(moisture)
	if err != nil {
		return terminal.AsUsage(err)
	}
	figures, err := batch.Figures(m.Air)
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc := mixDocument(1, m, batch, figures)
	s.By("cementitious = water / (w/cm); each binder its share of it by mass", "ACI 211.1")
	if trial.Weight > 0 {
		s.By("sand = weight of the batch − all others", "weight method, ACI 211.1")
	} else {
		s.By("sand = (volume × (1 − air) − Σ mass / (gravity × 62.4 lb/ft³)) × gravity × 62.4 lb/ft³",
			"absolute volumes, ACI 211.1")
	}
	if err := (calcMix{}).judge(s, m, figures, &doc); err != nil {
		return err
	}
	figuresOfMix(s, figures, doc)
	for _, a := range doc.Amounts {
		s.Figuref("absolute "+terminal.Safe(a.Name), "%s", sheet.Both(unit.Volume(a.Volume), unit.System.Volume))
	}
	s.Figuref("in each m³", "%s", eachCubicMetre(doc))
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "proportion", doc)
}

// eachCubicMetre is the design in the form that a mix is compared in.
func eachCubicMetre(doc mixDoc) string {
	var all []string
	for _, a := range doc.Amounts {
		all = append(all, terminal.Safe(a.Name)+" "+sheet.Decimal(a.Design/doc.Yield, 4)+" kg")
	}
	return strings.Join(all, ", ")
}

func (q calcProportion) trial(s *sheet.Sheet) (mixes.Trial, error) {
	t := mixes.Trial{Name: "trial"}
	if err := s.Exclusive("volume", q.volume, "weight", q.weight); err != nil {
		return t, err
	}
	var err error
	switch {
	case q.volume != "":
		t.Volume, err = sheet.Asked(s, "volume", q.volume, unit.ParseVolume, "m3", unit.System.Volume)
		if err == nil && t.Volume <= 0 {
			err = terminal.Usagef("--volume: %q is no batch; give a volume above 0", terminal.Safe(q.volume))
		}
	case q.weight != "":
		t.Weight, err = sheet.Asked(s, "weight", q.weight, unit.ParseMass, "kg", unit.System.Mass)
		if err == nil && t.Weight <= 0 {
			err = terminal.Usagef("--weight: %q is no batch; give a mass above 0", terminal.Safe(q.weight))
		}
	default:
		err = s.Missing("volume", "weight")
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
	air, err := sheet.AskedIfGiven(s, "air", q.air, unit.ParseShare, "", unit.System.Share)
	if air != nil {
		t.Air = *air
	} else if err == nil {
		s.Warnf("no air was said: none is counted")
	}
	return t, err
}

// ratios reads two of water, cementitious and w/cm; the third follows.
func (q calcProportion) ratios(s *sheet.Sheet, t *mixes.Trial) error {
	given := 0
	for _, text := range []string{q.water, q.cementitious, q.ratio} {
		if text != "" {
			given++
		}
	}
	if given != 2 {
		return terminal.Usagef("give two of --water, --cementitious and --w-cm; %d of them were given", given)
	}
	var cementitious unit.Mass
	var err error
	if q.cementitious != "" {
		if cementitious, err = sheet.Asked(s, "cementitious", q.cementitious, unit.ParseMass, "kg",
			unit.System.Mass); err != nil {
			return err
		}
		if !(cementitious > 0) {
			return terminal.Usagef("--cementitious: %q is no cement; give a mass above 0",
				terminal.Safe(q.cementitious))
		}
	}
	if q.ratio != "" {
		if t.WaterCementitious, err = s.AskedNumber("w-cm", q.ratio); err != nil {
			return err
		}
	}
	if q.water == "" {
		t.Water = cementitious * unit.Mass(t.WaterCementitious)
		return nil
	}
	a, err := unit.Said(q.water, unit.ParseLiquid)
	if err != nil {
		return sheet.FlagErr("water", err)
	}
	if t.Water, err = a.SI.At(unit.WaterDensity); err != nil {
		return sheet.FlagErr("water", err)
	}
	s.Understood("water", q.water, float64(t.Water), "kg",
		unit.Both(unit.Metric, unit.As[unit.Mass]{SI: t.Water, Entered: q.water}, unit.System.Mass))
	if q.ratio == "" {
		t.WaterCementitious = float64(t.Water / cementitious)
	}
	return nil
}

// constituents reads the binder, the others and the sand, in the form that hod mix add reads them.
func (q calcProportion) constituents(s *sheet.Sheet, t *mixes.Trial) error {
	if len(q.binder) == 0 {
		return s.Missing("binder")
	}
	if q.sand == "" {
		return s.Missing("sand")
	}
	for _, text := range q.binder {
		name, rest, _ := strings.Cut(text, "=")
		share, properties, _ := strings.Cut(rest, ",")
		c, err := loose(name, properties, "")
		if err != nil {
			return sheet.FlagErr("binder", err)
		}
		if !c.Kind.Cementitious() {
			return terminal.Usagef("--binder: %s is %s; the binder is cement and pozzolan, and the rest is --other",
				terminal.Safe(name), c.Kind)
		}
		p := mixes.Portion{Constituent: c}
		if p.Share, err = sheet.Asked(s, "binder", share, unit.ParseShare, "", unit.System.Share); err != nil {
			return err
		}
		s.Inputs[len(s.Inputs)-1].Name = "binder " + terminal.Safe(name)
		t.Binder = append(t.Binder, p)
	}
	for _, text := range q.other {
		planned, err := parse.Constituent(text)
		if err != nil {
			return sheet.FlagErr("other", err)
		}
		c, err := reckoned(planned)
		if err != nil {
			return sheet.FlagErr("other", err)
		}
		s.Understood("other "+terminal.Safe(c.Name), planned.Amount.Entered, float64(c.Mass), "kg",
			unit.Both(unit.Metric, unit.As[unit.Mass]{SI: c.Mass, Entered: planned.Amount.Entered}, unit.System.Mass))
		t.Others = append(t.Others, c)
	}
	name, properties, _ := strings.Cut(q.sand, ",")
	sand, err := loose(name, properties, "sand")
	if err != nil {
		return sheet.FlagErr("sand", err)
	}
	t.Sand = sand
	s.Noted("sand", fmt.Sprintf("%s, specific gravity %s, absorption %s", sand.Name, sheet.Decimal(sand.Gravity, 4),
		unit.Metric.Share(sand.Absorption)))
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
	planned, err := parse.Constituent(word)
	if err != nil {
		return mixes.Constituent{}, err
	}
	return reckoned(planned)
}

// reckoned is one constituent in the form that internal/trade/mix reckons with.
func reckoned(planned event.Constituent) (mixes.Constituent, error) {
	if planned.Gravity == 0 && planned.Kind != event.Water {
		return mixes.Constituent{}, terminal.Usagef("%s needs its specific gravity, as gravity=2.65",
			terminal.Safe(string(planned.Name)))
	}
	m, err := mixplan.Mix(event.MixPlanned{Constituents: []event.Constituent{planned}})
	if err != nil {
		return mixes.Constituent{}, err
	}
	c := m.Constituents[0]
	return c, c.Check()
}
