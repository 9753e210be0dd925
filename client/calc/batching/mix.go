package batching

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/parse"
	"hod/client/terminal"
	"hod/internal/mixplan"
	"hod/internal/plan"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcMix is what a mix's amounts say of it, for a batch of any size with the sand as it lies.
type calcMix struct {
	file, batch, bag, air string
	moisture, absorption  []string
	least, of             string
	mixer, share          string
	weighing              calcWeighing
}

type mixDoc struct {
	Mix              string       `json:"mix"`
	Revision         int          `json:"revision"`
	Mass             float64      `json:"mass_kg"`
	Yield            float64      `json:"yield_m3"`
	UnitWeight       float64      `json:"unit_weight_kg_m3"`
	AirFree          float64      `json:"air_free_kg_m3"`
	AirFreeVolume    float64      `json:"air_free_m3"`
	Air              float64      `json:"air_percent"`
	WCm              float64      `json:"w_cm"`
	Water            float64      `json:"water_kg"`
	Cement           float64      `json:"cement_kg_m3"`
	Cementitious     float64      `json:"cementitious_kg_m3"`
	SandCementitious float64      `json:"sand_cementitious"`
	OfCementitious   float64      `json:"pozzolan_of_cementitious_percent"`
	OfCement         float64      `json:"pozzolan_of_cement_percent"`
	WaterLeft        *float64     `json:"water_left_kg,omitempty"`  // until w/cm passes the mix's limit
	Use              float64      `json:"use_within_min,omitempty"` // of water contact
	Amounts          []amountDoc  `json:"amounts"`
	WaterParts       []waterDoc   `json:"water_parts"`
	Doses            []doseDoc    `json:"doses,omitempty"`
	Fibres           []fibreShare `json:"fibres,omitempty"`
	// null where the two bases disagree and none is said
	PozzolanMet *bool          `json:"pozzolan_met,omitempty"`
	Weighing    []weighingLine `json:"weighing,omitempty"`
	// the same, by the name that scripts of older versions read
	Ticket  []weighingLine `json:"ticket,omitempty"`
	Charged *chargedDoc    `json:"charged,omitempty"`
	sheet.Sheet
}

type amountDoc struct {
	Name     string   `json:"name"`
	Kind     string   `json:"kind"`
	Mass     float64  `json:"mass_kg"`   // to weigh
	Design   float64  `json:"design_kg"` // sand at SSD
	Volume   float64  `json:"volume_m3"` // absolute, of what is weighed without the sand's free water
	Moisture *float64 `json:"moisture_percent,omitempty"`
}

type waterDoc struct {
	Source string  `json:"source"`
	Name   string  `json:"name"`
	Mass   float64 `json:"mass_kg"`
}

type doseDoc struct {
	Name   string  `json:"name"`
	ML     float64 `json:"ml_per_100_kg"`
	FlOz   float64 `json:"fl_oz_per_cwt"`
	Solids float64 `json:"solids_percent"`
}

type fibreShare struct {
	Name   string  `json:"name"`
	Mass   float64 `json:"mass_percent"`
	Volume float64 `json:"volume_percent"`
}

