package plan

import (
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/mixplan"
	"hod/internal/unit"
)

// mixKeys are those of one mix, in a plan and in a file of its own.
var mixKeys = []string{
	"name", "revision", "corrects", "air", "yield", "w_cm_limit", "unit_weight", "unit_weight_tolerance", "initial_set",
	"activation",
	"working", "datum", "constituents", "steps",
}

// Mix reads a file with one mix in the form that it has in a plan; a plan with one mix will do too. The error is
// Mistakes. The mix has its figures: it has been computed once.
func Mix(name string, data []byte) (event.MixPlanned, error) {
	r := &reader{file: name, told: map[told]bool{}}
	var all []event.MixPlanned
	if top := r.document(data); top != nil {
		if list := within(top, "mixes"); list != nil {
			f := fields{reader: r, node: top, of: map[string]*yaml.Node{"mixes": list}}
			all = f.mixes()
			if len(all) > 1 {
				r.wrong(list, "", "%d mixes stand here; put the one that is meant in a file of its own", len(all))
			}
		} else if m, ok := r.mix(top, r.place("mix", 1, top)); ok {
			all = append(all, m)
		}
	}
	if err := r.result(); err != nil {
		return event.MixPlanned{}, err
	}
	if len(all) == 0 {
		r.wrong(nil, "", "there is no mix in the file; one has a name and constituents")
		return event.MixPlanned{}, r.result()
	}
	return all[0], nil
}

// within finds a key without judging the others.
func within(n *yaml.Node, key string) *yaml.Node {
	if n.Kind != yaml.MappingNode {
		return nil
	}
	for i := 0; i+1 < len(n.Content); i += 2 {
		if n.Content[i].Value == key {
			return n.Content[i+1]
		}
	}
	return nil
}

func (f fields) mixes() []event.MixPlanned {
	var all []event.MixPlanned
	lines := map[string]int{}
	f.items("mixes", MostMixes, func(i int, n *yaml.Node) {
		path := f.place("mix", i, n)
		m, ok := f.mix(n, path)
		if !ok {
			return
		}
		f.once(lines, "mix", string(m.Mix), path, n)
		all = append(all, m)
	})
	if list := f.of["mixes"]; list != nil && len(all) == 0 && len(f.mistakes) == 0 {
		f.wrong(list, "", "there are no mixes; a coat needs one")
	}
	return all
}

// sound is a mix in which any one value can be tried against the limits.
func sound() event.MixPlanned {
	return event.MixPlanned{
		Mix: "x", Revision: 1,
		Constituents: []event.Constituent{{Name: "x", Kind: event.Cement, Amount: event.Amount{Mass: 1}}},
	}
}

func (r *reader) mix(n *yaml.Node, path string) (event.MixPlanned, bool) {
	before := len(r.mistakes)
	f, ok := r.fields(n, path, mixKeys...)
	if !ok {
		return event.MixPlanned{}, false
	}
	f.need("name", "constituents")
	name, at := f.text("name")
	b := event.MixPlanned{Mix: event.Mix(name), Revision: 1}
	if at != nil {
		f.canBe("name", func(try *event.MixPlanned) { try.Mix = b.Mix })
	}
	f.revision(&b)
	f.limits(&b)
	f.initialSet(&b)
	b.Activation = f.activation()
	f.canBe("activation", func(try *event.MixPlanned) { try.Activation = b.Activation })
	b.Working = f.duration("working")
	f.canBe("working", func(try *event.MixPlanned) { try.Working = b.Working })
	b.Datum = quantity(f, "datum", unit.ParseTemperature)
	f.canBe("datum", func(try *event.MixPlanned) { try.Datum = b.Datum })
	var rest *remainder
	b.Constituents, rest = f.constituents()
	b.Steps = f.steps(b.Constituents)
	if len(r.mistakes) == before && !r.tired {
		f.fill(&b, rest)
	}
	if len(r.mistakes) == before && !r.tired {
		f.computes(b)
	}
	return b, at != nil
}

