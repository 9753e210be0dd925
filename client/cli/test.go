package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// test is a fresh test of a batch.
type test struct {
	batch                                    string
	gross, tare, measure, weight, temp, flow string
	air                                      string
	when                                     moment
}

func newTest(env *deviceEnv) *cobra.Command {
	var t test
	c := env.command("test [BATCH] [UNIT WEIGHT]", "Write down a fresh test: unit weight, temperature, flow, air",
		"hod test 7 --gross 35.2lb --tare 2.6lb --measure 0.25ft3 --temp 85F", "hod test --gross 35.4lb", "hod test 7 134lb/ft3 --flow 110% --air 4%")
	c.Long = "Without a batch it is the crew's last. The empty measure and its volume are those of the crew's last test unless said."
	c.Args = arguments(0, 2, "a batch, and its unit weight where that was read")
	f := c.Flags()
	f.StringVar(&t.gross, "gross", "", "the filled measure")
	f.StringVar(&t.tare, "tare", "", "the empty measure; 0lb if the scale was set so")
	f.StringVar(&t.measure, "measure", "", "volume of the measure: 0.25ft3, 7l")
	f.StringVar(&t.weight, "unit-weight", "", "where it was read: 130lb/ft3")
	f.StringVar(&t.temp, "temp", "", "temperature of the mortar: 29C")
	f.StringVar(&t.flow, "flow", "", "flow, of the original base: 110%")
	f.StringVar(&t.air, "air", "", "air as a meter read it: 4%")
	t.when.flags(f)
	env.sureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := t.words(args); err != nil {
			return err
		}
		return env.with(c.Context(), func(s *site) error { return t.run(c.Context(), s) })
	}
	return c
}

// words are a batch and a unit weight, or either alone: only the latter has a unit.
func (t *test) words(args []string) error {
	for _, word := range args {
		_, err := unit.ParseDensity(word)
		switch {
		case err == nil && t.weight == "":
			t.weight = word
		case err == nil:
			return usage("the unit weight is given twice, %s and %s", safe(t.weight), safe(word))
		case t.batch == "":
			t.batch = word
		default:
			return flagged("unit-weight", err)
		}
	}
	return nil
}

// testKept is the document hod.test.v1.
type testKept struct {
	kept
	Batch         string    `json:"batch"`
	UnitWeight    *Quantity `json:"unit_weight,omitempty"`
	Yield         *Quantity `json:"yield,omitempty"`
	RelativeYield float64   `json:"relative_yield,omitempty"`
	Air           *float64  `json:"air,omitempty"` // gravimetric, a share
	Temperature   *Quantity `json:"temperature,omitempty"`
	Flow          *Quantity `json:"flow,omitempty"`
	Judgement     string    `json:"judgement,omitempty"`
}

func (t test) run(ctx context.Context, s *site) error {
	at, on, err := t.when.read(s)
	if err != nil {
		return err
	}
	b, err := s.meant(t.batch, on)
	if err != nil {
		return err
	}
	body, err := t.read(s, b)
	if err != nil {
		return err
	}
	k, err := s.keep(ctx, draft{body: body, at: at})
	if err != nil {
		return err
	}
	return s.tellTest(k, k.body.(event.BatchTested))
}

func (t test) read(s *site, b *fold.Batch) (event.BatchTested, error) {
	body := event.BatchTested{Batch: b.ID}
	var err error
	fail := func(e error) {
		if err == nil {
			err = e
		}
	}
	var e error
	body.Gross, e = maybe("gross", t.gross, unit.ParseMass)
	fail(e)
	body.Tare, e = maybe("tare", t.tare, unit.ParseMass)
	fail(e)
	body.Measure, e = maybe("measure", t.measure, unit.ParseVolume)
	fail(e)
	body.UnitWeight, e = maybe("unit-weight", t.weight, unit.ParseDensity)
	fail(e)
	body.Temperature, e = maybe("temp", t.temp, unit.ParseTemperature)
	fail(e)
	body.Flow, e = maybe("flow", t.flow, parseFlowShare)
	fail(e)
	body.Air, e = maybe("air", t.air, unit.ParseShare)
	fail(e)
	if err != nil || body.Gross == nil {
		return body, err
	}
	s.sameMeasure(b.ID.Crew, &body)
	return body, nil
}