// NewMix makes hod calc mix.
func NewMix(env *terminal.Streams) *cobra.Command {
	var q calcMix
	c := env.NewCommand("mix", "Amounts, yield, unit weight and w/cm of a mix, for any batch and any sand",
		`hod calc mix --mix body.yaml --moisture 4%`,
		`hod calc mix --mix body.yaml --batch "2 bags" --bag 40kg --moisture 4% --air 6%`,
		`hod calc mix --mix body.yaml --moisture 4% --charged cement=94lb --charged sand=196lb --charged water=4.7gal --spray 10s@1qt/4s --standard c94 --scale 200lb`,
		`hod calc mix --mix body.yaml --pozzolan-least 12.5% --pozzolan-of cement`)
	c.Long = "The file has one mix in the form that a plan has. --batch is a volume (3ft3), a mass (150kg), times the mix as\n" +
		"written (1/2x), or bags (2 bags, with --bag). With --charged the batch that was charged is held against the tolerances\n" +
		"of a standard, and its own figures stand beside those of the mix."
	f := c.Flags()
	f.StringVar(&q.file, "mix", "", "YAML file with the mix")
	f.StringVar(&q.batch, "batch", "", "size of the batch; the mix as written if not said")
	f.StringVar(&q.bag, "bag", "", "what a bag of cement holds: 94lb, 40kg")
	f.StringArrayVar(&q.moisture, "moisture", nil, "total moisture of the sand, of its dry mass: 4%, or sand=4%")
	f.StringArrayVar(&q.absorption, "absorption", nil, "absorption of the sand in place of the mix's: 1%, or sand=1%")
	f.StringVar(&q.air, "air", "", "air content in place of the mix's")
	f.StringVar(&q.least, "pozzolan-least", "", "least share of pozzolan asked for: 12.5%")
	f.StringVar(&q.of, "pozzolan-of", "", "what that is a share of: cementitious or cement")
	f.StringVar(&q.mixer, "mixer", "", "nominal volume of the mixer's drum: a batch that fills --mixer-share of it")
	f.StringVar(&q.share, "mixer-share", "",
		"share of the drum that the batch fills; a third, as of a stiff mix, if not said")
	q.weighing.flags(f)
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcMix) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if q.file == "" {
		return s.Missing("mix")
	}
	raw, err := env.ReadFile(q.file)
	if err != nil {
		return err
	}
	planned, err := plan.Mix(q.file, raw)
	if err != nil {
		return parse.Mistakes(env, q.file, err)
	}
	m, err := mixplan.Mix(planned)
	if err != nil {
		return terminal.Usagef("%s: %v", q.file, err)
	}
	s.Noted("mix", fmt.Sprintf("%s, revision %d, from %s", m.Name, planned.Revision, q.file))
	if err := q.change(s, &m); err != nil {
		return err
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
	if m.DesignYield > 0 {
		figures, err = batch.FiguresAtYield(m.DesignYield)
	}
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc := mixDocument(planned.Revision, m, batch, figures)
	if err := q.judge(s, m, figures, &doc); err != nil {
		return err
	}
	figuresOfMix(s, figures, doc)
	use, why := mixes.UseConcrete, "where the mix states no working time: discharge by ASTM C94 (from memory)"
	if planned.Working > 0 {
		use, why = planned.Working, "the mix's own working time"
	}
	doc.Use = use.Minutes()
	s.Figuref("use within", "%s of water contact: %s", unit.Duration(use), why)
	s.Figuref("neighbouring trades",
		"masonry mortar %s (ASTM C270), plaster %s (commonly used); initial set decides here",
		unit.Duration(mixes.UseMasonry), unit.Duration(mixes.UsePlaster))
	if err := q.weighing.judge(s, planned, m, batch, &doc); err != nil {
		return err
	}
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "mix", doc)
}

// change makes the mix what the flags ask for: air and absorption first, then the size, which may go by yield.
func (q calcMix) change(s *sheet.Sheet, m *mixes.Mix) error {
	if air, err := sheet.AskedIfGiven(s, "air", q.air, unit.ParseShare, "", unit.System.Share); err != nil {
		return err
	} else if air != nil {
		m.Air, m.DesignYield = *air, 0
	}
	absorption, err := ofSands(s, "absorption", q.absorption, *m)
	if err != nil {
		return err
	}
	for i, c := range m.Constituents {
		if a, ok := absorption[c.Name]; ok {
			m.Constituents[i].Absorption = a
		}
	}
	if err := q.pozzolan(s, m); err != nil {
		return err
	}
	if err := m.Check(); err != nil {
		return terminal.AsUsage(err)
	}
	if q.bag != "" && !strings.Contains(strings.ToLower(q.batch), "bag") {
		return terminal.Usagef("--bag says what a bag of cement holds, for --batch \"2 bags\"")
	}
	if err := s.Exclusive("batch", q.batch, "mixer", q.mixer); err != nil {
		return err
	}
	if q.mixer != "" || q.share != "" {
		*m, err = q.forMixer(s, *m)
		return err
	}
	if q.batch == "" {
		return nil
	}
	*m, err = q.sized(s, *m)
	return sheet.FlagErr("batch", err)
}

