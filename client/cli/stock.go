package cli

import (
	"context"
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/unit"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

func newStock(env *deviceEnv) *cobra.Command {
	return env.group("stock", "What came, what is left and what was spoiled", "hod stock receive cement 40x94lb --lot 2213",
		newStockList(env), newStockShow(env), newReceive(env), newCount(env), newSpoil(env), newMaterial(env))
}

func newStockList(env *deviceEnv) *cobra.Command {
	var l looking
	c := env.command("list", "List what is on hand, used, spoiled and counted", "hod stock list", "hod stock list --server")
	l.flags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := stockView(c.Context(), env, l, "")
		if err != nil {
			return err
		}
		defer s.close()
		return env.show("stock", v, report.Stock(v, s.page()))
	}
	return c
}

func newStockShow(env *deviceEnv) *cobra.Command {
	var l looking
	c := env.command("show MATERIAL", "Show one material's ledger: what came, was counted, was drawn by day, and the balance", "hod stock show cement", "hod stock show sand --server")
	c.Args = exactly(1, "a material")
	l.flags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := stockView(c.Context(), env, l, args[0])
		if err != nil {
			return err
		}
		defer s.close()
		return env.show("stock", v, report.Stock(v, s.page()))
	}
	return c
}

// stockView is what is on hand of all materials, or of one with its ledger.
func stockView(ctx context.Context, env *deviceEnv, l looking, material string) (view.Stock, *site, error) {
	name := event.Material(material)
	return look(ctx, env, l,
		func(s *site) (view.Stock, error) {
			if material == "" {
				return view.StockOf(s.fold, s.now, s.in), nil
			}
			known := s.fold.Materials()
			found, err := pick("material", material, known)
			if err != nil {
				return view.Stock{}, notFound("no material %q is in the record%s", safe(material), offer(material, known))
			}
			v, _ := view.StockOfMaterial(s.fold, s.now, s.in, found)
			return v, nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Stock(ctx, &hodv1.StockRequest{At: at, Material: string(name)})
			return r.GetStock(), err
		})
}

// stocked is an amount of a material, with what goes with it.
type stocked struct {
	material, amount, lot, why string
	bulk, bag                  string // of the material, where nobody said it yet
	amends                     bool   // it corrects what was written, which has no flags for these
	when                       moment
}

func newReceive(env *deviceEnv) *cobra.Command {
	return newStocked(env, "receive MATERIAL AMOUNT", "Write down a delivery", true, false, func(b stocked, m event.Material, a event.Amount) event.Body {
		return event.StockReceived{Material: m, Amount: a, Lot: b.lot}
	}, "received", "hod stock receive cement 40x94lb --lot 2213", "hod stock receive sand 2yd3")
}

func newCount(env *deviceEnv) *cobra.Command {
	return newStocked(env, "count MATERIAL AMOUNT", "Write down how much there is", false, false, func(_ stocked, m event.Material, a event.Amount) event.Body {
		return event.StockCounted{Material: m, Amount: a}
	}, "counted", "hod stock count cement 23x94lb", "hod stock count fibre none")
}

func newSpoil(env *deviceEnv) *cobra.Command {
	return newStocked(env, "spoil MATERIAL AMOUNT", "Write down what can no longer be used", true, true, func(b stocked, m event.Material, a event.Amount) event.Body {
		return event.StockSpoiled{Material: m, Amount: a, Lot: b.lot, Why: b.why}
	}, "spoiled", `hod stock spoil cement 2x94lb --why "got wet"`)
}

func newStocked(env *deviceEnv, use, short string, lot, why bool, body func(stocked, event.Material, event.Amount) event.Body, did string, examples ...string) *cobra.Command {
	var b stocked
	c := env.command(use, short, examples...)
	c.Args = exactly(2, "a material and an amount")
	if lot {
		c.Flags().StringVar(&b.lot, "lot", "", "the lot, as the delivery note has it")
	}
	if why {
		c.Flags().StringVar(&b.why, "why", "", "why")
	}
	materialFlags(c.Flags(), &b.bulk, &b.bag)
	b.when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		b.material, b.amount = args[0], args[1]
		return env.with(c.Context(), func(s *site) error {
			m := s.findMaterial(b.material)
			at, _, err := b.when.read(s)
			if err != nil {
				return err
			}
			a, known, err := s.stockAmount(b, m)
			if err != nil {
				return err
			}
			d := draft{body: body(b, m, a), at: at}
			return s.keepStock(c.Context(), d, known, m, fmt.Sprintf("%s %s: %s%s", m, did, s.amount(a), s.said(at)))
		})
	}
	return c
}

