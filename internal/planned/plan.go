package planned

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/mixplan"
	"hod/internal/packed"
	"hod/internal/trade/mix"
	"hod/internal/trade/setting"
	"hod/internal/trade/shell"
	"hod/internal/trade/strip"
	"hod/internal/unit"
)

// What a site goes by that has not said otherwise. The evaporation limits are those for mixes that bleed little (ACI
// 305R family), which rich fibre mortar is; the rest are choices of this program.
const (
	DefaultLoss    = unit.Share(0.08)
	DefaultClosing = unit.Share(0.8)
	// common practice for one-bag batches weighed by hand, no source
	DefaultWeighing                       = unit.Share(0.05)
	DefaultEvaporation   unit.Evaporation = 0.5 // kg/(m²·h)
	DefaultEvaporationUS                  = 0.1 // lb/(ft²·h)
	DefaultWorkFrom                       = 7 * time.Hour
	DefaultWorkTo                         = 17 * time.Hour
	DefaultWorking                        = mix.UseConcrete
)

// Plans are the plans of a site, and which of them hold.
type Plans struct {
	history.Log
	AsOf     time.Time // plans that happened later do not hold; zero: all do
	Slots    map[string]*slot
	Current  *Plan            // nil when stale
	planWith *packed.Readings // what was packed when it was worked out
}

// NewPlans are the plans in a log that has no events yet.
func NewPlans(log history.Log) Plans { return Plans{Log: log, Slots: map[string]*slot{}} }

// slot is all plans of one thing, as event.ThingOf names it.
type slot struct{ Plans []*history.Record }

// Slot holds the plans of one thing; made when it is first asked for.
func (s *Plans) Slot(key string) *slot {
	if s.Slots[key] == nil {
		s.Slots[key] = &slot{}
	}
	return s.Slots[key]
}

// Plan is the plan as it holds: what a foreman wrote, with defaults filled in.
type Plan struct {
	Name, Place string
	TimeZone    string
	Rules
	Zones     map[event.Zone]*Zone
	Edges     []Edge // by their zones' names
	Mixes     map[event.Mix]*Mix
	Crews     map[event.Crew]event.CrewPlanned
	Materials map[event.Material]event.MaterialPlanned

	past past
}

// Rules are what a site goes by: units, working days and hours, and limits.
type Rules struct {
	System           unit.System
	WorkFrom, WorkTo time.Duration
	Week             []event.WorkDays // none: not said on which days
	Except           []event.WorkException
	Loss             unit.Share
	Closing          unit.Share
	Weighing         unit.Share       // how far a constituent weighed by hand may be off
	Evaporation      unit.Evaporation // limit, kg/(m²·h)
	EvaporationUS    float64          // limit, lb/(ft²·h)
	WarnBefore       time.Duration
}

// past is what held before, see history.go.
type past struct {
	revisions map[event.Mix]*revisions
	zones     map[event.Zone]timeline
	coats     map[event.Coat]timeline
	edges     map[[2]event.Zone]timeline // A before B by name
	limits    []limitsHeld
}

// Zone is a zone as planned.
type Zone struct {
	event.ZonePlanned
	Coats []Coat // by face, then number
	Edges []Edge
	// Surface is where the zone's sides lie; nil where the plan does not say, or what it says cannot be.
	Surface *strip.Surface
}

// Coat is a coat as planned.
type Coat struct {
	event.CoatPlanned
	Needed unit.Volume // that its thickness takes, loss counted
}

// Edge is an edge as planned, A before B by name.
type Edge struct {
	A, B   event.Zone
	Length unit.Length
	Joint  event.JointPermission
	Parts  *[2]strip.Part // of A's and of B's sides; nil where the plan does not say
	plan   *event.EdgePlanned
}

// Planned is the edge as it was written, its zones in the order of their names.
func (e Edge) Planned() event.EdgePlanned { return *e.plan }

