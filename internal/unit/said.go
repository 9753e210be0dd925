package unit

import "strings"

// Said reads s with parse, one of the Parse functions, and keeps the words: Said("2.5gal", ParseVolume).
func Said[Q any](s string, parse func(string) (Q, error)) (As[Q], error) {
	q, err := parse(s)
	if err != nil {
		return As[Q]{}, err
	}
	return As[Q]{SI: q, Entered: strings.TrimSpace(s)}, nil
}

// Computed is a quantity that nobody wrote.
func Computed[Q any](q Q) As[Q] { return As[Q]{SI: q} }

// Both shows a in two systems: what was written and, in brackets, the other system's figure, "2.5 gal (9.46 L)"; what
// nobody wrote begins with the figure of s. The last argument is a method of System: Both(US, water, System.Liquid).
// Words that belong to neither system (4%) stand alone; so does a figure that both systems show alike.
func Both[Q any](s System, a As[Q], show func(System, Q) string) string {
	first, bracket := show(s, a.SI), s.Other()
	if a.Entered != "" {
		first = Spaced(a.Entered)
		switch home(a.Entered) {
		case metric:
			bracket = US
		case us:
			bracket = Metric
		default:
			bracket = s
			if show(Metric, a.SI) == show(US, a.SI) {
				return first
			}
		}
	}
	second := show(bracket, a.SI)
	if second == first {
		return first
	}
	return first + " (" + second + ")"
}

// Shown is a in s alone: the words as written if they are of that system, else the figure.
func Shown[Q any](s System, a As[Q], show func(System, Q) string) string {
	if a.Entered == "" {
		return show(s, a.SI)
	}
	if of := home(a.Entered); of == neither || of == metric && s == Metric || of == us && s == US {
		return Spaced(a.Entered)
	}
	return show(s, a.SI)
}

// Spaced is the entered text with a space before its unit, "2.5 gal" for "2.5gal", where it is one number and one unit;
// other text (6'-8", 2gal+18floz, 4%) is left as it was written.
func Spaced(entered string) string {
	t, msg := plain(entered)
	if msg != "" || t != entered {
		return entered
	}
	at := 0
	if t[0] == '-' || t[0] == '+' {
		at = 1
	}
	_, n, msg := number(t[at:])
	at += n
	if n == 0 || msg != "" || at == len(t) || !letter(t[at]) || !kinds.foreign(t[at:]) {
		return entered
	}
	return t[:at] + " " + t[at:]
}

// home is the system of the first unit in the entered words.
func home(entered string) belongs {
	t, msg := plain(entered)
	if msg != "" {
		return neither
	}
	if t[0] == '-' || t[0] == '+' {
		t = strings.TrimLeft(t[1:], " ")
	}
	_, n, _ := number(t)
	rest := strings.TrimLeft(t[n:], " ")
	if rest == "" || n == 0 {
		return neither
	}
	// the bucket's 1qt/4s is at home where qt is
	if at := divides(rest); at >= 0 && at+1 < len(rest) && !letter(rest[at+1]) {
		rest = strings.TrimRight(rest[:at], " ")
	}
	// The kind that reads the most is meant: the lb of lb/ft3 is not a mass.
	longest, of := 0, neither
	for k := range kinds {
		if e, n := k.unit(rest); n > longest {
			longest, of = n, e.system
		}
	}
	return of
}
