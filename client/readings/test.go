package readings

import (
	"context"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// test is a fresh test of a batch.
type test struct {
	batch                                    string
	gross, tare, measure, weight, temp, flow string
	air, set                                 string
	when                                     session.MomentFlags
}

// NewTest makes hod test.
func NewTest(env *session.Env) *cobra.Command {
	var t test
	c := env.NewCommand("test [BATCH] [UNIT WEIGHT]",
		"Write down a fresh test: unit weight, temperature, flow, air, initial set",
		"hod test 7 --gross 35.2lb --tare 2.6lb --measure 0.25ft3 --temp 85F", "hod test --gross 35.4lb",
		"hod test 7 134lb/ft3 --flow 110% --air 4%",
		"hod test 7 --set 3h10m   # from water contact to 500 psi (3.5 MPa)")
	c.Long = "Without a batch it is the crew's last. The empty measure and its volume are those of the crew's last test unless said."
	c.Args = terminal.RangeArgs(0, 2, "a batch, and its unit weight where that was read")
	f := c.Flags()
	f.StringVar(&t.gross, "gross", "", "the filled measure")
	f.StringVar(&t.tare, "tare", "", "the empty measure; 0lb if the scale was set so")
	f.StringVar(&t.measure, "measure", "", "volume of the measure: 0.25ft3, 7l")
	f.StringVar(&t.weight, "unit-weight", "", "where it was read: 130lb/ft3")
	f.StringVar(&t.temp, "temp", "", "temperature of the mortar: 29C")
	f.StringVar(&t.flow, "flow", "", "flow, of the original base: 110%")
	f.StringVar(&t.air, "air", "", "air as a meter read it: 4%")
	f.StringVar(&t.set, "set", "", "initial set as tested, from water contact: 3h10m")
	t.when.Register(f)
	env.SureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		if err := t.words(args); err != nil {
			return err
		}
		return session.Run(c.Context(), env, func(s *session.Session) error { return t.run(c.Context(), s) })
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
			return terminal.Usagef("the unit weight is given twice, %s and %s", terminal.Safe(t.weight),
				terminal.Safe(word))
		case t.batch == "":
			t.batch = word
		default:
			return terminal.InFlag("unit-weight", err)
		}
	}
	return nil
}

// testKept is the document hod.test.v1.
type testKept struct {
	session.Kept
	Batch         string             `json:"batch"`
	UnitWeight    *terminal.Quantity `json:"unit_weight,omitempty"`
	Yield         *terminal.Quantity `json:"yield,omitempty"`
	RelativeYield float64            `json:"relative_yield,omitempty"`
	Air           *float64           `json:"air,omitempty"` // gravimetric, a share
	Temperature   *terminal.Quantity `json:"temperature,omitempty"`
	Flow          *terminal.Quantity `json:"flow,omitempty"`
	InitialSetMin *int               `json:"initial_set_min,omitempty"`
	Judgement     string             `json:"judgement,omitempty"`
}

func (t test) run(ctx context.Context, s *session.Session) error {
	at, on, err := t.when.Read(s)
	if err != nil {
		return err
	}
	b, err := s.ResolveBatch(t.batch, on)
	if err != nil {
		return err
	}
	body, err := t.read(s, b)
	if err != nil {
		return err
	}
	k, err := s.Keep(ctx, session.Draft{Body: body, At: at})
	if err != nil {
		return err
	}
	return tellTest(s, k, k.Body.(event.BatchTested))
}

func (t test) read(s *session.Session, b *fold.Batch) (event.BatchTested, error) {
	body := event.BatchTested{Batch: b.ID}
	var err error
	fail := func(e error) {
		if err == nil {
			err = e
		}
	}
	var e error
	body.Gross, e = parse.OptionalFlag("gross", t.gross, unit.ParseMass)
	fail(e)
	body.Tare, e = parse.OptionalFlag("tare", t.tare, unit.ParseMass)
	fail(e)
	body.Measure, e = parse.OptionalFlag("measure", t.measure, unit.ParseVolume)
	fail(e)
	body.UnitWeight, e = parse.OptionalFlag("unit-weight", t.weight, unit.ParseDensity)
	fail(e)
	body.Temperature, e = parse.OptionalFlag("temp", t.temp, unit.ParseTemperature)
	fail(e)
	body.Flow, e = parse.OptionalFlag("flow", t.flow, parse.FlowShare)
	fail(e)
	body.Air, e = parse.OptionalFlag("air", t.air, unit.ParseShare)
	fail(e)
	if t.set != "" {
		if body.InitialSet, e = unit.ParseDuration(t.set); e != nil {
			fail(terminal.Usagef("--set %s: %v; it is from water contact to 500 psi (3.5 MPa), as in 3h10m",
				terminal.Safe(t.set), e))
		}
		body.InitialSet = body.InitialSet.Round(time.Minute)
	}
	if err != nil || body.Gross == nil {
		return body, err
	}
	sameMeasure(s, b.ID.Crew, &body)
	return body, nil
}

