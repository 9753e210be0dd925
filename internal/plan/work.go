package plan

import (
	"slices"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
)

const workLooks = "it looks like 07:00-17:00, or Mon-Sat 07:00-17:00"

// work reads the hours of work: 07:00-17:00 for every day of which nobody says whether it is worked, or Mon-Sat
// 07:00-17:00, or a list of such lines.
func (f fields) work(b *event.SitePlanned) {
	n := f.of["work"]
	if n == nil {
		return
	}
	if f.follow(n).Kind != yaml.SequenceNode {
		s, n := f.text("work")
		if n == nil {
			return
		}
		days, from, to, ok := f.workLine(n, s)
		if !ok {
			return
		}
		if b.WorkFrom, b.WorkTo = from, to; days != nil {
			b.Week = []event.WorkDays{{Days: days, From: from, To: to}}
		}
		return
	}
	f.items("work", 7, func(_ int, n *yaml.Node) {
		v := f.follow(n)
		if v.Kind != yaml.ScalarNode {
			f.wrong(n, f.path, "work: %s; each line of it looks like Mon-Fri 07:00-17:00", whatIs(v))
			return
		}
		days, from, to, ok := f.workLine(n, v.Value)
		switch {
		case !ok:
			return
		case days == nil:
			f.wrong(n, f.path,
				"work %s names no days; where there are several lines each names its own: Mon-Fri 07:00-17:00",
				quoted(v.Value))
			return
		}
		for _, w := range b.Week {
			for _, d := range days {
				if slices.Contains(w.Days, d) {
					f.wrong(n, f.path,
						"work: %s has its hours in an earlier line; each day of the week has one beginning and one end",
						d)
					return
				}
			}
		}
		if b.Week = append(b.Week, event.WorkDays{Days: days, From: from, To: to}); len(b.Week) == 1 {
			b.WorkFrom, b.WorkTo = from, to // what a version reads that knows no weekdays
		}
	})
}

// workLine reads days, if any are named, and hours.
func (f fields) workLine(n *yaml.Node, s string) (days []time.Weekday, from, to time.Duration, ok bool) {
	at := strings.IndexFunc(s, func(r rune) bool { return r >= '0' && r <= '9' })
	if at < 0 {
		f.wrong(n, f.path, "work %s is not the hours of a day; %s", quoted(s), workLooks)
		return nil, 0, 0, false
	}
	if words := strings.TrimSpace(s[:at]); words != "" {
		if days, ok = weekdays(words); !ok {
			f.wrong(n, f.path, "work %s begins with what is no day of the week; %s", quoted(s), workLooks)
			return nil, 0, 0, false
		}
	}
	if from, to, ok = f.hours(n, "work", s, s[at:]); !ok {
		return nil, 0, 0, false
	}
	return days, from, to, true
}

// hours reads 07:00-17:00.
func (f fields) hours(n *yaml.Node, key, said, s string) (from, to time.Duration, ok bool) {
	a, b, cut := strings.Cut(strings.NewReplacer("–", "-", " to ", "-").Replace(s), "-")
	from, okFrom := ofDay(a)
	to, okTo := ofDay(b)
	switch {
	case !cut || !okFrom || !okTo:
		f.wrong(n, f.path, "%s %s is not the hours of a day; %s", key, quoted(said), workLooks)
	case to <= from:
		f.wrong(n, f.path, "%s %s ends before it begins; %s", key, quoted(said), workLooks)
	default:
		return from, to, true
	}
	return 0, 0, false
}

// weekdays reads Mon-Sat, Mon Wed Fri, Friday-Monday.
func weekdays(s string) (days []time.Weekday, ok bool) {
	s = strings.NewReplacer("–", "-", " - ", "-", " to ", "-", ",", " ").Replace(s)
	for _, word := range strings.Fields(s) {
		a, b, run := strings.Cut(word, "-")
		first, okFirst := weekday(a)
		last, okLast := first, true
		if run {
			last, okLast = weekday(b)
		}
		if !okFirst || !okLast {
			return nil, false
		}
		for d := first; ; d = (d + 1) % 7 {
			if !slices.Contains(days, d) {
				days = append(days, d)
			}
			if d == last {
				break
			}
		}
	}
	return days, len(days) > 0
}

// weekday reads Mon, Monday and what lies between.
func weekday(s string) (time.Weekday, bool) {
	s = strings.ToLower(strings.TrimSuffix(s, "."))
	for d := time.Sunday; d <= time.Saturday; d++ {
		if len(s) >= 2 && strings.HasPrefix(strings.ToLower(d.String()), s) {
			return d, true
		}
	}
	return 0, false
}

// mostDates is how many dates one line of exceptions may stand for.
const mostDates = 400

// except reads dates on which work is otherwise: 2026-12-25, 2026-12-24 07:00-12:00, 2026-12-27 to 2027-01-02.
func (f fields) except(b *event.SitePlanned) {
	const looks = "it looks like 2026-12-25, 2026-12-24 07:00-12:00, or 2026-12-27 to 2027-01-02"
	f.items("except", event.MaxRun, func(_ int, n *yaml.Node) {
		v := f.follow(n)
		if v.Kind != yaml.ScalarNode || strings.TrimSpace(v.Value) == "" {
			f.wrong(n, f.path, "except: %s; %s", whatIs(v), looks)
			return
		}
		words := strings.Fields(v.Value)
		first, err := time.Parse(time.DateOnly, words[0])
		last, rest := first, words[1:]
		if err == nil && len(rest) > 1 && rest[0] == "to" {
			last, err = time.Parse(time.DateOnly, rest[1])
			rest = rest[2:]
		}
		days := int(last.Sub(first).Hours() / 24)
		if err != nil || days < 0 || days > mostDates {
			f.wrong(n, f.path, "except %s is no date, or no run of dates; %s", quoted(v.Value), looks)
			return
		}
		x := event.WorkException{}
		if len(rest) > 0 {
			var ok bool
			if x.From, x.To, ok = f.hours(n, "except", v.Value, strings.Join(rest, " ")); !ok {
				return
			}
		}
		for d := first; !d.After(last); d = d.AddDate(0, 0, 1) {
			x.Date = d.Format(time.DateOnly)
			if slices.ContainsFunc(b.Except, func(y event.WorkException) bool { return y.Date == x.Date }) {
				f.wrong(n, f.path, "except: %s is there already", x.Date)
				return
			}
			b.Except = append(b.Except, x)
		}
	})
	if len(b.Except) > event.MaxRun {
		f.wrong(f.of["except"], f.path, "except stands for %d dates; it may stand for %d", len(b.Except), event.MaxRun)
		b.Except = b.Except[:event.MaxRun]
	}
	f.can("except", event.SitePlanned{Name: "x", Except: b.Except})
}