// Mix is a mix as planned, with what its amounts say of it.
type Mix struct {
	event.MixPlanned
	Mix     mix.Mix
	Figures mix.Figures // of one batch as designed
	Wrong   string      // why its amounts give no figures
	Set     setting.Set
	Yields  YieldKey // under which its yield is learned
	SetSaid bool     // the mix states its initial set; if not, Set is an assumption
}

// ComputePlan reads what is marked and brings the plan up to date. All else hangs on it.
func (s *Plans) ComputePlan() {
	s.Settle()
	if s.Current != nil && s.planWith == s.Packed {
		return
	}
	s.Current = s.resolvePlan()
	if s.Deferred != nil || s.Packed != nil {
		mark, before := s.PlanMark(), s.Added()
		if s.Deferred != nil && mark != s.Deferred.Plan {
			s.LoadAll()
		}
		if s.Packed != nil && mark != s.Packed.Plan {
			s.Unpack()
		}
		if s.Added() > before {
			s.Settle()
			s.Current = s.resolvePlan()
		}
	}
	s.planWith = s.Packed
}

// Plan as it holds now.
func (s *Plans) Plan() *Plan {
	s.ComputePlan()
	return s.Current
}

// ZoneNames in the order in which the shell is placed.
func (p *Plan) ZoneNames() []event.Zone {
	return slices.SortedFunc(maps.Keys(p.Zones), func(a, b event.Zone) int {
		return cmp.Or(cmp.Compare(p.Zones[a].Order, p.Zones[b].Order), cmp.Compare(a, b))
	})
}

// MixNames by name.
func (p *Plan) MixNames() []event.Mix { return slices.Sorted(maps.Keys(p.Mixes)) }

// Coat finds a planned coat. A face or number that the writer left out is found where only one fits.
func (p *Plan) Coat(c event.Coat) (Coat, *history.Aside) {
	z := p.Zones[c.Zone]
	if z == nil {
		return Coat{}, &history.Aside{Code: history.UnknownZone, Why: fmt.Sprintf("no zone %s is planned", c.Zone)}
	}
	var fit []Coat
	for _, k := range z.Coats {
		if (c.Face == event.AnyFace || c.Face == k.Coat.Face) && (c.Number == 0 || c.Number == k.Coat.Number) {
			fit = append(fit, k)
		}
	}
	switch {
	case len(fit) == 1:
		return fit[0], nil
	case len(fit) > 1:
		return Coat{}, &history.Aside{
			Code: history.UnknownCoat,
			Why: fmt.Sprintf("%s fits %d planned coats; say which face and number", c,
				len(fit)),
		}
	}
	return Coat{}, &history.Aside{Code: history.UnknownCoat, Why: fmt.Sprintf("no coat %s is planned", c)}
}

// tip of a slot: the plan that holds, of those that no other replaces.
func (s *Plans) tip(plans []*history.Record, l Lineage) *history.Record {
	if len(plans) == 0 {
		return nil
	}
	tips := slices.Clone(l.tips(plans))
	for _, r := range plans {
		switch {
		case !slices.Contains(tips, r):
			r.State = history.Replaced
		case r.State == history.Replaced || r.State == history.Disputed:
			r.State = history.PlainState(r)
		}
	}
	slices.SortFunc(tips, history.ByLogged)
	chosen, settled := s.Choose(tips)
	same := alikeNow(tips)
	for _, r := range tips {
		switch {
		case len(tips) == 1:
		case settled && r != chosen, same && r != chosen:
			r.State = history.Replaced
		case !settled && !same:
			r.State = history.Disputed
		}
	}
	return chosen
}

func alikeNow(of []*history.Record) bool {
	for _, r := range of[1:] {
		if !history.SameBody(of[0].Now, r.Now) {
			return false
		}
	}
	return true
}

func newPlan() *Plan {
	return &Plan{
		Rules: defaultRules(),
		Zones: map[event.Zone]*Zone{}, Mixes: map[event.Mix]*Mix{}, Crews: map[event.Crew]event.CrewPlanned{},
		Materials: map[event.Material]event.MaterialPlanned{},
		past: past{
			revisions: map[event.Mix]*revisions{}, zones: map[event.Zone]timeline{}, coats: map[event.Coat]timeline{},
			edges: map[[2]event.Zone]timeline{},
		},
	}
}

