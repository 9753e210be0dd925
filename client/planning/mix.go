package planning

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/mixplan"
	"hod/internal/report"
	"hod/internal/unit"
)

// NewMix makes hod mix.
func NewMix(env *session.Env) *cobra.Command {
	return env.NewGroup("mix", "The mixes: what goes into one batch, and in what order", "hod mix show face",
		newMixAdd(env), newMixList(env), newMixShow(env), newMixSheet(env))
}

// mixAdd plans a mix.
type mixAdd struct {
	name                                        string
	constituents, steps                         []string
	air, yield, weight, tolerance, set, working string
	datum                                       string
	limit, activation                           float64
	corrects                                    int
	replace                                     bool
}

func newMixAdd(env *session.Env) *cobra.Command {
	var m mixAdd
	c := env.NewCommand("add MIX NAME=AMOUNT[,kind=…,gravity=…,absorption=…,solids=…]…",
		"Plan a mix by the amounts of one batch (foreman)",
		`hod mix add face cement=94lb,gravity=3.15 sand=190lb,gravity=2.62,absorption=1% water=4.5gal --limit 0.45 --set 3h@23C --air 4%`,
		`hod mix add face --replace cement=94lb,gravity=3.15 sand=190lb,gravity=2.62 water=4.5gal --step "water 3/4" --step cement --step "wait 2min" --step "look flows by itself"`,
		`hod mix add face cement=94lb,gravity=3.15 sand=rest,gravity=2.62,absorption=1% water=4.5gal --yield 2.7ft3 --air 4%`)
	c.Long = "Sand is given saturated and surface dry; sand=rest takes what the others and the air leave of --yield, by absolute volumes. Its kind is taken from a constituent's name where that is one of cement, pozzolan, sand, " +
		"water, admixture, foam, fibre; else say kind=…. Steps are the charging order: NAME [share], wait TIME, look WORDS."
	c.Args = terminal.MinimumArgs(2, "the name of the mix and its constituents")
	f := c.Flags()
	f.StringVar(&m.air, "air", "", "design air: 4%")
	f.StringVar(&m.yield, "yield", "", "yield of one batch, where it is stated: 1.6ft3")
	f.Float64Var(&m.limit, "limit", 0, "highest w/cm: 0.45")
	f.StringVar(&m.weight, "unit-weight", "", "unit weight wanted: 135lb/ft3")
	f.StringVar(&m.tolerance, "tolerance", "", "of the unit weight: 2%")
	f.StringVar(&m.set, "set", "", "initial set and its temperature: 3h@23C")
	f.Float64Var(&m.activation, "activation", 0, "activation energy, kJ/mol")
	f.StringVar(&m.working, "working", "", "how long a batch may be worked: 75min")
	f.StringVar(&m.datum, "datum", "", "datum of maturity: 0C")
	f.StringArrayVar(&m.steps, "step", nil, "a step of the charging order")
	f.BoolVar(&m.replace, "replace", false,
		"plan it anew where it is planned already; batches mixed before stay as they were")
	f.IntVar(&m.corrects, "corrects", 0,
		"the earlier revision in which this one mends a mistake: its batches are judged by this one")
	env.SureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		m.name, m.constituents = args[0], args[1:]
		return session.Run(c.Context(), env, func(s *session.Session) error { return m.run(c.Context(), s) })
	}
	return c
}

func (m mixAdd) run(ctx context.Context, s *session.Session) error {
	body := event.MixPlanned{
		Mix: event.Mix(m.name), Revision: 1, WaterLimit: m.limit, Activation: m.activation,
		Corrects: m.corrects,
	}
	if old, ok := s.Plan.Mixes[body.Mix]; ok {
		if !m.replace {
			return terminal.Refusedf("mix %s is planned already, in revision %d; --replace plans it anew", body.Mix,
				old.Revision)
		}
		body.Revision = old.Revision + 1
	}
	if m.corrects != 0 && !s.Plan.HasRevision(body.Mix, m.corrects) {
		return terminal.Refusedf("mix %s has no revision %d to correct; it has %s", body.Mix, m.corrects,
			s.Plan.RevisionsOf(body.Mix))
	}
	if err := m.read(&body); err != nil {
		return err
	}
	body.Replaces = s.ReplacedBy(body)
	if _, figures, err := mixplan.Figures(body); err != nil {
		return terminal.Usagef("mix %s cannot be: %v", body.Mix, err)
	} else if len(figures.Remarks) > 0 {
		for _, r := range figures.Remarks {
			s.Env.Hintf("note: %s", r)
		}
	}
	return keepPlan(ctx, s, []session.Draft{{Body: body}})
}

