package crew

import (
	"context"
	"fmt"
	"regexp"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/mixplan"
	"hod/internal/report"
	"hod/internal/unit"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// NewStock makes hod stock.
func NewStock(env *session.Env) *cobra.Command {
	return env.NewGroup("stock", "What came, what is left and what was spoiled",
		"hod stock receive cement 40x94lb --lot 2213",
		newStockList(env), newStockShow(env), newReceive(env), newCount(env), newSpoil(env), newMaterial(env))
}

func newStockList(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	c := env.NewCommand("list", "List what is on hand, used, spoiled and counted", "hod stock list",
		"hod stock list --server")
	l.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := stockView(c.Context(), env, l, "")
		if err != nil {
			return err
		}
		defer s.Close()
		return env.Show("stock", v, report.Stock(v, s.Page()))
	}
	return c
}

func newStockShow(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	c := env.NewCommand("show MATERIAL",
		"Show one material's ledger: what came, was counted, was drawn by day, and the balance",
		"hod stock show cement", "hod stock show sand --server")
	c.Args = terminal.ExactArgs(1, "a material")
	l.Register(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := stockView(c.Context(), env, l, args[0])
		if err != nil {
			return err
		}
		defer s.Close()
		return env.Show("stock", v, report.Stock(v, s.Page()))
	}
	return c
}

// stockView is what is on hand of all materials, or of one with its ledger.
func stockView(ctx context.Context, env *session.Env, l session.ViewFlags, material string) (view.Stock,
	*session.Session, error,
) {
	name := event.Material(material)
	return session.View(ctx, env, l,
		func(s *session.Session) (view.Stock, error) {
			if material == "" {
				return view.StockOf(s.Fold, s.Now, s.Location), nil
			}
			known := s.Fold.Materials()
			found, err := terminal.PickName("material", material, known)
			if err != nil {
				return view.Stock{}, terminal.NotFoundf("no material %q is in the record%s", terminal.Safe(material),
					terminal.Suggest(material, known))
			}
			v, _ := view.StockOfMaterial(s.Fold, s.Now, s.Location, found)
			return v, nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Stock(ctx, &hodv1.StockRequest{At: at, Material: string(name)})
			return r.GetStock(), err
		})
}

// Stocked is an amount of a material, with what goes with it.
type Stocked struct {
	Material, Amount, lot, why string
	bulk, bag                  string // of the material, where nobody said it yet
	Amends                     bool   // it corrects what was written, which has no flags for these
	when                       session.MomentFlags
}

func newReceive(env *session.Env) *cobra.Command {
	return newStocked(env, "receive MATERIAL AMOUNT", "Write down a delivery", true, false,
		func(b Stocked, m event.Material, a event.Amount) event.Body {
			return event.StockReceived{Material: m, Amount: a, Lot: b.lot}
		}, "received", "hod stock receive cement 40x94lb --lot 2213", "hod stock receive sand 2yd3")
}

func newCount(env *session.Env) *cobra.Command {
	return newStocked(env, "count MATERIAL AMOUNT", "Write down how much there is", false, false,
		func(_ Stocked, m event.Material, a event.Amount) event.Body {
			return event.StockCounted{Material: m, Amount: a}
		}, "counted", "hod stock count cement 23x94lb", "hod stock count fibre none")
}

func newSpoil(env *session.Env) *cobra.Command {
	return newStocked(env, "spoil MATERIAL AMOUNT", "Write down what can no longer be used", true, true,
		func(b Stocked, m event.Material, a event.Amount) event.Body {
			return event.StockSpoiled{Material: m, Amount: a, Lot: b.lot, Why: b.why}
		}, "spoiled", `hod stock spoil cement 2x94lb --why "got wet"`)
}

