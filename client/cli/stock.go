package cli

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/unit"
)

func newStock(env *Env) *cobra.Command {
	return env.group("stock", "What came, what is left and what was spoiled", "hod stock receive cement 40x94lb --lot 2213",
		newReceive(env), newCount(env), newSpoil(env))
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
		if n, err = strconv.ParseFloat(strings.TrimSpace(bags), 64); err != nil || !(n >= 0 && n <= 1e6) {
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