// sameMeasure takes over the measure of the crew's last test that had one.
func (s *site) sameMeasure(crew event.Crew, body *event.BatchTested) {
	var last *fold.Test
	for _, b := range s.fold.Batches() {
		if b.ID.Crew != crew {
			continue
		}
		for i, t := range b.Tests {
			if t.Body.Measure != nil && (last == nil || !t.Record.When.Before(last.Record.When)) {
				last = &b.Tests[i]
			}
		}
	}
	if last == nil {
		return
	}
	if body.Measure == nil {
		body.Measure = last.Body.Measure
		if body.Tare == nil {
			body.Tare = last.Body.Tare
		}
	}
}

// parseFlowShare reads a flow, which goes beyond the whole: 110%.
func parseFlowShare(s string) (unit.Share, error) {
	number, ok := strings.CutSuffix(strings.TrimSpace(s), "%")
	x, err := parseNumber(strings.TrimSpace(number))
	if !ok || err != nil {
		return 0, usage("%q is no flow; it is the spread of the cone over its base, written 110%%", safe(s))
	}
	return unit.Share(x / 100), nil
}

func (s *site) tellTest(k kept, body event.BatchTested) error {
	doc := testKept{Batch: body.Batch.String()}
	var said, next []string
	if body.Gross != nil {
		text := "filled measure " + unit.Both(s.units, *body.Gross, unit.System.Mass)
		if body.Tare != nil {
			text += ", empty " + unit.Both(s.units, *body.Tare, unit.System.Mass)
		}
		said = append(said, text+", holding "+unit.Both(s.units, *body.Measure, unit.System.Volume))
	}
	if body.UnitWeight != nil {
		said = append(said, "unit weight "+unit.Both(s.units, *body.UnitWeight, unit.System.Density))
	}
	if body.Temperature != nil {
		q := quantity(*body.Temperature, "C")
		doc.Temperature = &q
		said = append(said, unit.Both(s.units, *body.Temperature, unit.System.Temperature))
	}
	if body.Flow != nil {
		q := quantity(*body.Flow, "1")
		doc.Flow = &q
		said = append(said, "flow "+unit.Both(s.units, *body.Flow, unit.System.Share))
	}
	if body.Air != nil {
		said = append(said, "air "+unit.Both(s.units, *body.Air, unit.System.Share)+" by the meter")
	}
	if b, ok := s.fold.Batch(body.Batch); ok {
		for _, t := range b.Tests {
			if t.Record.Name == k.name && t.UnitWeight > 0 {
				next = s.testWords(&doc, t)
			}
		}
	}
	k.Text = fmt.Sprintf("test of batch %s: %s", s.shortBatch(body.Batch), strings.Join(said, ", "))
	k.Next = strings.Join(next, "; ")
	s.warned(&k)
	doc.kept = k
	return s.tellKept(k, doc)
}

func (s *site) testWords(doc *testKept, t fold.Test) []string {
	weight := quantity(unit.Computed(t.UnitWeight), "kg/m3")
	doc.UnitWeight, doc.Judgement = &weight, t.Judgement
	next := []string{"unit weight " + unit.Both(s.units, unit.Computed(t.UnitWeight), unit.System.Density)}
	if t.Yield > 0 {
		y := quantity(unit.Computed(t.Yield), "m3")
		doc.Yield, doc.RelativeYield = &y, round3(t.Relative)
		next = append(next, fmt.Sprintf("yield %s, %.3f of the design", unit.Both(s.units, unit.Computed(t.Yield), unit.System.Volume), t.Relative))
	}
	if t.AirKnown {
		air := finite(float64(t.Air))
		doc.Air = &air
		next = append(next, "air "+s.units.Share(t.Air)+" by weight")
	}
	switch {
	case t.Judgement == "within":
		next = append(next, "within what the mix asks")
	case t.Judgement != "":
		next = append(next, t.Judgement)
	}
	return next
}
