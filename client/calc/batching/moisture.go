package batching

import (
	"context"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcMoisture is what to weigh of damp sand. The sand may be said in five ways, its moisture in three.
type calcMoisture struct {
	ssd, dry, weighed, bucket   string
	dryLoose, bulking           string
	absorption                  string
	moisture, surface, wet, pan string
}

type moistureDoc struct {
	OvenDry  *float64 `json:"oven_dry_kg,omitempty"`
	SSD      *float64 `json:"ssd_kg,omitempty"`
	Weigh    *float64 `json:"weigh_kg,omitempty"`
	Free     *float64 `json:"free_water_kg,omitempty"` // below 0: the sand takes water up
	Moisture float64  `json:"moisture_percent"`        // total, of the dry mass
	Surface  *float64 `json:"surface_percent,omitempty"`
	sheet.Sheet
}

// NewMoisture makes hod calc moisture.
func NewMoisture(env *terminal.Streams) *cobra.Command {
	var q calcMoisture
	c := env.NewCommand("moisture", "What to weigh of damp sand, and the water that it brings",
		`hod calc moisture --ssd 188lb --absorption 1% --moisture 5%`,
		`hod calc moisture --ssd 188lb --absorption 1% --sample-wet 512g --sample-dry 488g`,
		`hod calc moisture --bucket 1ft3 --dry-loose 95lb/ft3 --bulking 25% --absorption 1% --moisture 5%`,
		`hod calc moisture --sample-wet 512g --sample-dry 488g`)
	c.Long = "The sand is said as --ssd, --dry, --weighed or, by the bucket, --bucket --dry-loose --bulking; its moisture as\n" +
		"--moisture, --surface, or a sample that was dried in a pan, --sample-wet --sample-dry. A sample alone gives its moisture."
	f := c.Flags()
	f.StringVar(&q.ssd, "ssd", "", "the sand wanted, saturated and surface dry")
	f.StringVar(&q.absorption, "absorption", "", "of the dry mass")
	f.StringVar(&q.moisture, "moisture", "", "total moisture, of the dry mass")
	f.StringVar(&q.dry, "dry", "", "the sand wanted, oven-dry, in place of --ssd")
	f.StringVar(&q.weighed, "weighed", "", "damp sand that was weighed, in place of --ssd")
	f.StringVar(&q.bucket, "bucket", "", "damp sand measured loose by volume, in place of --ssd")
	f.StringVar(&q.dryLoose, "dry-loose", "", "what the same sand weighs dry and loose, for --bucket: 95lb/ft3")
	f.StringVar(&q.bulking, "bulking", "", "volume gained by being damp, of the dry loose volume, for --bucket: 25%")
	f.StringVar(&q.surface, "surface", "", "surface moisture, of the SSD mass, in place of --moisture")
	f.StringVar(&q.wet, "sample-wet", "", "a sample as it lay in the pile, in place of --moisture")
	f.StringVar(&q.pan, "sample-dry", "", "the same sample once it was dried in a pan")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcMoisture) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	amounts := []sheet.FlagText{
		{Flag: "ssd", Text: q.ssd},
		{Flag: "dry", Text: q.dry},
		{Flag: "weighed", Text: q.weighed},
		{Flag: "bucket", Text: q.bucket},
	}
	if err := s.OneOf(amounts...); err != nil {
		return err
	}
	if err := s.OneOf(sheet.FlagText{Flag: "moisture", Text: q.moisture},
		sheet.FlagText{Flag: "surface", Text: q.surface}, sheet.FlagText{Flag: "sample-wet", Text: q.wet}); err != nil {
		return err
	}
	if q.bucket == "" && (q.dryLoose != "" || q.bulking != "") {
		return terminal.Usagef("--dry-loose and --bulking go with --bucket")
	}
	var doc moistureDoc
	if q.wet != "" || q.pan != "" {
		sampled, err := q.sample(s)
		if err != nil {
			return err
		}
		doc.Moisture = float64(sampled) * 100
		if sheet.NoneGiven(amounts) && q.absorption == "" {
			s.Caution(mixes.Caution)
			doc.Sheet = *s
			return s.Print(env, "moisture", doc)
		}
	}
	if sheet.NoneGiven(amounts) {
		return s.Missing("ssd", "dry", "weighed", "bucket")
	}
	sand, err := q.sand(s, unit.Share(doc.Moisture/100))
	if err != nil {
		return err
	}
	q.tell(s, sand, &doc)
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "moisture", doc)
}

// sample is the moisture of sand that was dried in a pan.
func (q calcMoisture) sample(s *sheet.Sheet) (unit.Share, error) {
	wet, err := sheet.Asked(s, "sample-wet", q.wet, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return 0, err
	}
	dry, err := sheet.Asked(s, "sample-dry", q.pan, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return 0, err
	}
	moisture, err := mixes.SandMoisture(wet, dry)
	if err != nil {
		return 0, terminal.AsUsage(err)
	}
	s.Figuref("moisture", "%s of the dry mass", unit.Metric.Share(moisture))
	s.By("moisture = (wet − dry) / dry", "ASTM C566 (from memory)")
	return moisture, nil
}

