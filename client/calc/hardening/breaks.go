package hardening

import (
	"context"
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"gonum.org/v1/gonum/stat"

	"hod/client/calc/sheet"
	"hod/client/parse"
	"hod/client/terminal"
	"hod/internal/trade/curing"
	"hod/internal/unit"
)

// calcBreaks are strengths from loads, and what a run of tests says of a mix.
type calcBreaks struct {
	shape, size, height      string
	loads                    []string
	tests, specified, spread string
	number                   int
}

type breaksDoc struct {
	Strengths  []float64 `json:"strengths_mpa"`
	Mean       *float64  `json:"mean_mpa"` // null where there is none
	SD         *float64  `json:"sd_mpa,omitempty"`
	Correction *float64  `json:"correction,omitempty"` // of a short cylinder
	OfThree    []float64 `json:"running_average_mpa,omitempty"`
	Required   *float64  `json:"required_average_mpa,omitempty"`
	sheet.Sheet
}

// NewBreaks makes hod calc breaks.
func NewBreaks(env *terminal.Streams) *cobra.Command {
	var q calcBreaks
	c := env.NewCommand("breaks",
		"Strength from load and specimen; averages of three tests; the average that a strength asks for",
		`hod calc breaks --shape cube --size 2in --load 12000lbf,11800lbf,12350lbf`,
		`hod calc breaks --shape cylinder --size 100mm --height 150mm --load 210kN`,
		`hod calc breaks --tests tests.csv --specified 4000psi`,
		`hod calc breaks --specified 4000psi --sd 500psi --number 30`)
	c.Long = "--tests has the column mpa (or psi), one row a test, in the order in which they were made; each is the mean of its\n" +
		"specimens."
	f := c.Flags()
	f.StringVar(&q.shape, "shape", "cube", "cube or cylinder")
	f.StringVar(&q.size, "size", "", "side of the cube, diameter of the cylinder")
	f.StringVar(&q.height, "height", "", "height of the cylinder; twice its diameter if not said")
	f.StringArrayVar(&q.loads, "load", nil, "load at the break, of each: 53kN,55kN")
	f.StringVar(&q.tests, "tests", "", "CSV file of tests with the column mpa")
	f.StringVar(&q.specified, "specified", "", "the strength specified: also the average that it asks for")
	f.StringVar(&q.spread, "sd", "", "standard deviation of earlier tests, where there is no file")
	f.IntVar(&q.number, "number", 0, "number of those tests")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcBreaks) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if len(q.loads) > 0 && q.tests != "" {
		return terminal.Usagef("--load gives the loads of one test, and --tests the tests of a mix; give one of them")
	}
	if q.tests != "" && (q.spread != "" || q.number != 0) {
		return terminal.Usagef("--sd and --number are those of the file of --tests; leave them out")
	}
	var doc breaksDoc
	var err error
	var strengths []unit.Pressure
	switch {
	case len(q.loads) > 0:
		strengths, err = q.broken(s, &doc)
	case q.tests != "":
		strengths, err = q.made(env, s, &doc)
	case q.specified == "":
		return s.Missing("load", "tests", "specified")
	}
	if err != nil {
		return err
	}
	if q.specified != "" {
		if err := q.required(s, strengths, &doc); err != nil {
			return err
		}
	}
	s.Caution(curing.Caution)
	doc.Sheet = *s
	return s.Print(env, "breaks", doc)
}

// broken are strengths from loads.
func (q calcBreaks) broken(s *sheet.Sheet, doc *breaksDoc) ([]unit.Pressure, error) {
	size, err := sheet.Asked(s, "size", q.size, unit.ParseLength, "m", unit.System.Thickness)
	if err != nil {
		return nil, err
	}
	loads, err := parse.Loads(q.loads...)
	if err != nil {
		return nil, sheet.FlagErr("load", err)
	}
	var strength func(unit.Force) (unit.Pressure, error)
	switch strings.ToLower(q.shape) {
	case "cube":
		if q.height != "" {
			return nil, terminal.Usagef("--height is a cylinder's; a cube has one --size")
		}
		strength = curing.Cube{Edge: size}.Strength
		s.By("load / edge²", "ASTM C109")
	case "cylinder":
		c := curing.Cylinder{Diameter: size}
		if q.height != "" {
			if c.Length, err = sheet.Asked(s, "height", q.height, unit.ParseLength, "m",
				unit.System.Thickness); err != nil {
				return nil, err
			}
			if c.Length <= 0 {
				return nil, terminal.Usagef("--height: %s cannot be; give a height above 0", terminal.Safe(q.height))
			}
		}
		factor, err := c.Correction()
		if err != nil {
			return nil, sheet.FlagErr("height", err)
		}
		doc.Correction = &factor
		strength = c.Strength
		s.Figuref("correction for its height", "%s", sheet.Decimal(factor, 4))
		s.By("load / (π/4 diameter²) × correction",
			"ASTM C39; corrections from memory, straight between 1, 1.25, 1.5, 1.75 and 2 diameters")
	default:
		return nil, terminal.Usagef("--shape: %q is neither cube nor cylinder", terminal.Safe(q.shape))
	}
	s.Noted("shape", strings.ToLower(q.shape))
	var all []unit.Pressure
	for i, load := range loads {
		p, err := strength(load)
		if err != nil {
			if load <= 0 {
				return nil, sheet.FlagErr("load", err)
			}
			return nil, terminal.AsUsage(err)
		}
		all = append(all, p)
		s.Understood(fmt.Sprintf("load %d", i+1), "", float64(load), "N", sheet.Both(load, unit.System.Force))
		s.Figuref(fmt.Sprintf("strength %d", i+1), "%s", sheet.Both(p, unit.System.Pressure))
	}
	mean(s, all, doc)
	return all, nil
}

