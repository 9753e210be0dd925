package parse

import (
	"fmt"
	"strings"

	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// ConstituentOrRest reads a constituent, or a sand that takes the rest: "sand=rest,gravity=2.62".
func ConstituentOrRest(word string) (c event.Constituent, rest bool, err error) {
	name, value, _ := strings.Cut(word, "=")
	amount, properties, _ := strings.Cut(value, ",")
	if strings.TrimSpace(amount) != "rest" {
		c, err = Constituent(word)
		return c, false, err
	}
	word = name + "=1kg"
	if properties != "" {
		word += "," + properties
	}
	if c, err = Constituent(word); err == nil && c.Kind != event.Sand {
		err = terminal.Usagef("%s is %s; what is left of the volume goes to a sand", terminal.Safe(name), c.Kind)
	}
	return c, true, err
}

// Constituent reads "sand=190lb,kind=sand,gravity=2.62,absorption=1%".
func Constituent(word string) (event.Constituent, error) {
	name, rest, ok := strings.Cut(word, "=")
	parts := strings.Split(rest, ",")
	if !ok || name == "" || parts[0] == "" {
		return event.Constituent{},
			terminal.Usagef("%q is no constituent; write sand=190lb,gravity=2.62,absorption=1%%", terminal.Safe(word))
	}
	c := event.Constituent{Name: event.Material(name)}
	kind := name
	for _, p := range parts[1:] {
		key, value, ok := strings.Cut(p, "=")
		var err error
		switch {
		case !ok:
			err = terminal.Usagef(
				"%q says nothing; write kind=sand, gravity=2.62, absorption=1%%, solids=40%% or bulk=95lb/ft3",
				terminal.Safe(p))
		case key == "kind":
			kind = value
		case key == "gravity":
			c.Gravity, err = terminal.ParseNumber(value)
		case key == "absorption":
			c.Absorption, err = maybeShare(value)
		case key == "solids":
			c.Solids, err = maybeShare(value)
		case key == "bulk":
			var bulk unit.As[unit.Density]
			bulk, err = unit.Said(value, unit.ParseDensity)
			c.Bulk = &bulk
		default:
			err = terminal.Usagef("a constituent has no %q; it has kind, gravity, absorption, solids and bulk",
				terminal.Safe(key))
		}
		if err != nil {
			return c, fmt.Errorf("%s: %w", terminal.Safe(name), terminal.AsUsage(err))
		}
	}
	var err error
	if c.Kind, err = event.ParseKind(kind); err != nil {
		if kind == name {
			return c,
				terminal.Usagef(
					"%s: of what kind is it? add kind=, one of cement, pozzolan, sand, water, admixture, foam, fibre, other", terminal.Safe(name))
		}
		return c, err
	}
	if c.Amount, err = Amount(parts[0], c.Kind); err != nil {
		return c, fmt.Errorf("%s: %w", terminal.Safe(name), err)
	}
	return c, nil
}

func maybeShare(value string) (*unit.As[unit.Share], error) {
	q, err := unit.Said(value, unit.ParseShare)
	return &q, err
}

// Step reads a step of the charging order: "water 3/4", "wait 2min", "look flows by itself", "cement, wait 1min".
func Step(word string) (event.Step, error) {
	var step event.Step
	for part := range strings.SplitSeq(word, ",") {
		part = strings.TrimSpace(part)
		verb, rest, _ := strings.Cut(part, " ")
		rest = strings.TrimSpace(rest)
		var err error
		switch {
		case verb == "wait":
			step.Wait, err = unit.ParseDuration(rest)
		case verb == "look":
			step.LookFor = rest
		case verb == "" || step.Constituent != "":
			err = terminal.Usagef("write NAME [share], wait TIME or look WORDS, with commas between them")
		default:
			step.Constituent = event.Material(verb)
			if rest != "" {
				step.Share, err = maybeShare(rest)
			}
		}
		if err != nil {
			return step, fmt.Errorf("--step %q: %w", terminal.Safe(word), err)
		}
	}
	return step, nil
}
