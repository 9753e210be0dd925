package batching

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcYield is the fresh test of ASTM C138.
type calcYield struct{ gross, tare, measure, batchMass, design, airFree, cement, designAir string }

type yieldDoc struct {
	UnitWeight    float64  `json:"unit_weight_kg_m3"`
	Yield         *float64 `json:"yield_m3,omitempty"`
	RelativeYield *float64 `json:"relative_yield,omitempty"`
	Air           *float64 `json:"air_percent,omitempty"`
	Expected      *float64 `json:"unit_weight_expected_kg_m3,omitempty"` // at the design air
	Cement        *float64 `json:"cement_content_kg_m3,omitempty"`
	sheet.Sheet
}

// NewYield makes hod calc yield.
func NewYield(env *terminal.Streams) *cobra.Command {
	var q calcYield
	c := env.NewCommand("yield", "Unit weight, yield, relative yield and air of a batch that was weighed",
		`hod calc yield --gross 44.75lb --tare 8.45lb --measure 0.25ft3 --batch-mass 356lb --design-yield 2.7ft3 --air-free 139.35lb/ft3`)
	f := c.Flags()
	f.StringVar(&q.gross, "gross", "", "the measure, filled")
	f.StringVar(&q.tare, "tare", "", "the measure, empty")
	f.StringVar(&q.measure, "measure", "", "the measure's volume")
	f.StringVar(&q.batchMass, "batch-mass", "", "all that was charged: gives the yield")
	f.StringVar(&q.design, "design-yield", "", "what the batch was designed to fill: gives the relative yield")
	f.StringVar(&q.airFree, "air-free", "",
		"theoretical unit weight (139lb/ft3), or absolute volume of the batch (2.55ft3), without air: gives the air")
	f.StringVar(&q.designAir, "design-air", "", "air as designed: with --air-free, gives the unit weight to expect")
	f.StringVar(&q.cement, "cement", "",
		"cement in the batch: with --batch-mass, gives the cement content of the mortar")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcYield) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	gross, err := sheet.Asked(s, "gross", q.gross, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return err
	}
	tare, err := sheet.Asked(s, "tare", q.tare, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return err
	}
	measure, err := sheet.Asked(s, "measure", q.measure, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return err
	}
	weight, err := mixes.UnitWeight(gross, tare, measure)
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc := yieldDoc{UnitWeight: float64(weight)}
	s.Figuref("unit weight", "%s", sheet.Both(weight, unit.System.Density))
	s.By("D = (gross − tare) / measure", "ASTM C138")
	batch, err := sheet.AskedIfGiven(s, "batch-mass", q.batchMass, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return err
	}
	var yield unit.Volume
	if batch != nil {
		if yield, err = mixes.Yield(*batch, weight); err != nil {
			return sheet.FlagErr("batch-mass", err)
		}
		v := float64(yield)
		doc.Yield = &v
		s.Figuref("yield", "%s", sheet.Both(yield, unit.System.Volume))
		s.By("Y = M / D", "ASTM C138")
	}
	if q.design != "" {
		if err := q.relative(s, yield, &doc); err != nil {
			return err
		}
	}
	if q.designAir != "" && q.airFree == "" {
		return terminal.Usagef("--design-air lightens the unit weight without air, which needs --air-free")
	}
	if q.airFree != "" {
		if err := q.air(s, weight, yield, &doc); err != nil {
			return err
		}
	}
	if q.cement != "" {
		if err := q.content(s, yield, &doc); err != nil {
			return err
		}
	}
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "yield", doc)
}

// content is the cement in each volume of mortar as it came out.
func (q calcYield) content(s *sheet.Sheet, yield unit.Volume, doc *yieldDoc) error {
	cement, err := sheet.Asked(s, "cement", q.cement, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return err
	}
	if yield == 0 {
		return terminal.Usagef("--cement is spread over the yield, which needs --batch-mass")
	}
	content, err := mixes.CementContent(cement, yield)
	if err != nil {
		return sheet.FlagErr("cement", err)
	}
	v := float64(content)
	doc.Cement = &v
	s.Figuref("cement content", "%s (%s, %s lb/yd³)", unit.Metric.Density(content), unit.US.Density(content),
		sheet.Decimal(v*float64(unit.CubicYard)/float64(unit.Pound), 4))
	s.By("C = Cb / Y", "ASTM C138")
	return nil
}

func (q calcYield) relative(s *sheet.Sheet, yield unit.Volume, doc *yieldDoc) error {
	design, err := sheet.Asked(s, "design-yield", q.design, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return err
	}
	if yield == 0 {
		return terminal.Usagef("--design-yield is compared with the yield, which needs --batch-mass")
	}
	r, err := mixes.RelativeYield(yield, design)
	if err != nil {
		return sheet.FlagErr("design-yield", err)
	}
	doc.RelativeYield = &r
	says := "as designed"
	switch {
	case unit.Round(r, 0.0001) > 1:
		says = "fills more than designed, with less cement in each volume"
	case unit.Round(r, 0.0001) < 1:
		says = "fills less than designed"
	}
	s.Figuref("relative yield", "%s: %s", sheet.Decimal(r, 5), says)
	s.By("Ry = Y / Yd", "ASTM C138")
	return nil
}

func (q calcYield) air(s *sheet.Sheet, weight unit.Density, yield unit.Volume, doc *yieldDoc) error {
	var air unit.Share
	var err error
	if volume, notVolume := unit.ParseVolume(q.airFree); notVolume == nil {
		s.Understood("air-free", q.airFree, float64(volume), "m3",
			unit.Both(unit.Metric, unit.As[unit.Volume]{SI: volume, Entered: q.airFree}, unit.System.Volume))
		if yield == 0 {
			return terminal.Usagef(
				"--air-free as a volume is compared with the yield, which needs --batch-mass; or give the theoretical unit weight, 139lb/ft3")
		}
		air, err = mixes.AirByVolume(yield, volume)
		s.By("A = (Y − V) / Y", "gravimetric air, ASTM C138")
	} else {
		free, notDensity := sheet.Asked(s, "air-free", q.airFree, unit.ParseDensity, "kg/m3", unit.System.Density)
		if notDensity != nil {
			return notDensity
		}
		air, err = mixes.AirByWeight(free, weight)
		s.By("A = (T − D) / T", "gravimetric air, ASTM C138")
	}
	if err != nil {
		return sheet.FlagErr("air-free", err)
	}
	if err := q.expected(s, weight, air, doc); err != nil {
		return err
	}
	v := float64(air) * 100
	doc.Air = &v
	s.Figuref("air", "%s %%", strings.Replace(sheet.Decimal(v, 4), "-", "−", 1))
	if unit.Round(v, 0.001) < 0 {
		s.Warnf("the air comes out below 0: an amount, a gravity, a moisture or the measurement is not as written")
	}
	return nil
}

// expected is the unit weight that the mortar would have at the air it was designed for.
func (q calcYield) expected(s *sheet.Sheet, weight unit.Density, air unit.Share, doc *yieldDoc) error {
	design, err := sheet.AskedIfGiven(s, "design-air", q.designAir, unit.ParseShare, "", unit.System.Share)
	if err != nil || design == nil {
		return err
	}
	expected, err := mixes.AtAir(weight/unit.Density(1-air), *design)
	if err != nil {
		return sheet.FlagErr("design-air", err)
	}
	v := float64(expected)
	doc.Expected = &v
	s.Figuref("unit weight expected", "%s at the design air", sheet.Both(expected, unit.System.Density))
	s.By("D = T × (1 − A)", "ASTM C138, turned round")
	return nil
}