func materialFlags(f *pflag.FlagSet, bulk, bag *string) {
	f.StringVar(bulk, "bulk", "", "what a volume of it weighs, loose as it lies: 95lb/ft3, 1500kg/m3")
	f.StringVar(bag, "bag", "", "what one bag of it weighs: 94lb, 25kg")
}

// inBags is an amount that was written as so many bags, of whatever a bag weighs.
var inBags = regexp.MustCompile(`(?i)^([0-9./ ½¼¾]+?) *bags?$`)

// stockAmount reads an amount, and what is to be kept of the material so that it can be read: what a volume or a bag of it
// weighs is asked for once.
func (s *site) stockAmount(b stocked, m event.Material) (event.Amount, *event.MaterialPlanned, error) {
	known, changed, err := s.materialSaid(m, b.bulk, b.bag)
	if err != nil {
		return event.Amount{}, nil, err
	}
	keep := func() *event.MaterialPlanned {
		if !changed {
			return nil
		}
		known.Replaces = s.replaces(known)
		return &known
	}
	if found := inBags.FindStringSubmatch(strings.TrimSpace(b.amount)); found != nil {
		n, err := parseNumber(strings.TrimSpace(found[1]))
		if err != nil || !(n >= 0 && n <= 1e6) {
			return event.Amount{}, nil, usage("%q is no amount; bags are counted as 40bags or 40x94lb", safe(b.amount))
		}
		bag := s.fold.BagOf(m)
		if known.Bag != nil {
			bag = fold.Bag{Mass: known.Bag.SI, Said: "as planned"}
		}
		if bag.Mass <= 0 {
			like := "25kg"
			if s.units == unit.US {
				like = "94lb"
			}
			said, err := askMaterial(s.env, b.how("bag", like), fmt.Sprintf("What does a bag of %s weigh? (94lb, 25kg) ", m), fmt.Sprintf("what a bag of %s weighs is not known", m), unit.ParseMass)
			if err != nil {
				return event.Amount{}, nil, err
			}
			known.Bag, changed, bag = &said, true, fold.Bag{Mass: said.SI, Said: "as planned"}
		}
		s.env.hint("note: a bag of %s is %s, %s", m, unit.Both(s.units, unit.Computed(bag.Mass), unit.System.Mass), bag.Said)
		return event.Amount{Mass: bag.Mass * unit.Mass(n), Entered: strings.TrimSpace(b.amount)}, keep(), nil
	}
	a, err := readStock(b.amount)
	if err != nil {
		return a, nil, err
	}
	of := s.fold.Material(m, s.now)
	if known.Bulk != nil {
		of.Bulk = known.Bulk
	}
	if _, err := fold.MassOf(a, of); err != nil {
		said, err := askMaterial(s.env, b.how("bulk", "95lb/ft3"), fmt.Sprintf("What does a volume of %s weigh, loose as it lies? (95lb/ft3, 1500kg/m3) ", m), fmt.Sprintf("what a volume of %s weighs is not known", m), unit.ParseDensity)
		if err != nil {
			return a, nil, err
		}
		known.Bulk, changed = &said, true
	}
	return a, keep(), nil
}

// how a person says what a bag or a volume of the material weighs: by a flag, or by the command for it where there is none.
func (b stocked) how(flag, like string) string {
	if b.amends {
		return fmt.Sprintf("`hod stock material %s --%s %s`", b.material, flag, like)
	}
	return fmt.Sprintf("--%s %s", flag, like)
}

// askMaterial asks for what a material weighs; where nobody can be asked it says how to say it.
func askMaterial[Q ~float64](env *deviceEnv, how, question, lacks string, parse func(string) (Q, error)) (unit.As[Q], error) {
	if !env.asks() {
		return unit.As[Q]{}, refused("%s; say it once with %s", lacks, how)
	}
	fmt.Fprint(env.Stderr, question)
	said, err := unit.Said(strings.TrimSpace(env.line()), parse)
	if err != nil {
		return said, refused("%s; say it once with %s (%v)", lacks, how, err)
	}
	return said, nil
}

