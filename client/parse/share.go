package parse

import (
	"fmt"
	"strings"

	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// Part reads how much of a batch: a share (1/2, 40%), a volume (40l), or all and rest for what is left.
func Part(word string) (event.Part, error) {
	switch strings.ToLower(strings.TrimSpace(word)) {
	case "", "all", "rest", "the rest":
		return event.Part{}, nil
	}
	share, err := unit.Said(word, unit.ParseShare)
	if err == nil {
		return event.Part{Share: &share}, nil
	}
	volume, other := unit.Said(word, unit.ParseVolume)
	if other == nil {
		return event.Part{Volume: &volume}, nil
	}
	if strings.ContainsFunc(word, func(r rune) bool { return r >= 'A' && r != '½' && r != '¼' && r != '¾' }) {
		return event.Part{}, fmt.Errorf("how much of the batch: %w; a share is written 1/2 or 40%%", other)
	}
	return event.Part{}, fmt.Errorf("how much of the batch: %w; a volume is written 40l or 1.5ft3", err)
}

// IsPart says whether a word says how much.
func IsPart(word string) bool {
	_, err := Part(word)
	return err == nil
}

// OptionalFlag reads a flag's value where one was given.
func OptionalFlag[Q any](name, value string, parse func(string) (Q, error)) (*unit.As[Q], error) {
	if value == "" {
		return nil, nil
	}
	q, err := unit.Said(value, parse)
	if err != nil {
		return nil, terminal.InFlag(name, err)
	}
	return &q, nil
}

// List splits values that were given with commas between them, or one a flag. An inch mark is not a quote.
func List(values []string) []string {
	var all []string
	for _, v := range values {
		for part := range strings.SplitSeq(v, ",") {
			if part = strings.TrimSpace(part); part != "" {
				all = append(all, part)
			}
		}
	}
	return all
}

// IsBatch reports whether a word can be the name of a batch and nothing else: 16, north/7, but not 1/2.
func IsBatch(word string) bool {
	_, err := event.ParseBatch(word, "none", "2006-01-02")
	return err == nil && !IsPart(word)
}

// FlowShare reads a flow, which goes beyond the whole: 110%.
func FlowShare(s string) (unit.Share, error) {
	number, ok := strings.CutSuffix(strings.TrimSpace(s), "%")
	x, err := terminal.ParseNumber(strings.TrimSpace(number))
	if !ok || err != nil {
		return 0, terminal.Usagef("%q is no flow; it is the spread of the cone over its base, written 110%%",
			terminal.Safe(s))
	}
	return unit.Share(x / 100), nil
}

// Sun reads a number of W/m².
func Sun(word string) (float64, error) {
	number := strings.TrimSpace(word)
	for _, u := range []string{"w/m²", "w/m2", "W/m²", "W/m2"} {
		number = strings.TrimSpace(strings.TrimSuffix(number, u))
	}
	v, err := terminal.ParseNumber(number)
	if err != nil {
		return 0, terminal.Usagef("%q is no amount of sun; it is in W/m², as in 800", terminal.Safe(word))
	}
	return v, nil
}
