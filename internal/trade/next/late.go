package next

// MaxLateCells is how many cells the exact method for late batches takes on: it tries all orders with all outcomes.
const MaxLateCells = 7

// Lateness is what may befall each batch, independently of the others: it takes Minutes longer with Percent in a
// hundred.
type Lateness struct{ Minutes, Percent int }

// Chances are what is best over all ways of deciding, each cell being chosen in the knowledge of how long the earlier
// ones took.
type Chances struct {
	WholeByFirst map[int]float64 // best chance that no edge at all goes cold, permitted or not, by the first cell
	Whole        float64
	CostM        float64 // least expected cost, m
}

// Late works out the chances of a job of one crew; false where it is too large, or has more crews: what a second crew
// knows of the first one's batch that is still being placed would have to be settled.
func Late(j *Job, late Lateness) (Chances, bool) {
	s := newTable(j).start()
	if s.left > MaxLateCells || len(j.Crews) != 1 || j.MayStop {
		return Chances{}, false
	}
	c := Chances{WholeByFirst: map[int]float64{}, CostM: -1}
	for cell := range s.Cells {
		if !s.open(cell) {
			continue
		}
		whole := s.afterTaking(cell, late, (*shift).whole)
		c.WholeByFirst[cell] = whole
		c.Whole = max(c.Whole, whole)
		if m := s.afterTaking(cell, late, (*shift).expected); c.CostM < 0 || m < c.CostM {
			c.CostM = m
		}
	}
	return c, true
}

// ChanceOf is the chance that one given order keeps every edge live.
func ChanceOf(j *Job, late Lateness, order []int) float64 {
	return newTable(j).start().following(late, order)
}

func (s *shift) following(late Lateness, order []int) float64 {
	if s.spoilt() {
		return 0
	}
	if len(order) == 0 {
		return 1
	}
	return s.afterTaking(order[0], late, func(s *shift, late Lateness) float64 { return s.following(late, order[1:]) })
}

// spoilt reports whether any edge goes cold, permitted or not.
func (s *shift) spoilt() bool {
	for _, paid := range s.charged {
		if paid {
			return true
		}
	}
	return false
}

// afterTaking is the mean of a figure over both outcomes of taking a cell.
func (s *shift) afterTaking(cell int, late Lateness, figure func(*shift, Lateness) float64) float64 {
	mean := 0.0
	for _, outcome := range []struct{ minutes, percent int }{{0, 100 - late.Percent}, {late.Minutes, late.Percent}} {
		if outcome.percent == 0 {
			continue
		}
		c := s.clone()
		c.take(0, cell, outcome.minutes)
		mean += float64(float64(outcome.percent)/100) * figure(c, late)
	}
	return mean
}

// whole is the best chance that no edge goes cold from here on.
func (s *shift) whole(late Lateness) float64 {
	if s.spoilt() {
		return 0
	}
	if s.left == 0 {
		return 1
	}
	best := 0.0
	for cell := range s.Cells {
		if s.open(cell) {
			best = max(best, s.afterTaking(cell, late, (*shift).whole))
		}
	}
	return best
}

// expected is the least expected cost in the end, m.
func (s *shift) expected(late Lateness) float64 {
	if s.left == 0 {
		return s.cost.Metres()
	}
	best := -1.0
	for cell := range s.Cells {
		if s.open(cell) {
			if m := s.afterTaking(cell, late, (*shift).expected); best < 0 || m < best {
				best = m
			}
		}
	}
	return best
}