// sand is the amount in all the states that water makes of it; sampled is the moisture where a sample was dried.
func (q calcMoisture) sand(s *sheet.Sheet, sampled unit.Share) (mixes.SandState, error) {
	var sand mixes.SandState
	var mass unit.Mass
	var bucket mixes.Bucket
	var err error
	switch {
	case q.dry != "":
		mass, err = sheet.Asked(s, "dry", q.dry, unit.ParseMass, "kg", unit.System.Mass)
	case q.weighed != "":
		mass, err = sheet.Asked(s, "weighed", q.weighed, unit.ParseMass, "kg", unit.System.Mass)
	case q.bucket != "":
		bucket, err = q.bulked(s)
	default:
		mass, err = sheet.Asked(s, "ssd", q.ssd, unit.ParseMass, "kg", unit.System.Mass)
	}
	if err != nil {
		return sand, err
	}
	absorption, err := sheet.Asked(s, "absorption", q.absorption, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return sand, err
	}
	if q.surface != "" {
		if q.ssd == "" {
			return sand,
				terminal.Usagef(
					"--surface is of the SSD mass, and goes with --ssd; give the --moisture of the dry mass")
		}
		surface, err := sheet.Asked(s, "surface", q.surface, unit.ParseShare, "", unit.System.Share)
		if err != nil {
			return sand, err
		}
		s.By("free = SSD × surface moisture; total moisture = (1 + surface)(1 + absorption) − 1",
			"ACI 211.1, arithmetic")
		sand, err = mixes.SandFromSurface(mass, absorption, surface)
		return sand, terminal.AsUsage(err)
	}
	moisture := sampled
	if q.wet == "" {
		if moisture, err = sheet.Asked(s, "moisture", q.moisture, unit.ParseShare, "", unit.System.Share); err != nil {
			return sand, err
		}
	}
	switch {
	case q.dry != "":
		sand, err = mixes.SandFromOvenDry(mass, absorption, moisture)
	case q.weighed != "":
		sand, err = mixes.SandFromWeighed(mass, absorption, moisture)
	case q.bucket != "":
		bucket.Absorption, bucket.Moisture = absorption, moisture
		sand, err = mixes.SandFromBucket(bucket)
	default:
		sand, err = mixes.SandFromSSD(mass, absorption, moisture)
	}
	return sand, terminal.AsUsage(err)
}

func (q calcMoisture) bulked(s *sheet.Sheet) (b mixes.Bucket, err error) {
	if b.Volume, err = sheet.Asked(s, "bucket", q.bucket, unit.ParseVolume, "m3", unit.System.Volume); err != nil {
		return b, err
	}
	if b.DryLoose, err = sheet.Asked(s, "dry-loose", q.dryLoose, unit.ParseDensity, "kg/m3",
		unit.System.Density); err != nil {
		return b, err
	}
	if b.Bulking, err = sheet.Asked(s, "bulking", q.bulking, unit.ParseShare, "", unit.System.Share); err != nil {
		return b, err
	}
	s.By("dry sand = volume × dry loose unit weight / (1 + bulking)",
		"arithmetic; damp sand bulks by 20 to 35 % near 5 % moisture (from memory)")
	return b, nil
}

func (q calcMoisture) tell(s *sheet.Sheet, sand mixes.SandState, doc *moistureDoc) {
	dry, ssd, weigh, free := float64(sand.OvenDry), float64(sand.SSD), float64(sand.Weighed), float64(sand.Free)
	doc.OvenDry, doc.SSD, doc.Weigh, doc.Free = &dry, &ssd, &weigh, &free
	surface := free / ssd * 100
	doc.Surface, doc.Moisture = &surface, (weigh/dry-1)*100
	s.Figuref("oven dry", "%s", sheet.Both(sand.OvenDry, unit.System.Mass))
	s.Figuref("SSD", "%s", sheet.Both(sand.SSD, unit.System.Mass))
	s.Figuref("weigh", "%s", sheet.Both(sand.Weighed, unit.System.Mass))
	if sand.Free >= 0 {
		s.Figuref("free water", "%s: add so much less", sheet.Both(sand.Free, unit.System.Mass))
	} else {
		s.Figuref("free water", "none; the sand takes up %s: add so much more",
			sheet.Both(-sand.Free, unit.System.Mass))
	}
	s.By("dry = SSD / (1 + absorption); weigh = dry × (1 + moisture); free = weigh − SSD",
		"ACI 211.1; moisture by ASTM C566 (from memory), absorption by ASTM C128")
}
