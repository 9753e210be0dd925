package picture

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/view/ahead"
)

// Tomorrow draws what is on hand of each material against what the next day takes: the bar is the stock, the mark the
// need nine times in ten. Those that are short come first; the first so many are drawn.
func Tomorrow(f Frame, needs []ahead.MaterialNeed, date string) string {
	const most = 6
	order := slices.DeleteFunc(ahead.MostPressing(needs), func(n ahead.MaterialNeed) bool {
		return !number(n.Need90Kg)
	})
	if len(order) == 0 {
		return ""
	}
	left := max(len(order)-most, 0)
	order = order[:len(order)-left]
	var parts []string
	for _, n := range order {
		parts = append(parts, n.Material+": "+ofNeed(n))
	}
	const row = 40.0
	d := begin(f, chartWide, float64(len(order))*row+30, "Stock against what "+date+" takes",
		strings.Join(parts, "; ")+". The mark is what that day takes nine times in ten.")
	x := scale{0, 2, 120, 352} // stock over need; the mark is at 1
	mark := x.of(1)
	for i, n := range order {
		d.stockBar(n, float64(i)*row+26, x, mark)
	}
	d.line("l", `stroke-width="3" stroke-dasharray="5 3"`, [2]float64{mark, 20},
		[2]float64{mark, float64(len(order))*row + 26})
	d.text(mark, 16, letters-1, "b", "middle", "needed")
	if left > 0 {
		d.text(0, 16, letters-3, "", "", fmt.Sprintf("%d more in the table", left))
	}
	return d.end()
}

// ofNeed is how much of the need there is, in words.
func ofNeed(n ahead.MaterialNeed) string {
	share, known := n.OfNeed()
	word := "not counted"
	switch {
	case known && number(share) && share >= 3:
		word = "over 3×"
	case known && number(share):
		word = short(100*share, 0) + " %"
	}
	if n.Short() {
		word += ", short"
	}
	return word
}

// stockBar is one material's bar at a height, with its words.
func (d *canvas) stockBar(n ahead.MaterialNeed, y float64, x scale, mark float64) {
	share, known := n.OfNeed()
	end := x.of(share)
	long := max(end-120, 2)
	d.text(0, y+20, letters-1, "", "", fit(n.Material, letters-1, 114))
	switch {
	case !known:
		d.rect(120, y, 232, 28, "l", `stroke-width="1.5" stroke-dasharray="4 4"`)
	case n.Short():
		d.rect(120, y, long, 28, "act", "")
	default:
		d.rect(120, y, long, 28, "dim", "")
		d.rect(120, y, long, 28, "l", `stroke-width="1.5"`)
	}
	word := ofNeed(n)
	at, class := 126.0, "b halo"
	switch {
	case n.Short() && end-120 > 60:
		class = "b on"
	case n.Short():
		at = end + 6
		if at+wide(word)*letters > mark-4 {
			at = mark + 8 // the mark does not go through it
		}
	}
	d.text(at, y+20, letters-1, class, "start", word)
}
