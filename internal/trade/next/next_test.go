package next

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"testing"
)

// study is ../shared/cases/planner.json: 22 small instances with exact optima, each confirmed by a second program.
type study struct {
	Cases []studyCase `json:"cases"`
}

type studyCase struct {
	Name  string
	Cells []struct {
		Name       string
		Minutes    int
		Needs      []string
		PlacedFrom *int `json:"placed_from"`
		PlacedTo   int  `json:"placed_to"`
	}
	Edges []struct {
		A, B           string
		LengthCM       int64 `json:"length_cm"`
		JointPermitted bool  `json:"joint_permitted"`
	}
	Crews []struct {
		Name        string
		FreeAtMin   int  `json:"free_at_min"`
		PacePercent *int `json:"pace_percent"`
	}
	LeadMin          int   `json:"lead_min"`
	LimitMin         int64 `json:"limit_min"`
	JointPercent     int   `json:"joint_percent"`
	CrewMayStandDown bool  `json:"crew_may_stand_down"`
	LateMin          int   `json:"late_min"`
	LatePercent      int   `json:"late_percent"`
	Optimum          struct {
		CostM        float64            `json:"cost_m"`
		ColdM        float64            `json:"cold_m"`
		OnPurposeM   float64            `json:"on_purpose_m"`
		FirstCells   []string           `json:"optimal_first_cells"`
		LeastByFirst map[string]float64 `json:"least_cost_by_first_cell_m"`
	}
	WithLate *struct {
		Best    float64            `json:"best_chance_that_no_edge_goes_cold"`
		ByFirst map[string]float64 `json:"best_chance_by_first_cell"`
		Order   []string           `json:"order_judged"`
		OfOrder float64            `json:"chance_of_that_order"`
		CostM   float64            `json:"least_expected_cost_m"`
	} `json:"with_late_batches"`
}

func (c studyCase) job() (*Job, func(string) int) {
	at := map[string]int{}
	for i, cell := range c.Cells {
		at[cell.Name] = i
	}
	j := &Job{Lead: c.LeadMin, Joint: c.JointPercent, MayStop: c.CrewMayStandDown}
	for _, cell := range c.Cells {
		is := Cell{Name: cell.Name, Minutes: cell.Minutes, Set: c.LimitMin * msPerMinute}
		for _, n := range cell.Needs {
			is.Needs = append(is.Needs, at[n])
		}
		if cell.PlacedFrom != nil {
			is.Placed, is.From, is.To = true, *cell.PlacedFrom, cell.PlacedTo
		}
		j.Cells = append(j.Cells, is)
	}
	for _, e := range c.Edges {
		j.Edges = append(j.Edges, Edge{A: at[e.A], B: at[e.B], Length: e.LengthCM, Permitted: e.JointPermitted})
	}
	for _, crew := range c.Crews {
		is := Crew{Name: crew.Name, Free: crew.FreeAtMin, Pace: 100}
		if crew.PacePercent != nil {
			is.Pace = *crew.PacePercent
		}
		j.Crews = append(j.Crews, is)
	}
	return j, func(name string) int { return at[name] }
}

func studied(t *testing.T) []studyCase {
	t.Helper()
	text, err := os.ReadFile("../../../../shared/cases/planner.json")
	if os.IsNotExist(err) {
		t.Skip("the study's cases are not here: ../shared/cases/planner.json is absent")
	}
	if err != nil {
		t.Fatal(err)
	}
	var s study
	if err := json.Unmarshal(text, &s); err != nil {
		t.Fatal(err)
	}
	return s.Cases
}

func TestEachStudiedCaseHasItsExactOptimum(t *testing.T) {
	for _, c := range studied(t) {
		t.Run(c.Name, func(t *testing.T) {
			j, at := c.job()
			if err := j.Check(); err != nil {
				t.Fatal(err)
			}
			p := Solve(j)
			if !near(p.Cost.Metres(), c.Optimum.CostM) || !p.Exact {
				t.Errorf("costs %v m, exact %v; the optimum is %v m", p.Cost.Metres(), p.Exact, c.Optimum.CostM)
			}
			if cold, on := float64(j.Length(p.Cold))/100, float64(j.Length(p.OnPurpose))/100; !near(cold,
				c.Optimum.ColdM) || !near(on, c.Optimum.OnPurposeM) {
				t.Errorf("%v m cold and %v m on purpose, not %v and %v", cold, on, c.Optimum.ColdM,
					c.Optimum.OnPurposeM)
			}
			first, ok := p.First()
			if !ok || !slices.Contains(c.Optimum.FirstCells, j.Cells[first].Name) {
				t.Errorf("first %v, not one of %v", j.Cells[first].Name, c.Optimum.FirstCells)
			}
			least, ok := LeastByFirst(j)
			if !ok {
				t.Fatal("too large to say what each first cell costs")
			}
			for name, want := range c.Optimum.LeastByFirst {
				if got, begun := least[at(name)]; !begun || !near(got.Metres(), want) {
					t.Errorf("beginning with %s: %v m, not %v", name, got.Metres(), want)
				}
			}
		})
	}
}

func near(a, b float64) bool { return math.Abs(a-b) < 1e-9 }

func TestLateBatchesHaveTheStudiedChances(t *testing.T) {
	for _, c := range studied(t) {
		if c.WithLate == nil {
			continue
		}
		t.Run(c.Name, func(t *testing.T) {
			j, at := c.job()
			late := Lateness{c.LateMin, c.LatePercent}
			is, ok := Late(j, late)
			if !ok || math.Abs(is.Whole-c.WithLate.Best) > 1e-9 || math.Abs(is.CostM-c.WithLate.CostM) > 1e-9 {
				t.Errorf("%+v, not %v and %v m", is, c.WithLate.Best, c.WithLate.CostM)
			}
			for name, want := range c.WithLate.ByFirst {
				if math.Abs(is.WholeByFirst[at(name)]-want) > 1e-9 {
					t.Errorf("beginning with %s: %v, not %v", name, is.WholeByFirst[at(name)], want)
				}
			}
			var order []int
			for _, name := range c.WithLate.Order {
				order = append(order, at(name))
			}
			if got := ChanceOf(j, late, order); math.Abs(got-c.WithLate.OfOrder) > 1e-9 {
				t.Errorf("the order judged: %v, not %v", got, c.WithLate.OfOrder)
			}
		})
	}
}
