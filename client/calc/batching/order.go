package batching

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/next"
)

// calcOrder finds in which order cells are placed so that as few metres of edge as possible go cold.
type calcOrder struct{ file string }

type orderDoc struct {
	Name       string    `json:"name,omitempty"`
	CostM      float64   `json:"cost_m"` // cold, and on purpose by their share
	ColdM      float64   `json:"cold_m"`
	OnPurposeM float64   `json:"on_purpose_m"`
	Order      []string  `json:"order"` // cells as they are taken; with several crews "crew:cell"
	First      *string   `json:"first"` // null where nothing is left to place
	Exact      bool      `json:"exact"` // no order costs less; otherwise none better was found
	Takes      []takeDoc `json:"takes"`
	Cold       []string  `json:"gone_cold"` // "a|b"
	OnPurpose  []string  `json:"ended_on_purpose"`

	Firsts       []string           `json:"optimal_first_cells,omitempty"`
	LeastByFirst map[string]float64 `json:"least_cost_by_first_cell_m,omitempty"`
	Late         *lateDoc           `json:"with_late_batches,omitempty"`
	sheet.Sheet
}

type takeDoc struct {
	Crew string `json:"crew"`
	Cell string `json:"cell"`
	From int    `json:"from_min"`
	To   int    `json:"to_min"`
}

type lateDoc struct {
	Whole   float64            `json:"best_chance_that_no_edge_goes_cold"`
	ByFirst map[string]float64 `json:"best_chance_by_first_cell"`
	OfOrder float64            `json:"chance_of_this_order"`
	CostM   float64            `json:"least_expected_cost_m"`
}

// NewOrder makes hod calc order.
func NewOrder(env *terminal.Streams) *cobra.Command {
	var q calcOrder
	c := env.NewCommand("order FILE", "In which order cells are placed so that the least edge goes cold",
		"hod calc order case.json", "hod calc order case.json --json")
	c.Args = terminal.ExactArgs(1, "a JSON file that holds one case")
	c.Long = "A case has cells (what one batch fills, minutes to place it), edges between them (length_cm, joint_permitted),\n" +
		"crews (free_at_min, pace_percent), lead_min from water contact to placing, limit_min to initial set, and\n" +
		"joint_percent, what a permitted edge costs that is ended on purpose. Times are whole minutes at one temperature."
	c.RunE = func(c *cobra.Command, args []string) error {
		q.file = args[0]
		return q.run(c.Context(), env, sheet.New(c))
	}
	return c
}

func (q calcOrder) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	raw, err := env.ReadFile(q.file)
	if err != nil {
		return err
	}
	c, err := readOrderCase(raw)
	if err != nil {
		return terminal.Usagef("%s: %v", terminal.Safe(q.file), err)
	}
	j := &c.job
	s.Noted("case", fmt.Sprintf("%s: %s, %s, %s", wordsOr(c.name, q.file),
		terminal.Plural(len(j.Cells), "cell", "cells"),
		terminal.Plural(len(j.Edges), "edge", "edges"), terminal.Plural(len(j.Crews), "crew", "crews")))
	s.Noted("ended on purpose", fmt.Sprintf("counts as %d %% of its length", j.Joint))
	p := next.Solve(j)
	doc := orderDocOf(j, p)
	doc.Name = terminal.Safe(c.name)
	s.Figuref("order", "%s", wordsOr(strings.Join(doc.Order, ", "), "nothing is left to place"))
	s.Figuref("goes cold", "%s m%s", sheet.Decimal(doc.ColdM, 6), inBrackets(doc.Cold))
	s.Figuref("ended on purpose", "%s m%s", sheet.Decimal(doc.OnPurposeM, 6), inBrackets(doc.OnPurpose))
	s.Figuref("cost", "%s m", sheet.Decimal(doc.CostM, 6))
	doc.firsts(j, p, s)
	doc.late(j, p, c.late, s)
	proof := "no order costs less"
	if !p.Exact {
		proof = "no better order was found; this is no proof that there is none"
	}
	s.By(
		"an edge is judged from water contact of the side begun first to the end of placing of the other; cost = metres cold + "+
			"joint_percent of metres ended on purpose",
		proof+"; rule of this program, the safe reading of ASTM C403 initial set")
	s.Caution(
		"What is done at a joint, and where one may be, is for the responsible engineer. No order says that a joint is sound.")
	doc.Sheet = *s
	return s.Print(env, "order", doc)
}

