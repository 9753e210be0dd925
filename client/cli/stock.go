package cli

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/unit"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

func newStock(env *Env) *cobra.Command {
	return env.group("stock", "What came, what is left and what was spoiled", "hod stock receive cement 40x94lb --lot 2213",
		newStockList(env), newStockShow(env), newReceive(env), newCount(env), newSpoil(env))
}

func newStockList(env *Env) *cobra.Command {
	var l looking
	c := env.command("list", "List what is on hand, used, spoiled and counted", "hod stock list", "hod stock list --server")
	l.flags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := stockView(c.Context(), env, l)
		if err != nil {
			return err
		}
		defer s.close()
		return env.show("stock", v, report.Stock(v, s.page()))
	}
	return c
}

func newStockShow(env *Env) *cobra.Command {
	var l looking
	c := env.command("show MATERIAL", "Show one material's ledger", "hod stock show cement")
	c.Args = exactly(1, "a material")
	l.flags(c)
	c.RunE = func(c *cobra.Command, args []string) error {
		v, s, err := stockView(c.Context(), env, l)
		if err != nil {
			return err
		}
		defer s.close()
		var names []string
		for _, m := range v.Materials {
			names = append(names, m.Material)
		}
		name, err := pick("material", args[0], names)
		if err != nil {
			return notFound("no material %q is in the record%s", safe(args[0]), offer(args[0], names))
		}
		v.Materials = slices.DeleteFunc(v.Materials, func(m view.MaterialStock) bool { return m.Material != name })
		return env.show("stock", v, report.Stock(v, s.page()))
	}
	return c
}

func stockView(ctx context.Context, env *Env, l looking) (view.Stock, *site, error) {
	return look(ctx, env, l,
		func(s *site) (view.Stock, error) { return view.StockOf(s.fold, s.now, s.in), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Stock(ctx, &hodv1.StockRequest{At: at})
			return r.GetStock(), err
		})
}

// stocked is an amount of a material, with what goes with it.
type stocked struct {
	material, amount, lot, why string
	when                       moment
}

func newReceive(env *Env) *cobra.Command {
	return newStocked(env, "receive MATERIAL AMOUNT", "Write down a delivery", true, false, func(b stocked, m event.Material, a event.Amount) event.Body {
		return event.StockReceived{Material: m, Amount: a, Lot: b.lot}
	}, "received", "hod stock receive cement 40x94lb --lot 2213", "hod stock receive sand 2yd3")
}

func newCount(env *Env) *cobra.Command {
	return newStocked(env, "count MATERIAL AMOUNT", "Write down how much there is", false, false, func(_ stocked, m event.Material, a event.Amount) event.Body {
		return event.StockCounted{Material: m, Amount: a}
	}, "counted", "hod stock count cement 23x94lb", "hod stock count fibre none")
}

func newSpoil(env *Env) *cobra.Command {
	return newStocked(env, "spoil MATERIAL AMOUNT", "Write down what can no longer be used", true, true, func(b stocked, m event.Material, a event.Amount) event.Body {
		return event.StockSpoiled{Material: m, Amount: a, Lot: b.lot, Why: b.why}
	}, "spoiled", `hod stock spoil cement 2x94lb --why "got wet"`)
}

func newStocked(env *Env, use, short string, lot, why bool, body func(stocked, event.Material, event.Amount) event.Body, did string, examples ...string) *cobra.Command {
	var b stocked
	c := env.command(use, short, examples...)
	c.Args = exactly(2, "a material and an amount")
	if lot {
		c.Flags().StringVar(&b.lot, "lot", "", "the lot, as the delivery note has it")
	}
	if why {
		c.Flags().StringVar(&b.why, "why", "", "why")
	}
	b.when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		b.material, b.amount = args[0], args[1]
		return env.with(c.Context(), func(s *site) error {
			a, err := readStock(b.amount)
			if err != nil {
				return err
			}
			m := s.findMaterial(b.material)
			at, _, err := b.when.read(s)
			if err != nil {
				return err
			}
			return s.keepStock(c.Context(), draft{body: body(b, m, a), at: at}, m, fmt.Sprintf("%s %s: %s%s", m, did, s.amount(a), s.said(at)))
		})
	}
	return c
}

// stockKept is the document hod.stock-received.v1, -counted, -spoiled.
type stockKept struct {
	kept
	Material string    `json:"material"`
	OnHand   *Quantity `json:"on_hand,omitempty"` // kg
}

func (s *site) keepStock(ctx context.Context, d draft, m event.Material, text string) error {
	k, err := s.keep(ctx, d)
	if err != nil {
		return err
	}
	k.Text = text
	doc := stockKept{Material: string(m)}
	if ledger, err := s.fold.Ledger(m); err == nil {
		hand := unit.Computed(ledger.Latest().OnHand)
		q := quantity(hand, "kg")
		doc.OnHand = &q
		k.Next = fmt.Sprintf("%s on hand by the record", unit.Both(s.units, hand, unit.System.Mass))
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
