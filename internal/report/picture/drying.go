package picture

import (
	"fmt"
	"time"

	"hod/internal/unit"
	"hod/internal/view"
)

// Drying draws how fast a fresh bare surface dries over the day, read and forecast, with what the formula may be off
// by, and the limit. Nothing where there is no figure.
func Drying(f Frame, v view.Drying, now time.Time) string {
	if len(v.Points) == 0 {
		return ""
	}
	us := f.System == unit.US
	limit, form := v.LimitKgM2H, "kg/m²/h"
	if us {
		limit, form = v.LimitLbFt2H, "lb/ft²/h"
	}
	var at, readAt, toldAt []time.Time
	var low, high, read, told, values []float64
	for _, k := range v.Points {
		rate, least, most := k.RateKgM2H, k.LowKgM2H, k.HighKgM2H
		if us && k.RateKgM2H > 0 {
			ratio := k.RateLbFt2H / k.RateKgM2H // both are given; the band is a share of the rate
			rate, least, most = k.RateLbFt2H, k.LowKgM2H*ratio, k.HighKgM2H*ratio
		}
		at, low, high, values = append(at, k.At), append(low, least), append(high, most), append(values, most)
		if k.Forecast {
			told, toldAt = append(told, rate), append(toldAt, k.At)
		} else {
			read, readAt = append(read, rate), append(readAt, k.At)
		}
	}
	if len(told) > 0 && len(read) > 0 { // from the last reading on
		told, toldAt = append([]float64{read[len(read)-1]}, told...), append([]time.Time{readAt[len(readAt)-1]},
			toldAt...)
	}
	from, to := at[0], at[len(at)-1]
	if now.After(to) {
		to = now
	}
	if now.Before(from) {
		from = now
	}
	p := timed(f, "Drying of a fresh bare surface over the day", DryingSays(v, us), from.Add(-10*time.Minute),
		to.Add(20*time.Minute), append(values, limit))
	p.between("bareband", at, low, high)
	p.axes(form)
	p.level(limit, "l", "limit "+short(limit, 2)+" "+form)
	p.curve("l", `stroke-width="3.5"`, readAt, read)
	p.curve("l", `stroke-width="3.5" stroke-dasharray="3 5"`, toldAt, told)
	p.upright(now, "actl", now.In(p.frame.In).Format("15:04"), 0)
	return p.end()
}

// DryingSays is the picture in words.
func DryingSays(v view.Drying, us bool) string {
	var most view.DryingPoint
	for _, k := range v.Points {
		if k.RateKgM2H > most.RateKgM2H {
			most = k
		}
	}
	rate, limit, form := most.RateKgM2H, v.LimitKgM2H, "kg/m²/h"
	if us {
		rate, limit, form = most.RateLbFt2H, v.LimitLbFt2H, "lb/ft²/h"
	}
	kind := "read"
	if most.Forecast {
		kind = "forecast"
	}
	return fmt.Sprintf(
		"At most %s %s, %s; the limit is %s. The line is as read, its dotted part as forecast; the band is what the formula may be off by, %s %% either way.",
		short(rate, 2), form, kind, short(limit, 2), short(100*v.Spread, 0))
}
