package cli

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/unit"
)

// specimen is a strength test of cubes or cylinders.
type specimen struct {
	mix, batch, shape, size, height, age, laboratory string
	loads                                            []string
	maturity                                         float64
	when                                             moment
}

func newBreak(env *deviceEnv) *cobra.Command {
	var b specimen
	c := env.command("break MIX", "Write down a strength test of cubes or cylinders",
		"hod break face --shape cube --size 50mm --age 7d --load 53kN,55kN,51kN --batch 7",
		"hod break face --shape cylinder --size 3in --height 6in --age 28d --load 31000lbf --laboratory \"county lab\"")
	c.Args = exactly(1, "the mix")
	f := c.Flags()
	f.StringVar(&b.shape, "shape", "cube", "cube or cylinder")
	f.StringVar(&b.size, "size", "", "side of the cube, diameter of the cylinder")
	f.StringVar(&b.height, "height", "", "height of the cylinder")
	f.StringVar(&b.age, "age", "", "age at the break: 7d, 36h")
	f.StringArrayVar(&b.loads, "load", nil, "load at the break, of each: 53kN,55kN")
	f.StringVar(&b.batch, "batch", "", "the batch that they are of")
	f.Float64Var(&b.maturity, "maturity", 0, "their maturity in °C·h over the mix's datum, if known")
	f.StringVar(&b.laboratory, "laboratory", "", "who broke them")
	b.when.flags(f)
	env.sureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		b.mix = args[0]
		return env.with(c.Context(), func(s *site) error { return b.run(c.Context(), s) })
	}
	return c
}

// specimenKept is the document hod.break.v1.
type specimenKept struct {
	kept
	Mix        string     `json:"mix"`
	Batch      string     `json:"batch,omitempty"`
	AgeSeconds float64    `json:"age_s"`
	Strengths  []Quantity `json:"strengths"` // of each, load over area
	Mean       Quantity   `json:"mean"`
}

func (b specimen) run(ctx context.Context, s *site) error {
	m, err := s.findMix(b.mix)
	if err != nil {
		return err
	}
	at, on, err := b.when.read(s)
	if err != nil {
		return err
	}
	body, err := b.read(s, m.MixPlanned.Mix, on)
	if err != nil {
		return err
	}
	k, err := s.keep(ctx, draft{body: body, at: at})
	if err != nil {
		return err
	}
	body = k.body.(event.SpecimensBroken)
	doc := specimenKept{Mix: string(body.Mix), AgeSeconds: body.Age.Seconds()}
	if body.Batch != nil {
		doc.Batch = body.Batch.String()
	}
	area := float64(body.Size.SI) * float64(body.Size.SI)
	if body.Shape == event.Cylinder {
		area *= math.Pi / 4
	}
	sum := 0.0
	for _, load := range body.Loads {
		doc.Strengths = append(doc.Strengths, quantity(unit.Computed(unit.Pressure(float64(load)/area)), "Pa"))
		sum += float64(load) / area
	}
	mean := unit.Computed(unit.Pressure(sum / float64(len(body.Loads))))
	doc.Mean = quantity(mean, "Pa")
	k.Text = fmt.Sprintf("%s of mix %s broken at %s: %s on the mean", count(len(body.Loads), body.Shape.String(), body.Shape.String()+"s"),
		body.Mix, unit.Duration(body.Age), unit.Both(s.units, mean, unit.System.Pressure)) + s.said(at)
	k.Next = "not a leave to strip or load anything: that is for the responsible engineer"
	s.warned(&k)
	doc.kept = k
	return s.tellKept(k, doc)
}

func (b specimen) read(s *site, m event.Mix, on string) (event.SpecimensBroken, error) {
	body := event.SpecimensBroken{Mix: m, MaturityCH: b.maturity, Laboratory: b.laboratory}
	for _, need := range []struct{ flag, value, like string }{
		{"size", b.size, "50mm"}, {"age", b.age, "7d"}, {"load", strings.Join(b.loads, ","), "53kN"},
	} {
		if need.value == "" {
			return body, usage("--%s is missing, as in --%s %s", need.flag, need.flag, need.like)
		}
	}
	var err error
	if body.Shape, err = event.ParseSpecimen(b.shape); err != nil {
		return body, flagged("shape", err)
	}
	if body.Size, err = maybe("size", b.size, unit.ParseLength); err != nil {
		return body, err
	}
	if body.Height, err = maybe("height", b.height, unit.ParseLength); err != nil {
		return body, err
	}
	if body.Age, err = unit.ParseDuration(b.age); err != nil {
		return body, flagged("age", err)
	}
	if body.Loads, err = readLoads(b.loads...); err != nil {
		return body, flagged("load", err)
	}
	if b.batch != "" {
		found, err := s.findBatch(b.batch, on)
		if err != nil {
			return body, err
		}
		body.Batch = &found.ID
	}
	return body, nil
}

func readLoads(words ...string) ([]unit.Force, error) {
	var all []unit.Force
	for _, word := range commaList(words) {
		f, err := unit.ParseForce(word)
		if err != nil {
			return nil, err
		}
		all = append(all, f)
	}
	return all, nil
}
