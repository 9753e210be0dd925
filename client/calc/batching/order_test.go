package batching

import (
	"strings"
	"testing"

	"hod/client/calc/sheet/sheettest"
)

var sheetCheck = sheettest.Check

// One crew, two cells that a batch each fills in 20 min, water contact 10 min before; initial set after 60 min.
const orderLost = `{"name": "do not chase a lost edge", "lead_min": 10, "limit_min": 60, "joint_percent": 25,
 "cells": [{"name": "old", "placed_from": 0, "placed_to": 20}, {"name": "young", "placed_from": 60, "placed_to": 80},
           {"name": "X", "minutes": 20}, {"name": "Y", "minutes": 20}],
 "edges": [{"a": "old", "b": "X", "length_cm": 300}, {"a": "young", "b": "Y", "length_cm": 300}],
 "crews": [{"name": "north", "free_at_min": 80}]}`

// The old edge met water at −10 and is past 60 min at 80 already; the young one, wetted at 50, must be met by 110. So Y
// goes first, 80 to 100, and 3 m are lost; with X first Y ends at 120 and both are.
func TestAnOrderThatLosesTheLeastEdge(t *testing.T) {
	sheetCheck(t, NewOrder,
		line{
			Line: "order -", File: orderLost,
			Want: figures{
				"name": "do not chase a lost edge", "cost_m": 3, "cold_m": 3, "on_purpose_m": 0, "exact": true,
				"first": "Y", "order.0": "Y", "order.1": "X",
				"takes.0.crew": "north", "takes.0.from_min": 80, "takes.0.to_min": 100, "takes.1.to_min": 120,
				"gone_cold.0":                  "old|X",
				"least_cost_by_first_cell_m.X": 6, "least_cost_by_first_cell_m.Y": 3, "optimal_first_cells.0": "Y",
				"with_late_batches": nil,
			},
			Says: "no order costs less",
		},
		line{
			Line: "order -", File: strings.Replace(orderLost, `"length_cm": 300}, {"a": "young"`,
				`"length_cm": 300, "joint_permitted": true}, {"a": "young"`, 1),
			Want: figures{"cost_m": 0.75, "cold_m": 0, "on_purpose_m": 3, "ended_on_purpose.0": "old|X"},
		},
		line{
			Line: "order -", File: strings.Replace(orderLost, `"crews": [`,
				`"crews": [{"name": "south", "free_at_min": 80}, `, 1),
			Want: figures{"cost_m": 3, "takes.0.from_min": 80, "takes.1.from_min": 80},
		},
		line{
			Line: "order -", File: strings.Replace(orderLost, `"joint_percent": 25`,
				`"joint_percent": 25, "late_min": 15, "late_percent": 50`, 1),
			Want: figures{"with_late_batches.best_chance_that_no_edge_goes_cold": 0},
		},
	)
}

func TestAMistakeInACaseIsToldByItsPath(t *testing.T) {
	for _, c := range []struct{ old, now, want string }{
		{`"b": "X"`, `"b": "Q"`, `edges[0].b: no cell is named "Q"`},
		{`"minutes": 20}, {`, `"minuts": 20}, {`, `cells[2].minuts: nothing is known by this name`},
		{`"minutes": 20}, {`, `"minutes": "20"}, {`, `cells[2].minutes: "20" is no number`},
		{`"minutes": 20}, {`, `"minutes": 20.5}, {`, `cells[2].minutes: 20.5 must be a whole number`},
		{`"lead_min": 10, `, ``, `lead_min: it is missing`},
		{`"limit_min": 60`, `"limit_min": -1`, `limit_min`},
		{`"name": "X"`, `"name": 7`, `cells[2].name: 7 is no text; write it in quotes`},
		{
			`"joint_percent": 25`, `"joint_percent": 25, "crew_may_stand_down": "no"`,
			`crew_may_stand_down: "no" is neither true nor false`,
		},
		{`"edges": [{`, `"edges": [7, {`, `edges[0]: 7 is no object`},
		{`"joint_percent": 25`, `"joint_percent": 25, "late_min": 15`, `late_percent: it is missing`},
		{
			`"joint_percent": 25`, `"joint_percent": 25, "late_min": 15, "late_percent": 101`,
			`late_percent: 101 must be from 0 to 100`,
		},
		{`"placed_to": 80`, `"placed_to": null`, `cells[1].placed_to: it is missing`},
		{`"free_at_min": 80}]}`, `"free_at_min": 80}]`, `the file ends before the case does`},
		{`"free_at_min": 80}]}`, `"free_at_min": 80}]} {}`, `something follows the end of the case`},
		{`"lead_min": 10`, `"lead_min" 10`, `line 1: not JSON`},
	} {
		file := strings.Replace(orderLost, c.old, c.now, 1)
		if file == orderLost {
			t.Fatalf("%q is not in the case", c.old)
		}
		sheetCheck(t, NewOrder, line{Line: "order -", File: file, Err: c.want})
	}
	sheetCheck(t, NewOrder, line{Line: "order -", File: `{"cells": 7}`, Err: "lead_min: it is missing"},
		line{Line: "order -", File: "", Err: "-"})
}
