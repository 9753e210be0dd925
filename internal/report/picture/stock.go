package picture

import (
	"fmt"
	"strings"

	"hod/internal/view/ahead"
)

// Tomorrow draws what is on hand of each material against what the next day takes: the bar is the stock, the mark the
// need nine times in ten. Those that are short come first; the first so many are drawn.
func Tomorrow(f Frame, needs []ahead.MaterialNeed, date string) string {
	const most = 6
	type bar struct {
		name, says string
		share      float64 // stock over need; the mark is at 1
		known      bool
		short      bool
	}
	var all []bar
	for _, n := range needs {
		if !(n.Need90Kg > 0) || !number(n.Need90Kg) {
			continue
		}
		b := bar{name: n.Material, says: "not counted"}
		hand := n.OnHandKg
		if n.Left50Kg != nil {
			hand = n.Left50Kg
		}
		if hand != nil && number(*hand) {
			b.known, b.share = true, max(*hand, 0)/n.Need90Kg
			b.short = n.ShortKg != nil && *n.ShortKg > 0
			b.says = short(100*b.share, 0) + " %"
			if b.share >= 3 {
				b.says = "over 3×"
			}
		}
		all = append(all, b)
	}
	if len(all) == 0 {
		return ""
	}
	var order []bar
	for _, pass := range []func(bar) bool{func(b bar) bool { return b.short }, func(b bar) bool {
		return !b.short &&
			!b.known
	}, func(b bar) bool { return !b.short && b.known }} {
		for _, b := range all {
			if pass(b) {
				order = append(order, b)
			}
		}
	}
	left := 0
	if len(order) > most {
		left = len(order) - most
		order = order[:most]
	}
	var parts []string
	for _, b := range order {
		word := b.says
		if b.short {
			word += ", short"
		}
		parts = append(parts, b.name+": "+word)
	}
	const row = 40.0
	d := begin(f, chartWide, float64(len(order))*row+30, "Stock against what "+date+" takes",
		strings.Join(parts, "; ")+". The mark is what that day takes nine times in ten.")
	x := scale{0, 2, 120, 352}
	mark := x.of(1)
	for i, b := range order {
		y := float64(i)*row + 26
		d.text(0, y+20, letters-1, "", "", fit(b.name, letters-1, 114))
		switch {
		case !b.known:
			d.rect(120, y, 232, 28, "l", `stroke-width="1.5" stroke-dasharray="4 4"`)
		case b.short:
			d.rect(120, y, max(x.of(b.share)-120, 2), 28, "act", "")
		default:
			d.rect(120, y, max(x.of(b.share)-120, 2), 28, "dim", "")
			d.rect(120, y, max(x.of(b.share)-120, 2), 28, "l", `stroke-width="1.5"`)
		}
		at, anchor := 126.0, "start"
		class := "b halo"
		if b.short && x.of(b.share)-120 > 60 {
			class = "b on"
		} else if b.short {
			at = x.of(b.share) + 6
		}
		word := b.says
		if b.short {
			word += ", short"
		}
		if class == "b halo" && b.short && at+wide(word)*letters > mark-4 {
			at = mark + 8 // the mark does not go through it
		}
		d.text(at, y+20, letters-1, class, anchor, word)
	}
	d.line("l", `stroke-width="3" stroke-dasharray="5 3"`, [2]float64{mark, 20},
		[2]float64{mark, float64(len(order))*row + 26})
	d.text(mark, 16, letters-1, "b", "middle", "needed")
	if left > 0 {
		d.text(0, 16, letters-3, "", "", fmt.Sprintf("%d more in the table", left))
	}
	return d.end()
}
