package event

import (
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// CannotBe is the sentence in which a check says what in an event cannot be, with the value and what would be right.
type CannotBe string

func (c CannotBe) Error() string { return string(c) }

func cannot(format string, args ...any) error { return CannotBe(fmt.Sprintf(format, args...)) }

// Limits on names and lines, in characters.
const (
	MaxName = 24  // of a device, crew, zone, mix or material
	MaxLine = 200 // of what is one line: a label, a lot, a quantity as it was typed
)

// first is the first thing that cannot be.
func first(problems ...error) error {
	for _, p := range problems {
		if p != nil {
			return p
		}
	}
	return nil
}

// all checks each of a run, and how many there are; it says which one cannot be.
func all[T any](what string, run []T, least int, check func(T) error) error {
	if len(run) < least {
		return cannot("there is no %s; at least %d is needed", what, least)
	}
	if len(run) > MaxRun {
		return cannot("%d is too many for one event (%s); it holds %d at most", len(run), what, MaxRun)
	}
	for i, one := range run {
		if err := check(one); err != nil {
			return cannot("%s %d of %d: %v", what, i+1, len(run), err)
		}
	}
	return nil
}

// checkName refuses what could be read in two ways, or break a path, a subject or a line: names hold letters, digits, -
// and _ only, and begin with a letter or a digit.
func checkName[N ~string](what string, n N) error {
	s := string(n)
	if s == "" {
		return cannot("the %s has no name; one looks like %s", what, nameLike(what))
	}
	if !utf8.ValidString(s) {
		return cannot("the name of the %s, %q, is not text", what, clip(s))
	}
	if utf8.RuneCountInString(s) > MaxName {
		return cannot("the name of the %s, %q, is too long; it may have %d characters", what, clip(s), MaxName)
	}
	for i, r := range s {
		plain := unicode.IsLetter(r) || unicode.IsDigit(r)
		if !plain && (i == 0 || r != '-' && r != '_' && !unicode.IsMark(r)) {
			return cannot(
				"the name of the %s, %q, holds %q; a name has letters, digits, - and _ and begins with a letter or a digit", what, s, r)
		}
	}
	return nil
}

func checkMaybeName[N ~string](what string, n N) error {
	if n == "" {
		return nil
	}
	return checkName(what, n)
}

func nameLike(what string) string {
	switch what {
	case "zone":
		return "A3"
	case "mix":
		return "face"
	case "side":
		return "south"
	case "crew":
		return "north"
	case "device":
		return "n2"
	}
	return "sand"
}

// checkLine allows no line break; checkText does.
func checkLine(what, s string) error {
	if utf8.RuneCountInString(s) > MaxLine {
		return cannot("the %s has %d characters; it may have %d", what, utf8.RuneCountInString(s), MaxLine)
	}
	if strings.ContainsAny(s, "\n\r\t") {
		return cannot("the %s, %q, must be one line without tabs", what, clip(s))
	}
	return checkText(what, s)
}

func checkText(what, s string) error {
	if len(s) > MaxText {
		return cannot("the %s has %d bytes; it may have %d", what, len(s), MaxText)
	}
	if !utf8.ValidString(s) {
		return cannot("the %s, %q, is not text", what, clip(s))
	}
	for _, r := range s {
		if unicode.IsControl(r) && r != '\n' && r != '\r' && r != '\t' {
			return cannot("the %s holds the control character %q, which is not text", what, r)
		}
	}
	return nil
}

// checkSaid is that of a text that must be there.
func checkSaid(what, s string) error {
	if strings.TrimSpace(s) == "" {
		return cannot("the %s is empty; say it in words", what)
	}
	return checkText(what, s)
}

func checkLabel(what, s string) error { return first(checkSaid(what, s), checkLine(what, s)) }

// A time before the first or after the last is no time on a site, whatever the device's clock shows after a flat
// battery.
var (
	firstTime = time.Date(1970, 1, 1, 0, 0, 0, 0, time.UTC)
	lastTime  = time.Date(2200, 1, 1, 0, 0, 0, 0, time.UTC)
)

const maxSpan = 24 * time.Hour // of mixing or placing one batch

// checkTime allows the zero time: not said.
func checkTime(what string, t time.Time) error {
	if t.IsZero() || !t.Before(firstTime) && t.Before(lastTime) {
		return nil
	}
	return cannot("the time of %s, %s, cannot be; it must be from %d to %d", what, t.UTC().Format(time.DateTime),
		firstTime.Year(), lastTime.Year()-1)
}

// checkSpan takes two times, either of which may not be said.
func checkSpan(what string, from, to time.Time) error {
	if err := first(checkTime("the beginning of "+what, from), checkTime("the end of "+what, to)); err != nil {
		return err
	}
	if from.IsZero() || to.IsZero() {
		return nil
	}
	if milli(to).Before(milli(from)) {
		return cannot("%s cannot end at %s before it begins at %s", what, clock(to), clock(from))
	}
	if d := to.Sub(from); d > maxSpan {
		return cannot("%s from %s to %s would take %s; it takes %s at most", what, clock(from), clock(to), d, maxSpan)
	}
	return nil
}

// checkOrder is of instants that must each be said and come one after the other.
func checkOrder(what string, before, at time.Time) error {
	if at.IsZero() {
		return cannot("the time of the %s is missing", what)
	}
	if err := checkTime("the "+what, at); err != nil {
		return err
	}
	if !before.IsZero() && !milli(before).Before(milli(at)) {
		return cannot("the %s at %s does not come after the one at %s; they go in order of time", what, clock(at),
			clock(before))
	}
	return nil
}

func clock(t time.Time) string { return t.UTC().Format("2006-01-02 15:04:05Z") }

// checkWhole is of a length of time that is stored in whole units; zero is not said.
func checkWhole(what string, d, unit, most time.Duration) error {
	if d < 0 || d > most {
		return cannot("the %s of %s cannot be; it must be from 0 to %s", what, d, most)
	}
	if d%unit != 0 {
		return cannot("the %s of %s is not a whole number of %s", what, d,
			map[time.Duration]string{time.Minute: "minutes", time.Second: "seconds"}[unit])
	}
	return nil
}

// checkLength is of a length of time that is stored to the millisecond; zero is not said.
func checkLength(what string, d, least, most time.Duration) error {
	if d != 0 && d < least || d > most {
		return cannot("the %s of %s cannot be; it must be from %s to %s", what, sane(d), least, most)
	}
	return nil
}

// sane shows what came of a number that no duration can hold.
func sane(d time.Duration) string {
	if d == notADuration {
		return "no number"
	}
	return d.String()
}

func checkCount(what string, n, least, most int) error {
	if n < least || n > most {
		return cannot("%s %d cannot be; it must be from %d to %d", what, n, least, most)
	}
	return nil
}

var errNoHash = errors.New("a hash is missing or not 32 bytes")

func checkHash(what string, h Hash) error {
	if h.IsZero() {
		return cannot("the hash of %s is missing or not 32 bytes", what)
	}
	return nil
}

// checkHashes is of what one event replaces or is put over; none of them twice.
func checkHashes(what string, hashes []Hash, least int) error {
	if len(hashes) == 0 && least == 0 {
		return nil
	}
	seen := make(map[Hash]bool, len(hashes))
	return all(what, hashes, least, func(h Hash) error {
		if h.IsZero() {
			return errNoHash
		}
		if seen[h] {
			return cannot("%s is named twice", h)
		}
		seen[h] = true
		return nil
	})
}