// mean of the strengths and their standard deviation.
func mean(s *sheet.Sheet, all []unit.Pressure, doc *breaksDoc) {
	for _, p := range all {
		doc.Strengths = append(doc.Strengths, float64(p/unit.Megapascal))
	}
	if len(all) == 1 {
		doc.Mean = &doc.Strengths[0]
		return
	}
	mean, sd := stat.MeanStdDev(doc.Strengths, nil)
	doc.Mean, doc.SD = &mean, &sd
	s.Figuref("mean", "%s", sheet.Both(unit.Pressure(mean)*unit.Megapascal, unit.System.Pressure))
	s.Figuref("standard deviation", "%s of %s", sheet.Both(unit.Pressure(sd)*unit.Megapascal, unit.System.Pressure),
		strconv.Itoa(len(all)))
}

// made are the tests of a file, with the averages of each three that follow one another.
func (q calcBreaks) made(env *terminal.Streams, s *sheet.Sheet, doc *breaksDoc) ([]unit.Pressure, error) {
	rows, found, err := sheet.ReadColumns(env, "tests", q.tests, []string{"mpa", "psi"})
	if err != nil {
		return nil, err
	}
	one := unit.Megapascal
	if strings.EqualFold(found[0], "psi") {
		one = unit.PSI
	}
	all := make([]unit.Pressure, len(rows))
	for i, r := range rows {
		all[i] = unit.Pressure(r[0]) * one
		if !(all[i] > 0 && all[i] <= 1000*unit.Megapascal) {
			return nil,
				terminal.Usagef("--tests: test %d is %s %s: a strength is above 0 and at most 1000 MPa (145000 psi)",
					i+1, sheet.Decimal(r[0], 6), found[0])
		}
	}
	s.Noted("tests", q.tests+": "+terminal.Plural(len(rows), "test", "tests"))
	mean(s, all, doc)
	for i, p := range curing.RunningAverages(all) {
		doc.OfThree = append(doc.OfThree, float64(p/unit.Megapascal))
		s.Figuref(fmt.Sprintf("tests %d to %d", i+1, i+3), "%s", sheet.Both(p, unit.System.Pressure))
	}
	s.By("mean of each three tests that follow one another", "ACI 318 and 301 judge by it (from memory)")
	if len(all) < 3 {
		s.Warnf("%s: an average of three needs three", terminal.Plural(len(all), "test", "tests"))
	}
	return all, nil
}

// required is the average that a specified strength asks for.
func (q calcBreaks) required(s *sheet.Sheet, tests []unit.Pressure, doc *breaksDoc) error {
	specified, err := sheet.Asked(s, "specified", q.specified, unit.ParsePressure, "Pa", unit.System.Pressure)
	if err != nil {
		return err
	}
	number, sd := len(tests), unit.Pressure(0)
	if q.tests == "" { // the specimens of one test are no run of tests
		number = q.number
		if number < 0 {
			return terminal.Usagef("--number: %d tests cannot be; give 0 or more", number)
		}
		if q.spread != "" {
			if sd, err = sheet.Asked(s, "sd", q.spread, unit.ParsePressure, "Pa", unit.System.Pressure); err != nil {
				return err
			}
			if number == 0 {
				return terminal.Usagef("--sd needs --number, of how many tests it is; from 15 on it counts")
			}
		}
		if number >= 15 && q.spread == "" {
			return terminal.Usagef("--number %d needs --sd, the standard deviation of those tests", number)
		}
		s.Understood("tests", "", float64(number), "", strconv.Itoa(number))
	} else if doc.SD != nil {
		sd = unit.Pressure(*doc.SD) * unit.Megapascal
	}
	required, err := curing.RequiredAverage(specified, sd, number)
	if err != nil {
		return sheet.FlagErr("specified", err)
	}
	mpa := float64(required / unit.Megapascal)
	doc.Required = &mpa
	s.Figuref("average required", "%s", sheet.Both(required, unit.System.Pressure))
	if number < 15 {
		s.By("f'c + 1000, + 1200 from 3000, or 1.10 f'c + 700 above 5000 psi",
			"ACI 301 and 214R, fewer than 15 tests (from memory)")
	} else {
		s.By(
			"the larger of f'c + 1.34 s and f'c + 2.33 s − 500 (0.90 f'c + 2.33 s above 5000 psi); s × 1.16 to 1 for 15 to 30 tests", "ACI 301 and 214R (from memory)")
	}
	step := func(p float64) float64 { return math.Round(p*1e3) / 1e3 }
	is := "at least " + sheet.Both(required, unit.System.Pressure)
	if q.tests != "" {
		s.AtLeast("mean of the tests", is, step(*doc.Mean) < step(mpa), "ACI 301 and 214R (from memory)")
		low := "at least " + sheet.Both(specified, unit.System.Pressure)
		for i, p := range doc.OfThree {
			s.AtLeast(fmt.Sprintf("tests %d to %d", i+1, i+3), low, step(p) < step(float64(specified/unit.Megapascal)),
				"ACI 318 and 301: each average of three (from memory)")
		}
	}
	return nil
}