func inBrackets(names []string) string {
	if len(names) == 0 {
		return ""
	}
	return " (" + strings.Join(names, ", ") + ")"
}

func orderDocOf(j *next.Job, p *next.Plan) orderDoc {
	doc := orderDoc{
		CostM: p.Cost.Metres(), ColdM: float64(j.Length(p.Cold)) / 100,
		OnPurposeM: float64(j.Length(p.OnPurpose)) / 100, Exact: p.Exact,
	}
	for _, t := range p.Takes {
		if t.Stopped {
			continue
		}
		name := terminal.Safe(j.Cells[t.Cell].Name)
		doc.Takes = append(doc.Takes, takeDoc{terminal.Safe(j.Crews[t.Crew].Name), name, t.From, t.To})
		if len(j.Crews) > 1 {
			name = terminal.Safe(j.Crews[t.Crew].Name) + ":" + name
		}
		doc.Order = append(doc.Order, name)
	}
	if cell, ok := p.First(); ok {
		name := terminal.Safe(j.Cells[cell].Name)
		doc.First = &name
	}
	between := func(edges []int) (all []string) {
		for _, e := range edges {
			all = append(all, terminal.Safe(j.Cells[j.Edges[e].A].Name)+"|"+terminal.Safe(j.Cells[j.Edges[e].B].Name))
		}
		return all
	}
	doc.Cold, doc.OnPurpose = between(p.Cold), between(p.OnPurpose)
	return doc
}

// orderFirsts is how many cells a case may have left for its first cells to be compared: each is a search of its own.
const orderFirsts = 12

// firsts says what each first cell would cost.
func (d *orderDoc) firsts(j *next.Job, p *next.Plan, s *sheet.Sheet) {
	if len(d.Takes) == 0 || len(d.Takes) > orderFirsts || !p.Exact {
		return
	}
	least, ok := next.LeastByFirst(j)
	if !ok {
		return
	}
	d.LeastByFirst = map[string]float64{}
	for i, c := range j.Cells {
		cost, begun := least[i]
		if !begun {
			continue
		}
		d.LeastByFirst[terminal.Safe(c.Name)] = cost.Metres()
		if cost == p.Cost {
			d.Firsts = append(d.Firsts, terminal.Safe(c.Name))
		}
	}
	s.Figuref("as good to begin", "%s", strings.Join(d.Firsts, ", "))
}

// late says what becomes of it when batches are late.
func (d *orderDoc) late(j *next.Job, p *next.Plan, l *next.Lateness, s *sheet.Sheet) {
	if l == nil {
		return
	}
	chances, ok := next.Late(j, *l)
	if !ok {
		s.Warnf("late batches are worked out for one crew that must go on and at most %d cells left", next.MaxLateCells)
		return
	}
	var order []int
	for _, t := range p.Takes {
		order = append(order, t.Cell)
	}
	d.Late = &lateDoc{
		Whole: chances.Whole, ByFirst: map[string]float64{}, OfOrder: next.ChanceOf(j, *l, order),
		CostM: chances.CostM,
	}
	for cell, whole := range chances.WholeByFirst {
		d.Late.ByFirst[terminal.Safe(j.Cells[cell].Name)] = whole
	}
	s.Figuref("with late batches", "%s %% that no edge goes cold at best, %s %% by this order; %s m expected at least",
		sheet.Decimal(100*d.Late.Whole, 4), sheet.Decimal(100*d.Late.OfOrder, 4), sheet.Decimal(d.Late.CostM, 5))
}
