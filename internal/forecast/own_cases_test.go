package forecast

import (
	"math"
	"testing"
)

// What this model has beyond the check cases is held against sums over fine grids, which know nothing of its algebra.

func bellAt(x, mean, variance float64) float64 {
	return math.Exp(-(x-mean)*(x-mean)/(2*variance)) / math.Sqrt(variance)
}

// momentsOn a grid of what a density, known but for a factor, says.
func momentsOn(low, high float64, density func(x float64) float64) (mean, sd float64) {
	const n = 300
	sum, first, second := 0.0, 0.0, 0.0
	for i := range n {
		x := low + (high-low)*(float64(i)+0.5)/n
		p := density(x)
		sum, first, second = sum+p, first+p*x, second+p*x*x
	}
	mean = first / sum
	return mean, math.Sqrt(second/sum - mean*mean)
}

const ownTau = 0.03

func withOneSpread(t *testing.T) {
	old := spreads
	spreads = []float64{ownTau}
	t.Cleanup(func() { spreads = old })
}

// Of each coat's last batch any share between nothing and all stayed, each as likely.
func TestALastBatchInDoubtIsLearnedFromAsASumOverAllItsSharesSays(t *testing.T) {
	withOneSpread(t)
	took, doubt := []float64{1.15, 1.09, 1.21, 1.12}, []float64{0.14, 0.1, 0.18, 0}
	j := Job{Loss: 0.04, Mixes: []Mix{{Name: "face", Yield: 0.065}}}
	for i := range took {
		j.Coats = append(j.Coats, Coat{
			Name: caseName(i), Zone: caseName(i), Design: 0.4, State: Finished,
			Ended: Wall(i), Weighed: 0.4 * took[i], Doubt: doubt[i],
		})
	}
	mean, sd := momentsOn(-0.3, 0.5, func(site float64) float64 {
		p := bellAt(site, math.Log(1.04)+thickMean, wasteSD*wasteSD+thickSD*thickSD)
		for i := range took {
			sum := 0.0
			for k := range 40 {
				sum += bellAt(math.Log(took[i]*(1-doubt[i]*(float64(k)+0.5)/40)), site,
					ownTau*ownTau+miscSD*miscSD) / 40
			}
			p *= sum
		}
		return p
	})
	w, m, s := believe(&j).site(0, still)
	m2, s2, _ := mixture(w, m, s) // with the mix's yield, which nothing was learned of
	near(t, "mean of the site's factor", m2, mean, 0.003)
	near(t, "its spread, that of the yield taken off", math.Sqrt(s2*s2-yieldSD*yieldSD), sd, 0.003)
}

// One coat of each of two zones, or crews, is finished: what the next of the first takes.
func TestWhatASisterTakesIsAsASumOverWhatTheyHaveInCommonSays(t *testing.T) {
	withOneSpread(t)
	took := []float64{1.2, 1.03}
	for of, name := range []string{"of a zone", "of a crew"} {
		j := Job{
			Loss: 0.04, Mixes: []Mix{{Name: "face", Yield: 0.065, Logs: make([]float64, 100_000)}},
			Crews: []Crew{{Name: "north"}, {Name: "south"}},
		}
		for i, r := range took {
			j.Coats = append(j.Coats, Coat{
				Name: caseName(i), Zone: caseName(i), Design: 0.4, State: Finished,
				Ended: Wall(i), Weighed: 0.4 * r, By: []int{i},
			})
		}
		next := Coat{Name: "next", Zone: caseName(0), Design: 0.4, Crews: []int{1}}
		if of == byCrew {
			next.Zone, next.Crews = "own", []int{0}
		}
		j.Coats = append(j.Coats, next)
		b := believe(&j)
		b.settled = true
		var nodes []node
		for _, n := range b.nodes {
			if n.alike > 0 && n.group == of {
				n.weight = 1
				nodes = append(nodes, n)
			}
		}
		if b.nodes = nodes; len(nodes) != 1 {
			t.Fatalf("%d nodes %s", len(nodes), name)
		}
		d := b.draw(1024)
		got, spread := d.deviation(func(i int) float64 { return math.Log(d.left[i] * 0.065 / 0.4) })

		share := groupShares[of]
		common, own := share*ownTau*ownTau, (1-share)*ownTau*ownTau
		mean, sd := momentsOn(-0.4, 0.6, func(x float64) float64 {
			sum := 0.0
			for s := -0.15; s < 0.35; s += 0.005 { // of the site
				p := bellAt(s, math.Log(1.04)+thickMean, wasteSD*wasteSD+thickSD*thickSD) * bellAt(math.Log(took[1]), s,
					ownTau*ownTau+miscSD*miscSD)
				// of the group, summed: x and what its finished coat took have it in common
				for g := -0.15; g < 0.15; g += 0.005 {
					sum += p * bellAt(g, 0, common) * bellAt(math.Log(took[0]), s+g, own+miscSD*miscSD) * bellAt(x, s+g,
						own)
				}
			}
			return sum
		})
		near(t, "mean of the next coat "+name, got, mean, 0.003)
		near(t, "spread of it "+name, spread, sd, 0.003)
	}
}

// A revision comes with a chance, at any point of what is not begun; a coat behind it is mixed by a yield that nobody
// weighed.
func TestARevisionThatMayComeIsDrawnAsOftenAsItsChanceSays(t *testing.T) {
	j := Job{Loss: 0.04, Mixes: []Mix{{Name: "face", Yield: 0.065, Logs: make([]float64, 100_000)}}}
	for i, design := range []float64{0.6, 0.4, 0.2} {
		j.Coats = append(j.Coats, Coat{Name: caseName(i), Zone: caseName(i), Design: design})
	}
	b := believe(&j)
	to := b.revisions([]int{0, 1, 2})
	seen := [3]float64{}
	for i := range bells {
		d := draw{b: b, x: make([]float64, b.n), i: i, to: &to}
		for u := range seen {
			if math.Abs(d.yield(u, &j.Coats[u])) > yieldSD { // beyond one standard deviation
				seen[u] += 1.0 / bells
			}
		}
	}
	beyondOne := 2 * above(1)
	for u, before := range []float64{0, 0.5, 10.0 / 12} {
		near(t, "chance that a coat is mixed by a yield far off", seen[u], reviseChance*before*beyondOne, 0.02)
	}
}
