package batching

import (
	"context"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcSpray is the water of a wand that is metered by time.
type calcSpray struct{ caught, in, rate, spell, cementitious string }

type sprayDoc struct {
	Rate   float64  `json:"rate_l_s"`
	Volume *float64 `json:"water_m3,omitempty"`
	Mass   *float64 `json:"water_kg,omitempty"`
	WCm    *float64 `json:"w_cm_more,omitempty"` // by which it raises w/cm
	sheet.Sheet
}

// NewSpray makes hod calc spray.
func NewSpray(env *terminal.Streams) *cobra.Command {
	var q calcSpray
	c := env.NewCommand("spray", "Rate of a spray wand, and the water of so many seconds",
		`hod calc spray --caught 1qt --in 4s --for 10s --cementitious 106.5lb`,
		`hod calc spray --rate 0.24L/s --for 10s`)
	f := c.Flags()
	f.StringVar(&q.caught, "caught", "", "water caught in a bucket")
	f.StringVar(&q.in, "in", "", "the time that it took")
	f.StringVar(&q.rate, "rate", "", "rate where it is known, in place of --caught and --in: 3.75gal/min, 1qt/4s")
	f.StringVar(&q.spell, "for", "", "how long it was sprayed: gives the water")
	f.StringVar(&q.cementitious, "cementitious", "", "cement and pozzolan in the batch: gives what w/cm rises by")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcSpray) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if err := s.OneOf(sheet.FlagText{Flag: "rate", Text: q.rate},
		sheet.FlagText{Flag: "caught", Text: q.caught}); err != nil {
		return err
	}
	var rate unit.Flow
	var err error
	if q.caught != "" || q.in != "" {
		rate, err = q.calibrated(s)
	} else {
		if q.rate == "" {
			return s.Missing("rate", "caught")
		}
		rate, err = sheet.Asked(s, "rate", q.rate, unit.ParseFlow, "m3/s", unit.System.Flow)
	}
	if err != nil {
		return err
	}
	doc := sprayDoc{Rate: float64(rate) / float64(unit.Litre)}
	s.Figuref("rate", "%s", sheet.Both(rate, unit.System.Flow))
	if q.spell == "" {
		if q.cementitious != "" {
			return terminal.Usagef("--cementitious is compared with the water, which needs --for")
		}
	} else if err := q.water(s, rate, &doc); err != nil {
		return err
	}
	s.Warnf("calibrate the wand on the day: the pressure decides (common practice, no source)")
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "spray", doc)
}

func (q calcSpray) calibrated(s *sheet.Sheet) (unit.Flow, error) {
	caught, err := sheet.Asked(s, "caught", q.caught, unit.ParseVolume, "m3", unit.System.Liquid)
	if err != nil {
		return 0, err
	}
	in, err := s.Length("in", q.in, time.Second, "s")
	if err != nil {
		return 0, err
	}
	rate, err := mixes.Calibrate(caught, in)
	s.By("rate = water caught / time", "arithmetic")
	return rate, terminal.AsUsage(err)
}

func (q calcSpray) water(s *sheet.Sheet, rate unit.Flow, doc *sprayDoc) error {
	spell, err := s.Length("for", q.spell, time.Second, "s")
	if err != nil {
		return err
	}
	spray := mixes.Spray{Rate: rate, For: spell}
	volume, err := spray.Volume()
	if err != nil {
		return terminal.AsUsage(err)
	}
	mass, err := spray.Mass()
	if err != nil {
		return terminal.AsUsage(err)
	}
	v, m := float64(volume), float64(mass)
	doc.Volume, doc.Mass = &v, &m
	s.Figuref("water", "%s, %s", sheet.Both(volume, unit.System.Liquid), sheet.Both(mass, unit.System.Mass))
	s.By("water = rate × time, at 62.4 lb/ft³", "arithmetic; density of mixing water by the convention of mix design")
	cementitious, err := sheet.AskedIfGiven(s, "cementitious", q.cementitious, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil || cementitious == nil {
		return err
	}
	// A dose of water on the cementitious material has the same bounds of sense.
	if _, err := mixes.DoseOf(volume, *cementitious); err != nil {
		return sheet.FlagErr("cementitious", err)
	}
	more := m / float64(*cementitious)
	doc.WCm = &more
	s.Figuref("w/cm rises by", "%s", sheet.Decimal(more, 3))
	return nil
}