// canBe holds the value of one key against the limits, in a mix that is sound but for it.
func (f fields) canBe(key string, change func(try *event.MixPlanned)) {
	try := sound()
	change(&try)
	f.can(key, try)
}

// revision reads which revision of the mix this is, and which earlier one it puts right.
func (f fields) revision(b *event.MixPlanned) {
	if f.of["revision"] != nil {
		if b.Revision = f.whole("revision"); b.Revision > 0 {
			f.canBe("revision", func(try *event.MixPlanned) { try.Revision = b.Revision })
		}
	}
	if f.of["corrects"] != nil {
		if b.Corrects = f.whole("corrects"); b.Corrects < 1 || b.Revision > 0 && b.Corrects >= b.Revision {
			f.wrong(f.of["corrects"], f.path,
				"corrects: %d cannot be of revision %d; it names the earlier revision in which there was a mistake",
				b.Corrects, b.Revision)
			b.Corrects = 0
		}
	}
}

// limits reads what the mix is designed to be, and how far off it may be.
func (f fields) limits(b *event.MixPlanned) {
	b.Air = quantity(f, "air", unit.ParseShare)
	f.canBe("air", func(try *event.MixPlanned) { try.Air = b.Air })
	b.DesignYield = quantity(f, "yield", unit.ParseVolume)
	f.canBe("yield", func(try *event.MixPlanned) { try.DesignYield = b.DesignYield })
	b.WaterLimit = f.number("w_cm_limit")
	f.canBe("w_cm_limit", func(try *event.MixPlanned) { try.WaterLimit = b.WaterLimit })
	b.UnitWeight = quantity(f, "unit_weight", unit.ParseDensity)
	f.canBe("unit_weight", func(try *event.MixPlanned) { try.UnitWeight = b.UnitWeight })
	b.UnitWeightTolerance = quantity(f, "unit_weight_tolerance", unit.ParseShare)
	f.canBe("unit_weight_tolerance", func(try *event.MixPlanned) { try.UnitWeightTolerance = b.UnitWeightTolerance })
}

// computes says what only shows when the mix is reckoned through.
func (f fields) computes(b event.MixPlanned) {
	if err := cannot(b); err != nil {
		f.wrong(f.node, f.path, "%v", err)
		return
	}
	_, figures, err := mixplan.Figures(b)
	if err != nil {
		f.wrong(f.node, f.path, "its figures cannot be computed: %s",
			strings.TrimPrefix(err.Error(), "mix "+string(b.Mix)+": "))
		return
	}
	if b.WaterLimit > 0 && unit.Round(figures.WaterCementitious, 0.0005) > b.WaterLimit {
		f.wrong(f.of["w_cm_limit"], f.path,
			"w_cm_limit %.3g is passed by the mix as designed, whose w/cm is %.3f with all its water counted",
			b.WaterLimit, figures.WaterCementitious)
	}
}

func (f fields) initialSet(b *event.MixPlanned) {
	n := f.of["initial_set"]
	if n == nil {
		return
	}
	s, ok := f.fields(n, f.path+", initial_set", "time", "at")
	if !ok {
		return
	}
	s.need("time", "at")
	b.InitialSet = s.duration("time")
	s.canBe("time", func(try *event.MixPlanned) { try.InitialSet = b.InitialSet })
	b.SetReference = quantity(s, "at", unit.ParseTemperature)
	s.canBe("at", func(try *event.MixPlanned) { try.SetReference = b.SetReference })
}

// activation reads 40 kJ/mol.
func (f fields) activation() float64 {
	s, n := f.text("activation")
	if n == nil {
		return 0
	}
	number, cut := strings.CutSuffix(strings.ToLower(strings.ReplaceAll(s, " ", "")), "kj/mol")
	v, err := strconv.ParseFloat(number, 64)
	if !cut || err != nil || !(v > 0 && v < 1e6) {
		f.wrong(n, f.path, "activation %s is not an activation energy; it looks like 40 kJ/mol", quoted(s))
		return 0
	}
	return v
}

