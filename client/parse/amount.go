package parse

import (
	"strings"

	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// Scale reads 1/2, 2, 1.5 or 50%.
func Scale(word string) (float64, error) {
	if x, err := terminal.ParseNumber(strings.TrimSpace(word)); err == nil && x > 0 && x <= 20 {
		return x, nil
	}
	share, err := unit.ParseShare(word)
	if err != nil || share <= 0 {
		return 0,
			terminal.Usagef("--scale cannot be %q; write 1/2 for half the mix's batch, 2 for two of them, 20 at most",
				terminal.Safe(word))
	}
	return float64(share), nil
}

// Amount reads an amount of a constituent; none and 0 say that it was left out.
func Amount(value string, kind event.Kind) (event.Amount, error) {
	if value == "none" || value == "0" {
		return event.Amount{Entered: "none"}, nil
	}
	parse := unit.ParseAmount
	if kind == event.Water || kind == event.Admixture {
		parse = unit.ParseLiquid
	}
	a, err := parse(value)
	if err != nil {
		return event.Amount{}, err
	}
	return event.Amount{Mass: a.Mass, Volume: a.Volume, ByVolume: a.IsVolume, Entered: strings.TrimSpace(value)}, nil
}

// Loads reads the loads at which specimens broke, one a word or with commas between them.
func Loads(words ...string) ([]unit.Force, error) {
	var all []unit.Force
	for _, word := range List(words) {
		f, err := unit.ParseForce(word)
		if err != nil {
			return nil, err
		}
		all = append(all, f)
	}
	return all, nil
}

// Stock reads an amount of stock; bags are counted as 40x94lb.
func Stock(word string) (event.Amount, error) {
	n, each := 1.0, word
	if bags, bag, ok := strings.Cut(strings.ToLower(word), "x"); ok {
		var err error
		if n, err = terminal.ParseNumber(strings.TrimSpace(bags)); err != nil || !(n >= 0 && n <= 1e6) {
			return event.Amount{}, terminal.Usagef("%q is no amount; bags are counted as 40x94lb", terminal.Safe(word))
		}
		each = bag
	}
	a, err := Amount(strings.TrimSpace(each), event.Other)
	if err != nil {
		return event.Amount{}, err
	}
	a.Mass, a.Volume, a.Entered = a.Mass*unit.Mass(n), a.Volume*unit.Volume(n), strings.TrimSpace(word)
	return a, nil
}