// pozzolan gives the mix the least share that is asked for.
func (q calcMix) pozzolan(s *sheet.Sheet, m *mixes.Mix) error {
	least, err := sheet.AskedIfGiven(s, "pozzolan-least", q.least, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return err
	}
	if least == nil {
		if q.of != "" {
			return terminal.Usagef("--pozzolan-of says what --pozzolan-least is a share of; give both")
		}
		return nil
	}
	m.PozzolanLeast = *least
	switch strings.ToLower(q.of) {
	case "":
	case "cementitious":
		m.PozzolanBasis = mixes.OfCementitious
	case "cement":
		m.PozzolanBasis = mixes.OfCement
	default:
		return terminal.Usagef("--pozzolan-of: %q is not a basis%s", terminal.Safe(q.of),
			terminal.Suggest(q.of, []string{"cementitious", "cement"}))
	}
	if q.of != "" {
		s.Noted("pozzolan-of", q.of)
	}
	return nil
}

// forMixer is the mix for a batch that fills a share of a drum.
func (q calcMix) forMixer(s *sheet.Sheet, m mixes.Mix) (mixes.Mix, error) {
	drum, err := sheet.Asked(s, "mixer", q.mixer, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return m, err
	}
	share := mixes.DrumShareStiff
	said, err := sheet.AskedIfGiven(s, "mixer-share", q.share, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return m, err
	}
	if said != nil {
		share = *said
	} else {
		s.Warnf("a third of the drum is taken, as of a paddle mixer with a stiff mix (common practice, no source)")
	}
	s.AtMost("share of the drum", "at most "+unit.Metric.Share(mixes.DrumShare)+", of a mortar that flows",
		unit.Round(share, 1e-6) > mixes.DrumShare, "common practice, no source")
	m, err = m.ForMixer(drum, share)
	return m, terminal.AsUsage(err)
}

// sized is the mix for a batch of the size asked for.
func (q calcMix) sized(s *sheet.Sheet, m mixes.Mix) (mixes.Mix, error) {
	text := strings.ToLower(strings.TrimSpace(q.batch))
	for _, word := range []string{"bags", "bag"} {
		number, ok := strings.CutSuffix(text, word)
		if !ok {
			continue
		}
		n, err := times(number)
		if err != nil {
			return m, err
		}
		bag, err := sheet.Asked(s, "bag", q.bag, unit.ParseMass, "kg", unit.System.Mass)
		if err != nil {
			return m, err
		}
		s.Understood("batch", q.batch, n, "bags", sheet.Decimal(n, 4)+" bags of cement")
		return m.ForBags(n, bag)
	}
	if number, ok := strings.CutSuffix(text, "x"); ok {
		n, err := times(number)
		if err != nil {
			return m, err
		}
		s.Understood("batch", q.batch, n, "", sheet.Decimal(n, 4)+" times the mix as written")
		return m.Scaled(n)
	}
	a, err := unit.ParseAmount(q.batch)
	if err != nil {
		return m, terminal.Usagef("%q is not the size of a batch; it looks like 3ft3, 70L, 150kg, 1/2x or 2 bags",
			terminal.Safe(q.batch))
	}
	if a.IsVolume {
		s.Understood("batch", q.batch, float64(a.Volume), "m3",
			unit.Both(unit.Metric, unit.As[unit.Volume]{SI: a.Volume, Entered: q.batch}, unit.System.Volume))
		return m.ForVolume(a.Volume)
	}
	s.Understood("batch", q.batch, float64(a.Mass), "kg",
		unit.Both(unit.Metric, unit.As[unit.Mass]{SI: a.Mass, Entered: q.batch}, unit.System.Mass))
	f, err := m.Figures()
	if err != nil {
		return m, err
	}
	return m.Scaled(float64(a.Mass / f.Mass))
}

// times reads how many: 2, 0.5, 1/2.
func times(text string) (float64, error) {
	text = strings.TrimSpace(text)
	over, under, cut := strings.Cut(text, "/")
	n, err := strconv.ParseFloat(strings.TrimSpace(over), 64)
	if cut && err == nil {
		var d float64
		if d, err = strconv.ParseFloat(strings.TrimSpace(under), 64); err == nil {
			n /= d
		}
	}
	if err != nil || !(n > 0 && n <= 1e6) {
		return 0, terminal.Usagef("%q is not how many; it looks like 2, 0.5 or 1/2", terminal.Safe(text))
	}
	return n, nil
}

