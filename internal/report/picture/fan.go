package picture

import (
	"fmt"
	"time"

	"hod/internal/view/ahead"
)

// Out is when a material runs out, as likely as not.
type Out struct {
	Material string
	At       time.Time
}

// Fan draws how the batches left go down to none: as likely as not the line, half of the time the inner band, nine
// times in ten the outer one; and when materials run out.
func Fan(f Frame, fan []ahead.FanPoint, out []Out, now time.Time) string {
	if len(fan) < 2 {
		return ""
	}
	var at []time.Time
	var low, lower, mid, upper, high []float64
	for _, k := range fan {
		at = append(at, k.At)
		low, lower, mid, upper, high = append(low, k.P05), append(lower, k.P25), append(mid, k.P50),
			append(upper, k.P75), append(high, k.P95)
	}
	first, last := fan[0], fan[len(fan)-1]
	says := fmt.Sprintf("From %s batches now (nine times in ten %s to %s) to none, nine times in ten by %s.",
		short(first.P50, 0), short(first.P05, 0), short(first.P95, 0), last.At.In(zoned(f)).Format("Mon 2 Jan 15:04"))
	for _, o := range out {
		says += fmt.Sprintf(" %s runs out %s, as likely as not.", o.Material, o.At.In(zoned(f)).Format("Mon 15:04"))
	}
	p := timed(f, "Batches left to mix, from now until the work is done", says, first.At, last.At, high)
	p.between("band", at, low, high)
	p.between("band2", at, lower, upper)
	p.axes("batches")
	p.curve("l", `stroke-width="3.5"`, at, mid)
	for i, o := range out {
		if i == 3 {
			break
		}
		p.upright(o.At, "actl", fit(o.Material, letters-2, 130)+" out", i)
	}
	return p.end()
}

func zoned(f Frame) *time.Location {
	if f.In == nil {
		return time.UTC
	}
	return f.In
}
