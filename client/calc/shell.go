package calc

import (
	"bytes"
	"context"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	geometry "hod/internal/trade/shell"
	"hod/internal/unit"
)

// calcShell is the area of a shape, and what a layer on it takes.
type calcShell struct {
	shape                                         string
	span, rise, length, width, radius, top, layer string
	tube, area                                    string
	file, group, in                               string
	density, batch, waste                         string
}

type shellDoc struct {
	Shape     string    `json:"shape"`
	Group     string    `json:"group,omitempty"`
	Area      float64   `json:"area_m2"`
	Arc       *float64  `json:"arc_m,omitempty"`
	Volume    *float64  `json:"volume_m3,omitempty"`   // of a layer of that thickness, half on each side of the surface
	Enclosed  *float64  `json:"enclosed_m3,omitempty"` // between the surface and its base
	Zones     []zoneDoc `json:"zones,omitempty"`
	Seams     []seamDoc `json:"seams,omitempty"`
	Open      *float64  `json:"open_edges_m,omitempty"`
	Radius    *float64  `json:"radius_m,omitempty"`        // of the arc or the sphere
	Parameter *float64  `json:"parameter_m,omitempty"`     // of the catenary
	Load      *float64  `json:"dead_load_kg_m2,omitempty"` // of the layer alone
	Mass      *float64  `json:"mass_kg,omitempty"`         // of the layer, without loss
	Coverage  *float64  `json:"batch_covers_m2,omitempty"`
	Batches   *int      `json:"batches,omitempty"` // whole ones, waste counted
	sheet.Sheet
}

type zoneDoc struct {
	Name      string  `json:"name"`
	Area      float64 `json:"area_m2"`
	Triangles int     `json:"triangles"`
}

type seamDoc struct {
	Between [2]string `json:"between"`
	Length  float64   `json:"length_m"`
}

// shellForms are the shapes with closed forms and the flags that each takes.
var shellForms = []struct {
	name  string
	flags []string
	of    func(m map[string]unit.Length) geometry.Shape
}{
	{"vault", []string{"span", "rise", "length"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Vault{Span: m["span"], Rise: m["rise"], Length: m["length"]}
	}},
	{"barrel", []string{"span", "rise", "length"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Barrel{Span: m["span"], Rise: m["rise"], Length: m["length"]}
	}},
	{"catenary", []string{"span", "rise", "length"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Catenary{Span: m["span"], Rise: m["rise"], Length: m["length"]}
	}},
	{"paraboloid", []string{"radius", "rise"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Paraboloid{Radius: m["radius"], Rise: m["rise"]}
	}},
	{"cap", []string{"radius", "rise"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Cap{Radius: m["radius"], Rise: m["rise"]}
	}},
	{"hypar", []string{"length", "width", "rise"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Hypar{Length: m["length"], Width: m["width"], Rise: m["rise"]}
	}},
	{"frustum", []string{"radius", "top-radius", "rise"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Frustum{Radius: m["radius"], TopRadius: m["top-radius"], Rise: m["rise"]}
	}},
	{"half-spheroid", []string{"radius", "rise"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.HalfSpheroid{Radius: m["radius"], Rise: m["rise"]}
	}},
	{"torus", []string{"radius", "tube"}, func(m map[string]unit.Length) geometry.Shape {
		return geometry.Torus{Radius: m["radius"], Tube: m["tube"]}
	}},
}

func shapeNames() []string {
	var names []string
	for _, f := range shellForms {
		names = append(names, f.name)
	}
	return append(names, "flat", "mesh")
}

