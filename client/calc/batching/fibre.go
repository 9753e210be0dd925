package batching

import (
	"context"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcFibre is fibre by mass, by share of the volume, and as a loose volume.
type calcFibre struct{ share, mass, loose, bulk, yield, gravity, batchMass string }

type fibreDoc struct {
	Mass     float64  `json:"mass_kg"`
	Absolute *float64 `json:"absolute_m3,omitempty"`
	Share    *float64 `json:"volume_percent,omitempty"` // of the yield, air included
	OfMass   *float64 `json:"mass_percent,omitempty"`   // of the whole batch
	Loose    *float64 `json:"loose_m3,omitempty"`
	sheet.Sheet
}

// NewFibre makes hod calc fibre.
func NewFibre(env *terminal.Streams) *cobra.Command {
	var q calcFibre
	c := env.NewCommand("fibre", "Fibre by mass, by share of the volume, and by loose volume",
		`hod calc fibre --volume-share 2% --yield 2.7ft3 --gravity 1.30`,
		`hod calc fibre --loose 12L --bulk 45kg/m3 --yield 2.7ft3 --gravity 1.30 --batch-mass 356lb`)
	c.Aliases = []string{"fiber"}
	c.Long = "The fibre is said as a share of the yield, a mass, or a loose volume with what a filled container of it weighs (--bulk)."
	f := c.Flags()
	f.StringVar(&q.share, "volume-share", "", "share of the yield wanted: 2%")
	f.StringVar(&q.mass, "mass", "", "fibre that was weighed, in place of --volume-share")
	f.StringVar(&q.loose, "loose", "", "fibre measured loose, in place of --volume-share")
	f.StringVar(&q.bulk, "bulk", "", "what the loose fibre weighs: 45kg/m3")
	f.StringVar(&q.yield, "yield", "", "volume of the batch, air included")
	f.StringVar(&q.gravity, "gravity", "", "specific gravity of the fibre: 1.30")
	f.StringVar(&q.batchMass, "batch-mass", "", "mass of the whole batch: gives the share by mass")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcFibre) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	amounts := []sheet.FlagText{
		{Flag: "volume-share", Text: q.share},
		{Flag: "mass", Text: q.mass},
		{Flag: "loose", Text: q.loose},
	}
	if err := s.OneOf(amounts...); err != nil {
		return err
	}
	if sheet.NoneGiven(amounts) {
		return s.Missing("volume-share", "mass", "loose")
	}
	bulk, err := sheet.AskedIfGiven(s, "bulk", q.bulk, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	mass, err := q.amount(s, bulk)
	if err != nil {
		return err
	}
	doc := fibreDoc{Mass: float64(mass)}
	s.Figures = append([]sheet.Figure{{Name: "fibre", Text: sheet.Both(mass, unit.System.Mass)}}, s.Figures...)
	if q.yield != "" && q.gravity != "" && q.share == "" {
		if err := q.ofYield(s, mass, &doc); err != nil {
			return err
		}
	}
	if bulk != nil && q.loose == "" {
		v := float64(bulk.Of(mass))
		doc.Loose = &v
		s.Figuref("loose", "%s", sheet.Both(unit.Volume(v), unit.System.Volume))
	}
	batch, err := sheet.AskedIfGiven(s, "batch-mass", q.batchMass, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return err
	}
	if batch != nil {
		if !(*batch > mass) {
			return terminal.Usagef(
				"--batch-mass: the batch weighs %s and its fibre %s; the batch holds the fibre and must weigh more",
				sheet.Both(*batch, unit.System.Mass), sheet.Both(mass, unit.System.Mass))
		}
		v := float64(mass / *batch) * 100
		doc.OfMass = &v
		s.Figuref("share by mass", "%s %%", sheet.Decimal(v, 3))
	}
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "fibre", doc)
}

// amount is the mass of the fibre.
func (q calcFibre) amount(s *sheet.Sheet, bulk *unit.Density) (unit.Mass, error) {
	switch {
	case q.mass != "":
		m, err := sheet.Asked(s, "mass", q.mass, unit.ParseMass, "kg", unit.System.Mass)
		if err == nil && !(m > 0) {
			err = terminal.Usagef("--mass: %q is no fibre; give a mass above 0", terminal.Safe(q.mass))
		}
		return m, err
	case q.loose != "":
		loose, err := sheet.Asked(s, "loose", q.loose, unit.ParseVolume, "m3", unit.System.Volume)
		if err != nil {
			return 0, err
		}
		if bulk == nil {
			return 0, s.Missing("bulk")
		}
		m, err := mixes.LooseFibre(loose, *bulk)
		s.By("mass = loose volume × bulk density, weighed in the same container",
			"arithmetic; loose fibre is mostly air, its own density does not serve")
		return m, terminal.AsUsage(err)
	}
	share, err := sheet.Asked(s, "volume-share", q.share, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return 0, err
	}
	yield, gravity, err := q.batch(s)
	if err != nil {
		return 0, err
	}
	m, err := mixes.FibreFor(share, yield, gravity)
	s.By("mass = share × yield × gravity × 62.4 lb/ft³",
		"absolute volumes, ACI 211.1; the share is of the yield, air included")
	return m, terminal.AsUsage(err)
}

func (q calcFibre) batch(s *sheet.Sheet) (unit.Volume, float64, error) {
	yield, err := sheet.Asked(s, "yield", q.yield, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return 0, 0, err
	}
	gravity, err := s.AskedNumber("gravity", q.gravity)
	return yield, gravity, err
}

// ofYield is the share that a mass of fibre makes of the batch's volume.
func (q calcFibre) ofYield(s *sheet.Sheet, mass unit.Mass, doc *fibreDoc) error {
	yield, gravity, err := q.batch(s)
	if err != nil {
		return err
	}
	v, err := mixes.Constituent{Name: "fibre", Kind: mixes.Fibre, Mass: mass, Gravity: gravity}.AbsoluteVolume()
	if err != nil {
		return terminal.AsUsage(err)
	}
	if !(yield > v) {
		return terminal.Usagef(
			"--yield: the batch fills %s and its fibre alone %s; the batch holds the fibre and must fill more",
			sheet.Both(yield, unit.System.Volume), sheet.Both(v, unit.System.Volume))
	}
	absolute, share := float64(v), float64(v/yield)*100
	doc.Absolute, doc.Share = &absolute, &share
	s.Figuref("absolute volume", "%s", sheet.Both(v, unit.System.Volume))
	s.Figuref("share by volume", "%s %% of the yield", sheet.Decimal(share, 3))
	s.By("share = mass / (gravity × 62.4 lb/ft³) / yield",
		"absolute volumes, ACI 211.1; the share is of the yield, air included")
	return nil
}