// sameMeasure takes over the measure of the crew's last test that had one.
func sameMeasure(s *session.Session, crew event.Crew, body *event.BatchTested) {
	var last *fold.Test
	for _, b := range s.Fold.Batches() {
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

func tellTest(s *session.Session, k session.Kept, body event.BatchTested) error {
	doc := testKept{Batch: body.Batch.String()}
	var said, next []string
	if body.Gross != nil {
		text := "filled measure " + unit.Both(s.Units, *body.Gross, unit.System.Mass)
		if body.Tare != nil {
			text += ", empty " + unit.Both(s.Units, *body.Tare, unit.System.Mass)
		}
		said = append(said, text+", holding "+unit.Both(s.Units, *body.Measure, unit.System.Volume))
	}
	if body.UnitWeight != nil {
		said = append(said, "unit weight "+unit.Both(s.Units, *body.UnitWeight, unit.System.Density))
	}
	if body.Temperature != nil {
		q := terminal.QuantityOf(*body.Temperature, "C")
		doc.Temperature = &q
		said = append(said, unit.Both(s.Units, *body.Temperature, unit.System.Temperature))
	}
	if body.Flow != nil {
		q := terminal.QuantityOf(*body.Flow, "1")
		doc.Flow = &q
		said = append(said, "flow "+unit.Both(s.Units, *body.Flow, unit.System.Share))
	}
	if body.Air != nil {
		said = append(said, "air "+unit.Both(s.Units, *body.Air, unit.System.Share)+" by the meter")
	}
	if body.InitialSet > 0 {
		minutes := int(body.InitialSet / time.Minute)
		doc.InitialSetMin = &minutes
		said = append(said, "initial set "+unit.Duration(body.InitialSet)+" after water contact")
		next = append(next, "`hod next` reckons with it today")
	}
	if b, ok := s.Fold.Batch(body.Batch); ok {
		for _, t := range b.Tests {
			if t.Record.Name == k.Name && t.UnitWeight > 0 {
				next = append(next, testWords(s, &doc, t)...)
			}
		}
	}
	k.Text = fmt.Sprintf("test of batch %s: %s", s.ShortBatch(body.Batch), strings.Join(said, ", "))
	k.Next = strings.Join(next, "; ")
	s.AddWarnings(&k)
	doc.Kept = k
	return s.Tell(k, doc)
}

func testWords(s *session.Session, doc *testKept, t fold.Test) []string {
	weight := terminal.QuantityOf(unit.Computed(t.UnitWeight), "kg/m3")
	doc.UnitWeight, doc.Judgement = &weight, t.Judgement
	next := []string{"unit weight " + unit.Both(s.Units, unit.Computed(t.UnitWeight), unit.System.Density)}
	if t.Yield > 0 {
		y := terminal.QuantityOf(unit.Computed(t.Yield), "m3")
		doc.Yield, doc.RelativeYield = &y, terminal.Round3(t.Relative)
		next = append(next, fmt.Sprintf("yield %s, %.3f of the design",
			unit.Both(s.Units, unit.Computed(t.Yield), unit.System.Volume), t.Relative))
	}
	if t.AirKnown {
		air := terminal.Finite(float64(t.Air))
		doc.Air = &air
		next = append(next, "air "+s.Units.Share(t.Air)+" by weight")
	}
	switch {
	case t.Judgement == "within":
		next = append(next, "within what the mix asks")
	case t.Judgement != "":
		next = append(next, t.Judgement)
	}
	return next
}