// remainder is the constituent whose amount is written as the rest.
type remainder struct {
	at   int // among the constituents
	node *yaml.Node
	path string
}

// fill gives the sand that is written as the rest what the others and the air leave of the stated yield.
func (f fields) fill(b *event.MixPlanned, rest *remainder) {
	if rest == nil {
		return
	}
	if b.DesignYield == nil {
		f.wrong(rest.node, rest.path,
			"amount rest is what the others leave of the mix's yield, and the mix states none; it looks like yield: 2.7ft3")
		return
	}
	m, err := mixplan.Rest(*b, rest.at)
	if err != nil {
		f.wrong(rest.node, rest.path, "amount rest: %v", err)
		return
	}
	b.Constituents[rest.at].Amount = event.Amount{Mass: m}
}

// constituents also gives the one that is the rest; its amount stands at 1 kg until it is filled.
func (f fields) constituents() ([]event.Constituent, *remainder) {
	var all []event.Constituent
	var rest *remainder
	lines := map[string]int{}
	f.items("constituents", event.MaxConstituents, func(i int, n *yaml.Node) {
		path := f.path + ", " + f.place("constituent", i, n)
		c, ok := f.fields(n, path, "name", "kind", "amount", "gravity", "absorption", "solids", "bulk", "bag")
		if !ok {
			return
		}
		c.need("name", "kind", "amount")
		name, at := c.text("name")
		one := event.Constituent{Name: event.Material(name)}
		if at != nil && c.can("name", with(func(t *event.Constituent) { t.Name = one.Name })) {
			f.once(lines, "constituent", name, path, n)
		}
		kind, said := words(c, "kind", event.ParseKind)
		one.Kind = kind
		if s, n := c.text("amount"); n != nil && s == "rest" {
			one.Amount = event.Amount{Mass: 1}
			switch {
			case rest != nil:
				c.wrong(n, path, "amount rest stands twice; one sand takes what the others leave")
			case said != nil && kind != event.Sand:
				c.wrong(n, path, "amount rest is for a sand, not for %s", kind)
			default:
				rest = &remainder{len(all), n, path}
			}
		} else {
			c.amountOf(&one, said != nil && at != nil)
		}
		c.properties(&one)
		if said != nil {
			c.ownProperties(kind)
		}
		all = append(all, one)
	})
	if n := f.of["constituents"]; n != nil && f.follow(n).Kind == yaml.SequenceNode && len(f.follow(n).Content) == 0 {
		f.wrong(n, f.path, "constituents is empty; a mix has at least cement and water")
	}
	return all, rest
}

// with is a sound mix whose constituent has one value that is to be tried.
func with(change func(*event.Constituent)) event.MixPlanned {
	m := sound()
	change(&m.Constituents[0])
	return m
}

// amountOf reads how much of a constituent goes in; known says that its name and kind are, so that the amount can be
// tried.
func (c fields) amountOf(one *event.Constituent, known bool) {
	parse := unit.ParseAmount
	if one.Kind == event.Water || one.Kind == event.Admixture || one.Kind == event.Foam {
		parse = unit.ParseLiquid
	}
	a := c.amount("amount", parse)
	if a == nil {
		return
	}
	one.Amount = *a
	if known {
		c.can("amount", with(func(t *event.Constituent) { t.Name, t.Kind, t.Amount = one.Name, one.Kind, one.Amount }))
	}
}