// ofSands reads 4%, which is meant for every sand of the mix, and sand=4%.
func ofSands(s *sheet.Sheet, flag string, said []string, m mixes.Mix) (map[string]unit.Share, error) {
	of := map[string]unit.Share{}
	var sands []string
	for _, c := range m.Constituents {
		if c.Kind == mixes.Sand {
			sands = append(sands, c.Name)
		}
	}
	for _, text := range said {
		name, value, one := strings.Cut(text, "=")
		if !one {
			value = text
		}
		if len(sands) == 0 {
			return nil, terminal.Usagef("--%s: mix %s has no sand", flag, terminal.Safe(m.Name))
		}
		label := flag
		if one {
			found, err := terminal.PickName("sand of mix "+m.Name, name, sands)
			if err != nil {
				return nil, sheet.FlagErr(flag, err)
			}
			name, label = found, flag+" of "+found
		}
		share, err := unit.ParseShare(value)
		if err != nil {
			return nil, sheet.FlagErr(flag, err)
		}
		s.Understood(label, value, float64(share), "", unit.Metric.Share(share))
		for _, sand := range sands {
			if !one || sand == name {
				of[sand] = share
			}
		}
	}
	return of, nil
}

func mixDocument(revision int, m mixes.Mix, b mixes.Batch, f mixes.Figures) mixDoc {
	doc := mixDoc{
		Mix: m.Name, Revision: revision, Mass: float64(f.Mass), Yield: float64(f.Yield),
		UnitWeight: float64(f.UnitWeight),
		AirFree:    float64(f.AirFreeUnitWeight), AirFreeVolume: float64(f.AirFree), Air: float64(f.Air) * 100,
		WCm: f.WaterCementitious, Water: float64(f.Water.Total), Cement: float64(f.CementContent),
		Cementitious:     float64(f.CementitiousContent),
		SandCementitious: f.SandCementitious, OfCementitious: float64(f.PozzolanOfCementitious) * 100,
		OfCement: float64(f.PozzolanOfCement) * 100,
	}
	volumes := map[string]unit.Volume{}
	for _, p := range f.Parts {
		volumes[p.Name] = p.Volume
	}
	for i, c := range b.Charges {
		a := amountDoc{
			Name: c.Name, Kind: c.Kind.String(), Mass: float64(c.Mass),
			Design: float64(m.Constituents[i].Mass), Volume: float64(volumes[c.Name]),
		}
		if c.Moisture != nil {
			percent := float64(*c.Moisture) * 100
			a.Moisture = &percent
		}
		doc.Amounts = append(doc.Amounts, a)
	}
	for _, w := range f.Water.Parts {
		doc.WaterParts = append(doc.WaterParts, waterDoc{w.Source.String(), w.Name, float64(w.Mass)})
	}
	for _, d := range f.Doses {
		doc.Doses = append(doc.Doses, doseDoc{
			d.Name, millilitresPer100kg(d.Rate),
			float64(d.Rate / unit.FluidOuncePerHundredweight), float64(d.Solids) * 100,
		})
	}
	for _, x := range f.Fibres {
		doc.Fibres = append(doc.Fibres, fibreShare{x.Name, float64(x.Mass) * 100, float64(x.Volume) * 100})
	}
	return doc
}

