package readings

import (
	"context"
	"fmt"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// specimen is a strength test of cubes or cylinders.
type specimen struct {
	mix, batch, shape, size, height, age, laboratory string
	loads                                            []string
	maturity                                         float64
	when                                             session.MomentFlags
}

// NewBreak makes hod break.
func NewBreak(env *session.Env) *cobra.Command {
	var b specimen
	c := env.NewCommand("break MIX", "Write down a strength test of cubes or cylinders",
		"hod break face --shape cube --size 50mm --age 7d --load 53kN,55kN,51kN --batch 7",
		"hod break face --shape cylinder --size 3in --height 6in --age 28d --load 31000lbf --laboratory \"county lab\"")
	c.Args = terminal.ExactArgs(1, "the mix")
	f := c.Flags()
	f.StringVar(&b.shape, "shape", "cube", "cube or cylinder")
	f.StringVar(&b.size, "size", "", "side of the cube, diameter of the cylinder")
	f.StringVar(&b.height, "height", "", "height of the cylinder")
	f.StringVar(&b.age, "age", "", "age at the break: 7d, 36h")
	f.StringArrayVar(&b.loads, "load", nil, "load at the break, of each: 53kN,55kN")
	f.StringVar(&b.batch, "batch", "", "the batch that they are of")
	f.Float64Var(&b.maturity, "maturity", 0, "their maturity in °C·h over the mix's datum, if known")
	f.StringVar(&b.laboratory, "laboratory", "", "who broke them")
	b.when.Register(f)
	env.SureFlag(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		b.mix = args[0]
		return session.Run(c.Context(), env, func(s *session.Session) error { return b.run(c.Context(), s) })
	}
	return c
}

// specimenKept is the document hod.break.v1.
type specimenKept struct {
	session.Kept
	Mix        string              `json:"mix"`
	Batch      string              `json:"batch,omitempty"`
	AgeSeconds float64             `json:"age_s"`
	Strengths  []terminal.Quantity `json:"strengths"` // of each, load over area
	Mean       terminal.Quantity   `json:"mean"`
}

func (b specimen) run(ctx context.Context, s *session.Session) error {
	m, err := s.FindMix(b.mix)
	if err != nil {
		return err
	}
	at, on, err := b.when.Read(s)
	if err != nil {
		return err
	}
	body, err := b.read(s, m.MixPlanned.Mix, on)
	if err != nil {
		return err
	}
	k, err := s.Keep(ctx, session.Draft{Body: body, At: at})
	if err != nil {
		return err
	}
	body = k.Body.(event.SpecimensBroken)
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
		doc.Strengths = append(doc.Strengths,
			terminal.QuantityOf(unit.Computed(unit.Pressure(float64(load)/area)), "Pa"))
		sum += float64(load) / area
	}
	mean := unit.Computed(unit.Pressure(sum / float64(len(body.Loads))))
	doc.Mean = terminal.QuantityOf(mean, "Pa")
	k.Text = fmt.Sprintf("%s of mix %s broken at %s: %s on the mean",
		terminal.Plural(len(body.Loads), body.Shape.String(), body.Shape.String()+"s"),
		body.Mix, unit.Duration(body.Age), unit.Both(s.Units, mean, unit.System.Pressure)) + s.AtTime(at)
	k.Next = "not a leave to strip or load anything: that is for the responsible engineer"
	s.AddWarnings(&k)
	doc.Kept = k
	return s.Tell(k, doc)
}

func (b specimen) read(s *session.Session, m event.Mix, on string) (event.SpecimensBroken, error) {
	body := event.SpecimensBroken{Mix: m, MaturityCH: b.maturity, Laboratory: b.laboratory}
	for _, need := range []struct{ flag, value, like string }{
		{"size", b.size, "50mm"}, {"age", b.age, "7d"}, {"load", strings.Join(b.loads, ","), "53kN"},
	} {
		if need.value == "" {
			return body, terminal.Usagef("--%s is missing, as in --%s %s", need.flag, need.flag, need.like)
		}
	}
	var err error
	if body.Shape, err = event.ParseSpecimen(b.shape); err != nil {
		return body, terminal.InFlag("shape", err)
	}
	if body.Size, err = parse.OptionalFlag("size", b.size, unit.ParseLength); err != nil {
		return body, err
	}
	if body.Height, err = parse.OptionalFlag("height", b.height, unit.ParseLength); err != nil {
		return body, err
	}
	if body.Age, err = unit.ParseDuration(b.age); err != nil {
		return body, terminal.InFlag("age", err)
	}
	if body.Loads, err = parse.Loads(b.loads...); err != nil {
		return body, terminal.InFlag("load", err)
	}
	if b.batch != "" {
		found, err := s.FindBatch(b.batch, on)
		if err != nil {
			return body, err
		}
		body.Batch = &found.ID
	}
	return body, nil
}