func (m mixAdd) read(body *event.MixPlanned) error {
	rest, err := m.readConstituents(body)
	if err != nil {
		return err
	}
	if body.Air, err = parse.OptionalFlag("air", m.air, unit.ParseShare); err != nil {
		return err
	}
	if body.DesignYield, err = parse.OptionalFlag("yield", m.yield, unit.ParseVolume); err != nil {
		return err
	}
	if rest >= 0 {
		if body.DesignYield == nil {
			return terminal.Usagef("%s is to take the rest of the batch's volume; say that with --yield, as 2.7ft3",
				body.Constituents[rest].Name)
		}
		sand, err := mixplan.Rest(*body, rest)
		if err != nil {
			return terminal.Usagef("%s=rest: %v", body.Constituents[rest].Name, err)
		}
		body.Constituents[rest].Amount = event.Amount{Mass: sand}
	}
	if body.UnitWeight, err = parse.OptionalFlag("unit-weight", m.weight, unit.ParseDensity); err != nil {
		return err
	}
	if body.UnitWeightTolerance, err = parse.OptionalFlag("tolerance", m.tolerance, unit.ParseShare); err != nil {
		return err
	}
	if body.Datum, err = parse.OptionalFlag("datum", m.datum, unit.ParseTemperature); err != nil {
		return err
	}
	if err := m.readTimes(body); err != nil {
		return err
	}
	for _, word := range m.steps {
		step, err := parse.Step(word)
		if err != nil {
			return err
		}
		body.Steps = append(body.Steps, step)
	}
	return nil
}

// readTimes reads when the mix sets and how long it can be worked.
func (m mixAdd) readTimes(body *event.MixPlanned) error {
	var err error
	if m.set != "" {
		set, at, ok := strings.Cut(m.set, "@")
		if !ok {
			return terminal.Usagef("--set needs the temperature that it holds at: 3h@23C")
		}
		if body.InitialSet, err = unit.ParseDuration(set); err != nil {
			return terminal.InFlag("set", err)
		}
		if body.SetReference, err = parse.OptionalFlag("set", at, unit.ParseTemperature); err != nil {
			return err
		}
	}
	if m.working != "" {
		if body.Working, err = unit.ParseDuration(m.working); err != nil {
			return terminal.InFlag("working", err)
		}
	}
	return nil
}

// readConstituents reads the constituents, and says which takes the rest; -1 for none.
func (m mixAdd) readConstituents(body *event.MixPlanned) (int, error) {
	rest := -1
	for i, word := range m.constituents {
		c, takes, err := parse.ConstituentOrRest(word)
		if err != nil {
			return 0, err
		}
		if takes && rest >= 0 {
			return 0, terminal.Usagef("%s and %s are both to take the rest; one sand takes what the others leave",
				body.Constituents[rest].Name, c.Name)
		}
		if takes {
			rest = i
		}
		body.Constituents = append(body.Constituents, c)
	}
	return rest, nil
}

// mixList is the document hod.mixes.v1; mixShown is hod.mix-view.v1.
type mixList struct {
	Mixes []mixShown `json:"mixes"`
}

type mixShown struct {
	Mix          string             `json:"mix"`
	Revision     int                `json:"revision"`
	Constituents []constituentShown `json:"constituents"`
	WCM          float64            `json:"w_cm,omitempty"`
	WaterLimit   float64            `json:"water_limit,omitempty"`
	Yield        *terminal.Quantity `json:"yield,omitempty"`
	UnitWeight   *terminal.Quantity `json:"unit_weight,omitempty"` // wanted, else as computed
	Air          float64            `json:"air"`
	SetSeconds   float64            `json:"initial_set_s"`
	SetAt        terminal.Quantity  `json:"initial_set_at"`
	SetSaid      bool               `json:"initial_set_said"` // false: an assumption, for warning only
	Steps        []string           `json:"steps,omitempty"`
	Wrong        string             `json:"wrong,omitempty"` // why its amounts give no figures
	Remarks      []string           `json:"remarks,omitempty"`
}

type constituentShown struct {
	Name   string            `json:"name"`
	Kind   string            `json:"kind"`
	Amount terminal.Quantity `json:"amount"`
}

func mixShownOf(s *session.Session, m *fold.Mix) mixShown {
	v := mixShown{
		Mix: string(m.MixPlanned.Mix), Revision: m.Revision, WaterLimit: m.WaterLimit,
		SetSeconds: m.Set.Initial.Seconds(),
		SetAt:      terminal.QuantityOf(unit.Computed(m.Set.Reference), "C"), SetSaid: m.SetSaid, Wrong: m.Wrong,
		Remarks: m.Figures.Remarks,
		Air:     math.Round(float64(m.Figures.Air)*1e6) / 1e6, Constituents: []constituentShown{},
	}
	for _, c := range m.Constituents {
		v.Constituents = append(v.Constituents,
			constituentShown{string(c.Name), c.Kind.String(), session.QuantityOfAmount(c.Amount)})
	}
	if m.Wrong == "" {
		v.WCM = terminal.Round3(m.Figures.WaterCementitious)
		yield, weight := terminal.QuantityOf(unit.Computed(m.Figures.Yield), "m3"),
			terminal.QuantityOf(unit.Computed(m.Figures.UnitWeight), "kg/m3")
		v.Yield, v.UnitWeight = &yield, &weight
	}
	if m.UnitWeight != nil {
		weight := terminal.QuantityOf(*m.UnitWeight, "kg/m3")
		v.UnitWeight = &weight
	}
	var whole []event.Charge
	for _, c := range m.Constituents {
		whole = append(whole, event.Charge{Constituent: c.Name, Amount: c.Amount})
	}
	for _, step := range m.Steps {
		v.Steps = append(v.Steps, s.FormatStep(step, session.Portion(step, whole)))
	}
	return v
}