func defaultRules() Rules {
	return Rules{
		System: unit.Metric, WorkFrom: DefaultWorkFrom, WorkTo: DefaultWorkTo, Loss: DefaultLoss,
		Closing:  DefaultClosing,
		Weighing: DefaultWeighing, Evaporation: DefaultEvaporation, EvaporationUS: DefaultEvaporationUS,
		WarnBefore: 15 * time.Minute,
	}
}

func (s *Plans) resolvePlan() *Plan {
	p := newPlan()
	var coats []*history.Record
	var edges []*history.Record
	for _, key := range slices.Sorted(maps.Keys(s.Slots)) {
		all := s.Slots[key].Plans
		plans, l := s.planned(all), s.LineageOf(all)
		r := s.tip(plans, l)
		if r == nil {
			continue
		}
		switch b := r.Now.(event.Plan).(type) {
		case event.SitePlanned:
			p.site(b)
			for _, h := range s.historyOf(l, plans) {
				then := defaultRules()
				then.take(h.plan.Now.(event.SitePlanned))
				p.past.limits = append(p.past.limits, limitsHeld{h.from, &then})
			}
		case event.ZonePlanned:
			z := &Zone{ZonePlanned: b}
			if b.Form != nil {
				if surface, err := SurfaceOf(b.Form, b.Area.SI); err == nil {
					z.Surface = surface
				}
			}
			p.Zones[b.Zone] = z
			p.past.zones[b.Zone] = s.historyOf(l, plans)
		case event.MixPlanned:
			v := s.revisionsOf(l, plans, all)
			p.Mixes[b.Mix], p.past.revisions[b.Mix] = v.mixes[r], v
		case event.CrewPlanned:
			p.Crews[b.Crew] = b
		case event.MaterialPlanned:
			p.Materials[b.Material] = b
		case event.CoatPlanned:
			coats = append(coats, r)
			p.past.coats[b.Coat] = s.historyOf(l, plans)
		case event.EdgePlanned:
			edges = append(edges, r)
			p.past.edges[[2]event.Zone{min(b.A, b.B), max(b.A, b.B)}] = s.historyOf(l, plans)
		}
	}
	for _, r := range coats {
		p.coat(r)
	}
	for _, r := range edges {
		p.edge(r)
	}
	for _, z := range p.Zones {
		slices.SortFunc(z.Coats, func(a, b Coat) int {
			return cmp.Or(cmp.Compare(a.Coat.Face, b.Coat.Face), cmp.Compare(a.Coat.Number, b.Coat.Number))
		})
	}
	return p
}

func (p *Plan) site(b event.SitePlanned) {
	p.Name, p.Place, p.TimeZone = b.Name, b.Place, b.TimeZone
	p.take(b)
}

// take goes by what a plan of the site says, and by the defaults where it says nothing.
func (p *Rules) take(b event.SitePlanned) {
	if b.Units == event.US {
		p.System = unit.US
	}
	if b.WorkTo > b.WorkFrom {
		p.WorkFrom, p.WorkTo = b.WorkFrom, b.WorkTo
	}
	p.Week, p.Except = b.Week, b.Except
	if b.Loss != nil {
		p.Loss = b.Loss.SI
	}
	if b.Closing != nil {
		p.Closing = b.Closing.SI
	}
	if b.Weighing != nil {
		p.Weighing = b.Weighing.SI
	}
	if b.EvaporationMetric > 0 {
		p.Evaporation = b.EvaporationMetric
	}
	if b.EvaporationUS > 0 {
		p.EvaporationUS = b.EvaporationUS
	}
	if b.WarnBefore > 0 {
		p.WarnBefore = b.WarnBefore
	}
}