func newCalcShell(env *terminal.Streams) *cobra.Command {
	var q calcShell
	c := env.NewCommand("shell SHAPE", "Area of a shell, and the mortar that a layer on it takes",
		`hod calc shell vault --span 9m --rise 3m --length 12m --thickness 30mm`,
		`hod calc shell cap --radius 16ft --rise 8ft --thickness 7/8in`,
		`hod calc shell mesh --file vault.obj --unit mm --group A3 --thickness 30mm`,
		`hod calc shell flat --area 1000ft2 --thickness 1.5in --batch 3ft3 --waste 8% --density 132lb/ft3`)
	c.Long = "The shapes: vault (parabola), barrel (circle) and catenary, with --span --rise --length; paraboloid and cap, with\n" +
		"--radius --rise; hypar (one corner of a rectangle lifted), with --length --width --rise; frustum, with --radius\n" +
		"--top-radius --rise; half-spheroid (half an egg on its rim), with --radius --rise; torus (a ring), with --radius\n" +
		"--tube; flat, with --area; mesh, with --file. With --thickness: --density gives the dead load, --batch (and --waste)\n" +
		"what one batch covers and how many are needed."
	c.Args = terminal.ExactArgs(1, "a shape, one of "+strings.Join(shapeNames(), ", "))
	f := c.Flags()
	f.StringVar(&q.span, "span", "", "from springing to springing")
	f.StringVar(&q.rise, "rise", "", "height over the base")
	f.StringVar(&q.length, "length", "", "along the vault")
	f.StringVar(&q.width, "width", "", "of the hypar's rectangle")
	f.StringVar(&q.radius, "radius", "", "of the rim")
	f.StringVar(&q.top, "top-radius", "", "of the frustum's upper rim")
	f.StringVar(&q.tube, "tube", "", "radius of the torus's tube")
	f.StringVar(&q.area, "area", "", "of a flat piece, or of any that was measured")
	f.StringVar(&q.layer, "thickness", "", "of a layer, half on each side of the surface: gives volume_m3")
	f.StringVar(&q.density, "density", "", "unit weight of the mortar: gives the layer's dead load and mass")
	f.StringVar(&q.batch, "batch", "", "what one batch yields: gives what it covers and how many are needed")
	f.StringVar(&q.waste, "waste", "", "what is lost in placing, as a share to add to the layer, for --batch: 8%")
	f.StringVar(&q.file, "file", "", "mesh file: .obj, .stl or .ply")
	f.StringVar(&q.group, "group", "", "one group of the mesh; all of it if not said")
	f.StringVar(&q.in, "unit", "1m", "what one unit of the mesh's numbers is: mm, 1in, 1ft")
	c.RunE = func(c *cobra.Command, args []string) error {
		q.shape = strings.ToLower(args[0])
		return q.run(c.Context(), env, sheet.New(c))
	}
	return c
}

func (q calcShell) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if !slices.Contains(shapeNames(), q.shape) {
		return terminal.Usagef("%q is not a shape%s", terminal.Safe(q.shape), terminal.Suggest(q.shape, shapeNames()))
	}
	s.Noted("shape", q.shape)
	doc := shellDoc{Shape: q.shape}
	var measures geometry.Measures
	var err error
	switch q.shape {
	case "mesh":
		measures, err = q.mesh(env, s, &doc)
	case "flat":
		measures, err = q.flat(s)
	default:
		measures, err = q.closed(s, &doc)
	}
	if err != nil {
		return err
	}
	doc.Area = float64(measures.Area)
	s.Figuref("area", "%s", sheet.Both(measures.Area, unit.System.Area))
	if measures.Arc > 0 {
		v := float64(measures.Arc)
		doc.Arc = &v
		s.Figuref("arc", "%s", sheet.Both(measures.Arc, unit.System.Length))
	}
	if measures.Enclosed > 0 && q.shape != "mesh" {
		v := float64(measures.Enclosed)
		doc.Enclosed = &v
		s.Figuref("volume beneath", "%s", sheet.Both(measures.Enclosed, unit.System.Volume))
	}
	thickness, err := sheet.AskedIfGiven(s, "thickness", q.layer, unit.ParseLength, "m", unit.System.Thickness)
	if err != nil {
		return err
	}
	if thickness != nil {
		layer, err := measures.Layer(*thickness, geometry.About)
		if err != nil {
			return sheet.FlagErr("thickness", err)
		}
		v := float64(layer)
		doc.Volume = &v
		s.Figuref("layer", "%s, half on each side of the surface, without loss", sheet.Both(layer, unit.System.Volume))
		s.By(geometry.FormulaLayer, "exact for a smooth surface; derived and checked by quadrature")
		if err := q.placed(s, *thickness, layer, &doc); err != nil {
			return err
		}
	} else if q.density != "" || q.batch != "" || q.waste != "" {
		return terminal.Usagef("--density, --batch and --waste are of a layer, which needs --thickness")
	}
	doc.Sheet = *s
	return s.Print(env, "shell", doc)
}

// measures are the flags that shapes are measured by.
func (q calcShell) measures() []sheet.FlagText {
	return []sheet.FlagText{
		{Flag: "span", Text: q.span},
		{Flag: "length", Text: q.length},
		{Flag: "width", Text: q.width},
		{Flag: "radius", Text: q.radius},
		{Flag: "top-radius", Text: q.top},
		{Flag: "tube", Text: q.tube},
		{Flag: "rise", Text: q.rise},
		{Flag: "area", Text: q.area},
	}
}