// properties reads what a constituent is like.
func (c fields) properties(one *event.Constituent) {
	one.Gravity = c.number("gravity")
	c.can("gravity", with(func(t *event.Constituent) { t.Gravity = one.Gravity }))
	one.Absorption = quantity(c, "absorption", unit.ParseShare)
	c.can("absorption", with(func(t *event.Constituent) { t.Absorption = one.Absorption }))
	one.Solids = quantity(c, "solids", unit.ParseShare)
	c.can("solids", with(func(t *event.Constituent) { t.Solids = one.Solids }))
	one.Bulk = quantity(c, "bulk", unit.ParseDensity)
	c.can("bulk", with(func(t *event.Constituent) { t.Bulk = one.Bulk }))
	one.Bag = quantity(c, "bag", unit.ParseMass)
	c.can("bag", with(func(t *event.Constituent) { t.Bag = one.Bag }))
}

// ownProperties refuses what this kind of constituent has not, and asks for what it must have.
func (c fields) ownProperties(kind event.Kind) {
	c.belongs("absorption", kind, event.Sand)
	c.belongs("solids", kind, event.Admixture, event.Foam)
	c.belongs("bulk", kind, event.Cement, event.Pozzolan, event.Sand, event.Fibre, event.Other)
	c.belongs("bag", kind, event.Cement, event.Pozzolan, event.Sand, event.Fibre, event.Admixture, event.Foam,
		event.Other)
	if kind != event.Water {
		c.need("gravity")
	}
}

// belongs refuses a property that this kind of constituent has not.
func (f fields) belongs(key string, kind event.Kind, of ...event.Kind) {
	if f.of[key] == nil {
		return
	}
	var names []string
	for _, k := range of {
		if k == kind {
			return
		}
		names = append(names, k.String())
	}
	f.wrong(f.of[key], f.path, "%s is for %s, not for %s", key, strings.Join(names, " and "), kind)
}

func (f fields) steps(of []event.Constituent) []event.Step {
	var names []string
	in := map[string]float64{}
	for _, c := range of {
		names = append(names, string(c.Name))
	}
	var all []event.Step
	f.items("steps", event.MaxSteps, func(i int, n *yaml.Node) {
		path := f.path + ", step " + strconv.Itoa(i)
		s, ok := f.fields(n, path, "put", "share", "wait", "look_for")
		if !ok {
			return
		}
		var one event.Step
		put, at := s.text("put")
		one.Constituent = event.Material(put)
		one.Share = quantity(s, "share", unit.ParseShare)
		one.Wait = s.duration("wait")
		one.LookFor, _ = s.text("look_for")
		try := func(change func(*event.Step)) event.MixPlanned {
			m := sound()
			t := event.Step{Constituent: "x"}
			change(&t)
			m.Steps = []event.Step{t}
			return m
		}
		s.can("share", try(func(t *event.Step) { t.Share = one.Share }))
		s.can("wait", try(func(t *event.Step) { t.Wait = one.Wait.Truncate(time.Second) }))
		s.can("look_for", try(func(t *event.Step) { t.LookFor = one.LookFor }))
		if one.Wait != one.Wait.Truncate(time.Second) {
			s.wrong(s.of["wait"], path, "wait is counted in whole seconds")
		}
		switch {
		case s.of["put"] == nil && s.of["share"] != nil:
			s.wrong(s.of["share"], path, "a share of what? say put")
		case s.of["put"] == nil && s.of["wait"] == nil && s.of["look_for"] == nil:
			s.wrong(n, path, "nothing goes in, nothing is waited or looked for; say put, wait or look_for")
		case at == nil:
		case !known(names, put):
			s.wrong(at, path, "put: %s is not in the mix%s", named(put), s.offer(put, names))
		default:
			share := 1.0
			if one.Share != nil {
				share = float64(one.Share.SI)
			}
			if in[put] += share; in[put] > 1.0005 { // thirds, as people write them
				s.wrong(at, path,
					"with this step %.4g%% of the %s has gone in; the shares of its steps make 100%% at most",
					in[put]*100, named(put))
			}
		}
		all = append(all, one)
	})
	return all
}

func known(names []string, name string) bool {
	for _, n := range names {
		if n == name {
			return true
		}
	}
	return false
}