func newStocked(env *session.Env, use, short string, lot, why bool,
	body func(Stocked, event.Material, event.Amount) event.Body, did string, examples ...string,
) *cobra.Command {
	var b Stocked
	c := env.NewCommand(use, short, examples...)
	c.Args = terminal.ExactArgs(2, "a material and an amount")
	if lot {
		c.Flags().StringVar(&b.lot, "lot", "", "the lot, as the delivery note has it")
	}
	if why {
		c.Flags().StringVar(&b.why, "why", "", "why")
	}
	materialFlags(c.Flags(), &b.bulk, &b.bag)
	b.when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		b.Material, b.Amount = args[0], args[1]
		return session.Run(c.Context(), env, func(s *session.Session) error {
			m := s.FindMaterial(b.Material)
			at, _, err := b.when.Read(s)
			if err != nil {
				return err
			}
			a, known, err := StockAmount(s, b, m)
			if err != nil {
				return err
			}
			d := session.Draft{Body: body(b, m, a), At: at}
			return keepStock(c.Context(), s, d, known, m,
				fmt.Sprintf("%s %s: %s%s", m, did, s.FormatAmount(a), s.AtTime(at)))
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

// StockAmount reads an amount, and what is to be kept of the material so that it can be read: what a volume or a bag of
// it weighs is asked for once.
func StockAmount(s *session.Session, b Stocked, m event.Material) (event.Amount, *event.MaterialPlanned, error) {
	known, changed, err := materialSaid(s, m, b.bulk, b.bag)
	if err != nil {
		return event.Amount{}, nil, err
	}
	keep := func() *event.MaterialPlanned {
		if !changed {
			return nil
		}
		known.Replaces = s.ReplacedBy(known)
		return &known
	}
	if found := inBags.FindStringSubmatch(strings.TrimSpace(b.Amount)); found != nil {
		n, err := terminal.ParseNumber(strings.TrimSpace(found[1]))
		if err != nil || !(n >= 0 && n <= 1e6) {
			return event.Amount{}, nil, terminal.Usagef("%q is no amount; bags are counted as 40bags or 40x94lb",
				terminal.Safe(b.Amount))
		}
		bag := s.Fold.BagOf(m)
		if known.Bag != nil {
			bag = fold.Bag{Mass: known.Bag.SI, Said: "as planned"}
		}
		if bag.Mass <= 0 {
			like := "25kg"
			if s.Units == unit.US {
				like = "94lb"
			}
			said, err := askMaterial(s.Env, b.how("bag", like),
				fmt.Sprintf("What does a bag of %s weigh? (94lb, 25kg) ", m),
				fmt.Sprintf("what a bag of %s weighs is not known", m), unit.ParseMass)
			if err != nil {
				return event.Amount{}, nil, err
			}
			known.Bag, changed, bag = &said, true, fold.Bag{Mass: said.SI, Said: "as planned"}
		}
		s.Env.Hintf("note: a bag of %s is %s, %s", m, unit.Both(s.Units, unit.Computed(bag.Mass), unit.System.Mass),
			bag.Said)
		return event.Amount{Mass: bag.Mass * unit.Mass(n), Entered: strings.TrimSpace(b.Amount)}, keep(), nil
	}
	a, err := parse.Stock(b.Amount)
	if err != nil {
		return a, nil, err
	}
	of := s.Fold.Material(m, s.Now)
	if known.Bulk != nil {
		of.Bulk = known.Bulk
	}
	if _, err := mixplan.Mass(a, of); err != nil {
		said, err := askMaterial(s.Env, b.how("bulk", "95lb/ft3"),
			fmt.Sprintf("What does a volume of %s weigh, loose as it lies? (95lb/ft3, 1500kg/m3) ", m),
			fmt.Sprintf("what a volume of %s weighs is not known", m), unit.ParseDensity)
		if err != nil {
			return a, nil, err
		}
		known.Bulk, changed = &said, true
	}
	return a, keep(), nil
}

// how a person says what a bag or a volume of the material weighs: by a flag, or by the command for it where there is
// none.
func (b Stocked) how(flag, like string) string {
	if b.Amends {
		return fmt.Sprintf("`hod stock material %s --%s %s`", b.Material, flag, like)
	}
	return fmt.Sprintf("--%s %s", flag, like)
}

// askMaterial asks for what a material weighs; where nobody can be asked it says how to say it.
func askMaterial[Q ~float64](env *session.Env, how, question, lacks string, parse func(string) (Q, error)) (unit.As[Q],
	error,
) {
	if !env.CanAsk() {
		return unit.As[Q]{}, terminal.Refusedf("%s; say it once with %s", lacks, how)
	}
	fmt.Fprint(env.Stderr, question)
	said, err := unit.Said(strings.TrimSpace(env.ReadLine()), parse)
	if err != nil {
		return said, terminal.Refusedf("%s; say it once with %s (%v)", lacks, how, err)
	}
	return said, nil
}

// materialSaid is what is known of a material, with what flags say of it; changed if they say anything new.
func materialSaid(s *session.Session, m event.Material, bulk, bag string) (known event.MaterialPlanned, changed bool,
	err error,
) {
	known = event.MaterialPlanned{Material: m, Bulk: s.Plan.Materials[m].Bulk, Bag: s.Plan.Materials[m].Bag}
	if bulk != "" {
		said, err := unit.Said(bulk, unit.ParseDensity)
		if err != nil {
			return known, false, terminal.InFlag("bulk", err)
		}
		changed = known.Bulk == nil || known.Bulk.SI != said.SI
		known.Bulk = &said
	}
	if bag != "" {
		said, err := unit.Said(bag, unit.ParseMass)
		if err != nil {
			return known, false, terminal.InFlag("bag", err)
		}
		changed = changed || known.Bag == nil || known.Bag.SI != said.SI
		known.Bag = &said
	}
	return known, changed, nil
}

func newMaterial(env *session.Env) *cobra.Command {
	var bulk, bag string
	c := env.NewCommand("material NAME", "Write down what a material weighs, loose by volume and by the bag",
		"hod stock material sand --bulk 95lb/ft3", "hod stock material cement --bag 94lb")
	c.Args = terminal.ExactArgs(1, "a material")
	materialFlags(c.Flags(), &bulk, &bag)
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			m := s.FindMaterial(args[0])
			known, changed, err := materialSaid(s, m, bulk, bag)
			switch {
			case err != nil:
				return err
			case bulk == "" && bag == "":
				return terminal.Usagef("say what %s weighs: --bulk 95lb/ft3, --bag 94lb", m)
			case !changed:
				return terminal.Refusedf("that is known already; nothing was written")
			}
			known.Replaces = s.ReplacedBy(known)
			text := string(m)
			if known.Bulk != nil {
				text += ", loose " + unit.Both(s.Units, *known.Bulk, unit.System.Density)
			}
			if known.Bag != nil {
				text += ", a bag of " + unit.Both(s.Units, *known.Bag, unit.System.Mass)
			}
			return s.KeepAndTell(c.Context(), session.Draft{Body: known}, text, "")
		})
	}
	return c
}