func newMixList(env *session.Env) *cobra.Command {
	c := env.NewCommand("list", "List the mixes", "hod mix list")
	var tables session.TableFlags
	tables.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			if err := tables.ShowTable(s); err != nil {
				return err
			}
			doc := mixList{Mixes: []mixShown{}}
			for _, name := range s.Plan.MixNames() {
				doc.Mixes = append(doc.Mixes, mixShownOf(s, s.Plan.Mixes[name]))
			}
			if len(doc.Mixes) == 0 {
				s.Env.Hintf("no mix is planned here yet; the foreman plans them, or `hod sync` fetches the plan")
			}
			return env.Show("mixes", doc, report.List("", []string{"mix", "revision", "w/cm", "yield", "unit weight"},
				mixRows(s, doc), s.Page()))
		})
	}
	return c
}

func mixRows(s *session.Session, doc mixList) [][]string {
	var rows [][]string
	for _, m := range doc.Mixes {
		row := []string{m.Mix, strconv.Itoa(m.Revision), m.Wrong}
		if m.Wrong == "" {
			row = append(row[:2], fmt.Sprintf("%.3f", m.WCM), s.Units.Volume(unit.Volume(m.Yield.SI)),
				s.Units.Density(unit.Density(m.UnitWeight.SI)))
		}
		rows = append(rows, row)
	}
	return rows
}

func newMixShow(env *session.Env) *cobra.Command {
	c := env.NewCommand("show MIX", "Show a mix: amounts of one batch, its figures, its charging order",
		"hod mix show face")
	c.Args = terminal.ExactArgs(1, "a mix")
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			m, err := s.FindMix(args[0])
			if err != nil {
				return err
			}
			v := mixShownOf(s, m)
			return env.Print("mix-view", v, func(w io.Writer) { showMix(s, w, m, v) })
		})
	}
	return c
}

func showMix(s *session.Session, w io.Writer, m *fold.Mix, v mixShown) {
	fmt.Fprintf(w, "%s, revision %d: one batch, the sand saturated and surface dry\n", v.Mix, v.Revision)
	var rows [][]string
	for _, c := range m.Constituents {
		more := []string{c.Kind.String()}
		if c.Gravity > 0 {
			more = append(more, "gravity "+strconv.FormatFloat(c.Gravity, 'g', 4, 64))
		}
		if c.Absorption != nil {
			more = append(more, "absorption "+unit.Shown(s.Units, *c.Absorption, unit.System.Share))
		}
		if c.Solids != nil {
			more = append(more, "solids "+unit.Shown(s.Units, *c.Solids, unit.System.Share))
		}
		if c.Bulk != nil {
			more = append(more, "loose "+unit.Shown(s.Units, *c.Bulk, unit.System.Density))
		}
		rows = append(rows, []string{
			string(c.Name), s.FormatAmount(c.Amount),
			strings.Join(slices.Compact(more), ", "),
		})
	}
	fmt.Fprint(w, report.Rows(rows, s.Page()))
	if v.Wrong != "" {
		fmt.Fprintf(w, "no figures: %s\n", v.Wrong)
		return
	}
	fmt.Fprintf(w, "w/cm %.3f", v.WCM)
	if v.WaterLimit > 0 {
		fmt.Fprintf(w, ", %.3f at most", v.WaterLimit)
	}
	fmt.Fprintf(w, "; yield %s; unit weight %s\n",
		unit.Both(s.Units, unit.Computed(unit.Volume(v.Yield.SI)), unit.System.Volume),
		unit.Both(s.Units, unit.Computed(unit.Density(v.UnitWeight.SI)), unit.System.Density))
	assumed := ""
	if !v.SetSaid {
		assumed = ", assumed: the mix states none"
	}
	fmt.Fprintf(w, "initial set %s at %s%s\n", unit.Duration(m.Set.Initial),
		unit.Both(s.Units, unit.Computed(m.Set.Reference), unit.System.Temperature), assumed)
	for i, step := range v.Steps {
		fmt.Fprintf(w, "%3d  %s\n", i+1, step)
	}
	for _, r := range v.Remarks {
		fmt.Fprintf(w, "note: %s\n", r)
	}
}