// flat is an area that is known.
func (q calcShell) flat(s *sheet.Sheet) (geometry.Measures, error) {
	if q.file != "" || q.group != "" {
		return geometry.Measures{}, terminal.Usagef("--file and --group go with mesh, not with flat")
	}
	for _, f := range q.measures() {
		if f.Text != "" && f.Flag != "area" {
			return geometry.Measures{}, terminal.Usagef("a flat piece has no --%s; it has --area", f.Flag)
		}
	}
	area, err := sheet.Asked(s, "area", q.area, unit.ParseArea, "m2", unit.System.Area)
	if err == nil && !(area > 0 && area <= unit.Area(geometry.Longest*geometry.Longest)) {
		err = terminal.Usagef("--area: %q is no area of a shell; give one above 0", terminal.Safe(q.area))
	}
	return geometry.Measures{Area: area}, err
}

// placed is what the layer weighs and how many batches it takes.
func (q calcShell) placed(s *sheet.Sheet, thickness unit.Length, layer unit.Volume, doc *shellDoc) error {
	density, err := sheet.AskedIfGiven(s, "density", q.density, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	if density != nil {
		load, err := geometry.DeadLoad(thickness, *density)
		if err != nil {
			return sheet.FlagErr("density", err)
		}
		l, m := float64(load), float64(density.Mass(layer))
		doc.Load, doc.Mass = &l, &m
		s.Figuref("dead load", "%s of the layer alone", sheet.Both(load, unit.System.AreaMass))
		s.Figuref("layer weighs", "%s", sheet.Both(unit.Mass(m), unit.System.Mass))
		s.By("dead load = thickness × unit weight", "arithmetic; square to the surface")
	}
	if q.batch == "" {
		if q.waste != "" {
			return terminal.Usagef("--waste is counted in batches, which needs --batch")
		}
		return nil
	}
	batch, err := sheet.Asked(s, "batch", q.batch, unit.ParseVolume, "m3", unit.System.Volume)
	if err != nil {
		return err
	}
	waste, err := sheet.AskedIfGiven(s, "waste", q.waste, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return err
	}
	lost := unit.Share(0)
	if waste != nil {
		lost = *waste
	} else {
		s.Warnf("no --waste was said: none is counted; 5 to 15 %% is usual by hand (common practice, no source)")
	}
	covers, err := geometry.Coverage(batch, thickness)
	if err != nil {
		return sheet.FlagErr("batch", err)
	}
	n, err := geometry.Batches(layer, lost, batch)
	if err != nil {
		return sheet.FlagErr("batch", err)
	}
	a := float64(covers)
	doc.Coverage, doc.Batches = &a, &n
	s.Figuref("one batch covers", "%s, without loss", sheet.Both(covers, unit.System.Area))
	s.Figuref("batches", "%d whole ones, waste counted; hod calc batches has them as a distribution", n)
	s.By("batches = layer × (1 + waste) / batch, rounded up", "arithmetic")
	return nil
}

// closed measures a shape that has a closed form. A flag that the shape has not is a mistake about which shape is
// meant.
func (q calcShell) closed(s *sheet.Sheet, doc *shellDoc) (geometry.Measures, error) {
	i := slices.Index(shapeNames(), q.shape)
	form := shellForms[i]
	if q.file != "" || q.group != "" {
		return geometry.Measures{}, terminal.Usagef("--file and --group go with mesh, not with %s", q.shape)
	}
	m := map[string]unit.Length{}
	var missing []string
	for _, f := range q.measures() {
		has := slices.Contains(form.flags, f.Flag)
		switch {
		case has && f.Text == "":
			missing = append(missing, "--"+f.Flag)
		case !has && f.Text != "":
			return geometry.Measures{}, terminal.Usagef("a %s has no --%s; it has --%s", q.shape, f.Flag,
				strings.Join(form.flags, ", --"))
		case has:
			v, err := sheet.Asked(s, f.Flag, f.Text, unit.ParseLength, "m", unit.System.Length)
			if err != nil {
				return geometry.Measures{}, err
			}
			m[f.Flag] = v
		}
	}
	if len(missing) > 0 {
		return geometry.Measures{}, terminal.Usagef("a %s needs %s", q.shape, strings.Join(missing, " and "))
	}
	shape := form.of(m)
	measures, err := shape.Measure()
	s.By(shape.Formula(), "closed form; derived and checked by quadrature")
	if err != nil {
		return measures, terminal.AsUsage(err)
	}
	return measures, curved(s, shape, doc)
}

// curved says by what the shape is set out, where that is not among its measures: a radius of the arc or the sphere,
// the parameter of the catenary. A flat one has none.
func curved(s *sheet.Sheet, shape geometry.Shape, doc *shellDoc) error {
	var of unit.Length
	var err error
	name, at := "radius of the arc", &doc.Radius
	switch one := shape.(type) {
	case geometry.Barrel:
		if one.Rise == 0 {
			return nil
		}
		of, err = one.Radius()
	case geometry.Cap:
		if one.Rise == 0 {
			return nil
		}
		name = "radius of the sphere"
		of, err = one.SphereRadius()
	case geometry.Catenary:
		if one.Rise == 0 {
			return nil
		}
		name, at = "parameter", &doc.Parameter
		of, err = one.Parameter()
	default:
		return nil
	}
	if err != nil {
		s.Warnf("it has no %s to set it out by: %v", name, err)
		return nil
	}
	v := float64(of)
	*at = &v
	s.Figuref(name, "%s", sheet.Both(of, unit.System.Length))
	return nil
}

// mesh measures a mesh file, or one group of it.
func (q calcShell) mesh(env *terminal.Streams, s *sheet.Sheet, doc *shellDoc) (geometry.Measures, error) {
	if q.file == "" {
		return geometry.Measures{}, s.Missing("file")
	}
	for _, f := range q.measures() {
		if f.Text != "" {
			return geometry.Measures{}, terminal.Usagef("a mesh has no --%s; its measures are in its file", f.Flag)
		}
	}
	format, err := geometry.FormatOf(q.file)
	if err != nil {
		return geometry.Measures{}, sheet.FlagErr("file", err)
	}
	one := q.in
	if one != "" && (one[0] < '0' || one[0] > '9') {
		one = "1" + one
	}
	scale, err := unit.ParseLength(one)
	if err != nil {
		return geometry.Measures{}, sheet.FlagErr("unit", err)
	}
	raw, err := env.ReadFile(q.file)
	if err != nil {
		return geometry.Measures{}, sheet.FlagErr("file", err)
	}
	mesh, err := geometry.Read(bytes.NewReader(raw), format, geometry.Usual)
	if err != nil {
		return geometry.Measures{}, sheet.FlagErr("file", err)
	}
	if mesh, err = mesh.Scaled(scale); err != nil {
		return geometry.Measures{}, sheet.FlagErr("unit", err)
	}
	survey, err := mesh.Survey(mesh.Reach())
	if err != nil {
		return geometry.Measures{}, sheet.FlagErr("file", err)
	}
	s.Noted("file", fmt.Sprintf("%s: %s, %s", q.file, terminal.Plural(survey.Triangles, "triangle", "triangles"),
		terminal.Plural(len(survey.Zones), "group", "groups")))
	s.Understood("unit", q.in, float64(scale), "m", "one unit of the file is "+sheet.Both(scale, unit.System.Length))
	s.By(geometry.FormulaMesh, "derived; checked against closed forms")
	for _, w := range survey.Warnings() {
		s.Warnf("%s", w)
	}
	return q.surveyed(s, survey, doc)
}

func (q calcShell) surveyed(s *sheet.Sheet, survey geometry.Survey, doc *shellDoc) (geometry.Measures, error) {
	var names []string
	for _, z := range survey.Zones {
		names = append(names, z.Name)
	}
	chosen := -1
	if q.group != "" {
		name, err := terminal.PickName("group of the mesh", q.group, names)
		if err != nil {
			return geometry.Measures{}, terminal.NotFoundf("--group: the mesh has no group %q%s",
				terminal.Safe(q.group), terminal.Suggest(q.group, names))
		}
		chosen = slices.Index(names, name)
		doc.Group = name
		s.Noted("group", name)
	}
	for i, z := range survey.Zones {
		doc.Zones = append(doc.Zones, zoneDoc{z.Name, float64(z.Area), z.Triangles})
		if chosen < 0 && len(survey.Zones) > 1 || chosen == i {
			s.Figuref("zone "+terminal.Safe(z.Name), "%s", sheet.Both(z.Area, unit.System.Area))
		}
	}
	for _, e := range survey.Seams {
		doc.Seams = append(doc.Seams, seamDoc{[2]string{names[e.A], names[e.B]}, float64(e.Length)})
		if chosen < 0 || chosen == e.A || chosen == e.B {
			s.Figuref("edge", "%s to %s: %s", terminal.Safe(names[e.A]), terminal.Safe(names[e.B]),
				sheet.Both(e.Length, unit.System.Length))
		}
	}
	open := float64(survey.Open)
	if chosen >= 0 {
		open = float64(survey.Zones[chosen].Open)
	}
	doc.Open = &open
	s.Figuref("open edges", "%s", sheet.Both(unit.Length(open), unit.System.Length))
	if chosen >= 0 {
		return survey.Zones[chosen].Measures, nil
	}
	return survey.Whole, nil
}