func (p *Plan) coat(r *history.Record) {
	b := r.Now.(event.CoatPlanned)
	z := p.Zones[b.Coat.Zone]
	switch {
	case z == nil:
		r.Lacks(&history.Aside{Code: history.UnknownZone, Why: fmt.Sprintf("no zone %s is planned", b.Coat.Zone)})
	case p.Mixes[b.Mix] == nil:
		r.Lacks(&history.Aside{Code: history.UnknownMix, Why: fmt.Sprintf("no mix %s is planned", b.Mix)})
	default:
		v, err := shell.Flat(z.Area.SI, b.Thickness.SI)
		if err != nil {
			r.Lacks(&history.Aside{Code: history.CannotBe, Why: err.Error()})
			return
		}
		r.Stands()
		z.Coats = append(z.Coats, Coat{b, v * unit.Volume(1+p.Loss)})
	}
}

func (p *Plan) edge(r *history.Record) {
	b := r.Now.(event.EdgePlanned)
	for _, name := range []event.Zone{b.A, b.B} {
		if p.Zones[name] == nil {
			r.Lacks(&history.Aside{Code: history.UnknownZone, Why: fmt.Sprintf("no zone %s is planned", name)})
			return
		}
	}
	r.Stands()
	if b.A > b.B {
		b.A, b.B, b.PartA, b.PartB = b.B, b.A, b.PartB, b.PartA
	}
	e := Edge{A: b.A, B: b.B, Length: b.Length.SI, Joint: b.Joint, plan: &b}
	if a, with := p.Zones[b.A], p.Zones[b.B]; b.PartA != nil && b.PartB != nil && a.Surface != nil &&
		with.Surface != nil {
		if of, on, err := PartsOf(b, a.ZonePlanned, with.ZonePlanned); err == nil {
			e.Parts = &[2]strip.Part{of, on}
		}
	}
	p.Edges = append(p.Edges, e)
	p.Zones[e.A].Edges = append(p.Zones[e.A].Edges, e)
	p.Zones[e.B].Edges = append(p.Zones[e.B].Edges, e)
}

// Other side of the edge.
func (e Edge) Other(z event.Zone) event.Zone {
	if e.A == z {
		return e.B
	}
	return e.A
}

// planMix brings a mix to the form in which it is reckoned with: every amount a mass.
func planMix(b event.MixPlanned) *Mix {
	m := &Mix{MixPlanned: b}
	m.Set, m.SetSaid = SetOf(b)
	m.Yields = yieldKeyOf(b)
	var err error
	if m.Mix, m.Figures, err = mixplan.Figures(b); err != nil {
		m.Wrong = err.Error()
	}
	return m
}

// Constituent of the mix by its name.
func (m *Mix) Constituent(name event.Material) (event.Constituent, bool) {
	for _, c := range m.Constituents {
		if c.Name == name {
			return c, true
		}
	}
	return event.Constituent{}, false
}

// SetOf is the mix's initial set, and whether the mix states it; the assumption is 3 h at 23 °C, for warning only.
func SetOf(b event.MixPlanned) (setting.Set, bool) {
	set := setting.Set{Initial: 3 * time.Hour, Reference: 23, Ea: setting.SuggestedEnergy}
	if b.InitialSet > 0 {
		set.Initial = b.InitialSet
	}
	if b.SetReference != nil {
		set.Reference = b.SetReference.SI
	}
	if b.Activation > 0 {
		set.Ea = setting.ActivationEnergy(b.Activation * 1000)
	}
	return set, b.InitialSet > 0
}

// Name of the coat that the plan is of.
func (c Coat) Name() event.Coat { return c.CoatPlanned.Coat }

// planned are those of a thing's plans that hold or held by the instant that the site is looked at; all where it is
// looked at now. Revisions that correct others are there though they came later, and are no plans of then.
func (s *Plans) planned(plans []*history.Record) []*history.Record {
	if s.AsOf.IsZero() {
		return plans
	}
	of := slices.DeleteFunc(slices.Clone(plans), func(r *history.Record) bool { return r.When.After(s.AsOf) })
	if len(of) > 0 {
		return of
	}
	return slices.DeleteFunc(slices.Clone(plans), func(r *history.Record) bool {
		b, mix := r.Now.(event.MixPlanned)
		return mix && b.Corrects > 0
	})
}