// judge compares with the mix's own limits and with what is usual.
func (q calcMix) judge(s *sheet.Sheet, m mixes.Mix, f mixes.Figures, doc *mixDoc) error {
	s.By("V = mass / (gravity × 62.4 lb/ft³); yield = Σ V / (1 − air)", "absolute volumes, ACI 211.1; ASTM C138")
	s.By("weigh = dry × (1 + moisture), dry = SSD / (1 + absorption); free water = weigh − SSD",
		"moisture correction, ACI 211.1")
	s.By("w/cm = all water (added, free in sand, in admixtures and foam) / (cement + pozzolan), by mass",
		"design of this program; w/cm as ASTM and ACI have it")
	if m.WaterLimit > 0 {
		left, err := f.WaterLeft(m.WaterLimit)
		if err != nil {
			return terminal.AsUsage(err)
		}
		v := float64(left)
		doc.WaterLeft = &v
		s.AtMost("w/cm", "at most "+sheet.Decimal(m.WaterLimit, 3),
			unit.Round(f.WaterCementitious, 0.0005) > m.WaterLimit, "the mix's own limit")
		if left >= 0 {
			s.Figuref("water still permitted", "%s", sheet.Both(left, unit.System.Mass))
		} else {
			s.Figuref("water over the limit", "%s", sheet.Both(-left, unit.System.Mass))
		}
	}
	if m.TargetUnitWeight > 0 && m.UnitWeightTolerance > 0 {
		j, err := mixes.JudgeUnitWeight(f.UnitWeight, m.TargetUnitWeight, m.UnitWeightTolerance)
		if err != nil {
			return terminal.AsUsage(err)
		}
		s.Between("unit weight", fmt.Sprintf("%s to %s", sheet.Both(j.Low, unit.System.Density),
			sheet.Both(j.High, unit.System.Density)), !j.Within, "the mix's own target")
	}
	if m.PozzolanLeast > 0 {
		j, err := f.JudgePozzolan(m.PozzolanLeast, m.PozzolanBasis)
		if err != nil {
			return terminal.AsUsage(err)
		}
		if j.Judged {
			doc.PozzolanMet = &j.Met
			basis := ""
			if j.Basis != mixes.BasisNotSaid {
				basis = " " + j.Basis.String()
			}
			s.AtLeast("pozzolan", "at least "+unit.Metric.Share(j.Least)+basis, !j.Met,
				"as asked for; both bases stand above")
		}
		if j.Remark != "" {
			s.Warnf("%s", j.Remark)
		}
	}
	for _, r := range append(f.Remarks, f.Unusual()...) {
		s.Warnf("%s", r)
	}
	return nil
}

func figuresOfMix(s *sheet.Sheet, f mixes.Figures, doc mixDoc) {
	for _, a := range doc.Amounts {
		text := sheet.Both(unit.Mass(a.Mass), unit.System.Mass)
		if a.Moisture != nil {
			text += fmt.Sprintf(", damp at %s %%: %s at SSD", sheet.Decimal(*a.Moisture, 3),
				sheet.Both(unit.Mass(a.Design), unit.System.Mass))
		}
		s.Figuref("weigh "+a.Name, "%s", text)
	}
	s.Figuref("batch", "%s", sheet.Both(f.Mass, unit.System.Mass))
	s.Figuref("yield", "%s", sheet.Both(f.Yield, unit.System.Volume))
	s.Figuref("unit weight", "%s", sheet.Both(f.UnitWeight, unit.System.Density))
	s.Figuref("air-free unit weight", "%s", sheet.Both(f.AirFreeUnitWeight, unit.System.Density))
	s.Figuref("air", "%s", unit.Metric.Share(f.Air))
	s.Figuref("w/cm", "%s: %s of water on %s", sheet.Decimal(f.WaterCementitious, 4),
		sheet.Both(f.Water.Total, unit.System.Mass), sheet.Both(f.Cementitious, unit.System.Mass))
	s.Figuref("cement content", "%s", sheet.Both(f.CementContent, unit.System.Density))
	s.Figuref("cementitious content", "%s", sheet.Both(f.CementitiousContent, unit.System.Density))
	s.Figuref("sand/cementitious", "%s by mass", sheet.Decimal(f.SandCementitious, 4))
	if f.Pozzolan > 0 {
		s.Figuref("pozzolan", "%s of the cementitious, %s of the cement", unit.Metric.Share(f.PozzolanOfCementitious),
			unit.Metric.Share(f.PozzolanOfCement))
	}
	for _, d := range doc.Doses {
		s.Figuref(d.Name, "%s mL/100 kg (%s fl oz/cwt), solids %s %% of the cementitious", sheet.Decimal(d.ML, 4),
			sheet.Decimal(d.FlOz, 4), sheet.Decimal(d.Solids, 3))
	}
	for _, x := range doc.Fibres {
		s.Figuref(x.Name, "%s %% by volume, %s %% by mass", sheet.Decimal(x.Volume, 3), sheet.Decimal(x.Mass, 3))
	}
}