// stockKept is the document hod.stock-received.v1, -counted, -spoiled.
type stockKept struct {
	session.Kept
	Material string             `json:"material"`
	OnHand   *terminal.Quantity `json:"on_hand,omitempty"` // kg
	Bags     *float64           `json:"on_hand_bags,omitempty"`
	Bag      *terminal.Quantity `json:"bag,omitempty"` // kg of one
}

// keepStock keeps what was said of the stock, with what had to be known of the material before it.
func keepStock(ctx context.Context, s *session.Session, d session.Draft, known *event.MaterialPlanned, m event.Material,
	text string,
) error {
	k, err := s.KeepWithMaterial(ctx, known, d)
	if err != nil {
		return err
	}
	k.Text = text
	doc := stockKept{Material: string(m)}
	if ledger, err := s.Fold.Ledger(m); err == nil {
		hand := unit.Computed(ledger.Latest().OnHand)
		q := terminal.QuantityOf(hand, "kg")
		doc.OnHand = &q
		k.Next = unit.Both(s.Units, hand, unit.System.Mass)
		if bag := s.Fold.BagOf(m); bag.Mass > 0 {
			n, each := float64(hand.SI/bag.Mass), terminal.QuantityOf(unit.Computed(bag.Mass), "kg")
			doc.Bags, doc.Bag = &n, &each
			k.Next += fmt.Sprintf(", %s of %s,", unit.Bags(n), s.Units.Mass(bag.Mass))
		}
		k.Next += " on hand by the record"
	}
	s.AddWarnings(&k)
	doc.Kept = k
	return s.Tell(k, doc)
}