// materialSaid is what is known of a material, with what flags say of it; changed if they say anything new.
func (s *site) materialSaid(m event.Material, bulk, bag string) (known event.MaterialPlanned, changed bool, err error) {
	known = event.MaterialPlanned{Material: m, Bulk: s.plan.Materials[m].Bulk, Bag: s.plan.Materials[m].Bag}
	if bulk != "" {
		said, err := unit.Said(bulk, unit.ParseDensity)
		if err != nil {
			return known, false, flagged("bulk", err)
		}
		changed = known.Bulk == nil || known.Bulk.SI != said.SI
		known.Bulk = &said
	}
	if bag != "" {
		said, err := unit.Said(bag, unit.ParseMass)
		if err != nil {
			return known, false, flagged("bag", err)
		}
		changed = changed || known.Bag == nil || known.Bag.SI != said.SI
		known.Bag = &said
	}
	return known, changed, nil
}

func newMaterial(env *deviceEnv) *cobra.Command {
	var bulk, bag string
	c := env.command("material NAME", "Write down what a material weighs, loose by volume and by the bag", "hod stock material sand --bulk 95lb/ft3", "hod stock material cement --bag 94lb")
	c.Args = exactly(1, "a material")
	materialFlags(c.Flags(), &bulk, &bag)
	c.RunE = func(c *cobra.Command, args []string) error {
		return env.with(c.Context(), func(s *site) error {
			m := s.findMaterial(args[0])
			known, changed, err := s.materialSaid(m, bulk, bag)
			switch {
			case err != nil:
				return err
			case bulk == "" && bag == "":
				return usage("say what %s weighs: --bulk 95lb/ft3, --bag 94lb", m)
			case !changed:
				return refused("that is known already; nothing was written")
			}
			known.Replaces = s.replaces(known)
			text := string(m)
			if known.Bulk != nil {
				text += ", loose " + unit.Both(s.units, *known.Bulk, unit.System.Density)
			}
			if known.Bag != nil {
				text += ", a bag of " + unit.Both(s.units, *known.Bag, unit.System.Mass)
			}
			return s.simply(c.Context(), draft{body: known}, text, "")
		})
	}
	return c
}

// stockKept is the document hod.stock-received.v1, -counted, -spoiled.
type stockKept struct {
	kept
	Material string    `json:"material"`
	OnHand   *Quantity `json:"on_hand,omitempty"` // kg
	Bags     *float64  `json:"on_hand_bags,omitempty"`
	Bag      *Quantity `json:"bag,omitempty"` // kg of one
}

// keepWith keeps a draft with what had to be known of a material before it; nil: nothing.
func (s *site) keepWith(ctx context.Context, known *event.MaterialPlanned, d draft) (kept, error) {
	if known == nil {
		return s.keep(ctx, d)
	}
	all, err := s.keepEach(ctx, []draft{{body: *known, at: d.at}, d})
	if err != nil {
		return kept{}, err
	}
	s.env.hint("note: what %s weighs is kept too (%s); it is not asked again", known.Material, all[0].Event)
	return all[1], nil
}

// keepStock keeps what was said of the stock, with what had to be known of the material before it.
func (s *site) keepStock(ctx context.Context, d draft, known *event.MaterialPlanned, m event.Material, text string) error {
	k, err := s.keepWith(ctx, known, d)
	if err != nil {
		return err
	}
	k.Text = text
	doc := stockKept{Material: string(m)}
	if ledger, err := s.fold.Ledger(m); err == nil {
		hand := unit.Computed(ledger.Latest().OnHand)
		q := quantity(hand, "kg")
		doc.OnHand = &q
		k.Next = unit.Both(s.units, hand, unit.System.Mass)
		if bag := s.fold.BagOf(m); bag.Mass > 0 {
			n, each := float64(hand.SI/bag.Mass), quantity(unit.Computed(bag.Mass), "kg")
			doc.Bags, doc.Bag = &n, &each
			k.Next += fmt.Sprintf(", %s of %s,", unit.Bags(n), s.units.Mass(bag.Mass))
		}
		k.Next += " on hand by the record"
	}
	s.warned(&k)
	doc.kept = k
	return s.tellKept(k, doc)
}

// readStock reads an amount of stock; bags are counted as 40x94lb.
func readStock(word string) (event.Amount, error) {
	n, each := 1.0, word
	if bags, bag, ok := strings.Cut(strings.ToLower(word), "x"); ok {
		var err error
		if n, err = parseNumber(strings.TrimSpace(bags)); err != nil || !(n >= 0 && n <= 1e6) {
			return event.Amount{}, usage("%q is no amount; bags are counted as 40x94lb", safe(word))
		}
		each = bag
	}
	a, err := readAmount(strings.TrimSpace(each), event.Other)
	if err != nil {
		return event.Amount{}, err
	}
	a.Mass, a.Volume, a.Entered = a.Mass*unit.Mass(n), a.Volume*unit.Volume(n), strings.TrimSpace(word)
	return a, nil
}
