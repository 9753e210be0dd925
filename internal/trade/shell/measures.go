package shell

import (
	"errors"
	"fmt"

	"hod/internal/unit"
)

// Shape is a surface with a closed form.
type Shape interface {
	// Measure computes what the surface measures. It refuses dimensions that make no such surface.
	Measure() (Measures, error)
	// Formula is the closed form of the area, in words.
	Formula() string
}

// Measures are what a surface measures. Outer is the side to which a dome bulges; of a saddle, the upper side.
type Measures struct {
	Area unit.Area
	// along the curve that makes the shape (vault: edge to edge; dome: rim to rim over the top); 0 where none is meant
	Arc      unit.Length
	Enclosed unit.Volume // between the surface and its base plane; 0 where none is meant

	// Mean and Gauss are the integrals over the surface of the mean curvature (m, positive where it bulges outward) and
	// of the Gaussian curvature (a plain number), which decide the volume of a layer.
	Mean, Gauss float64
	// Sharpest is the greatest curvature anywhere, 1/m: a layer thicker than its inverse would fold into itself. 0 for
	// a flat surface, and not known for a mesh.
	Sharpest float64
}

// Side says on which side of the measured surface the layer lies.
type Side int

const (
	About   Side = iota // half on each side: the measured surface is the layer's middle
	Inside              // all on the inner side: the measured surface is the outer face
	Outside             // all on the outer side: the measured surface is the armature or the coat beneath
)

// Layer is the volume of a layer of even thickness, measured square to the surface: A t + t² ∫H dA + t³/3 ∫K dA on the
// outside (Steiner), exact on a smooth surface for a layer thinner than the sharpest radius of curvature; thicker is an
// error. About the middle it is A t + t³/12 ∫K dA.
func (m Measures) Layer(thickness unit.Length, side Side) (unit.Volume, error) {
	t := float64(thickness)
	if !(t >= 0 && t <= 100) {
		return 0, fmt.Errorf("a thickness of %s cannot be used; give one of 0 to 100 m (328 ft)",
			both(thickness, unit.System.Thickness))
	}
	reach := t
	if side == About {
		reach = t / 2
	}
	if reach*m.Sharpest > 1+1e-12 {
		return 0,
			fmt.Errorf(
				"a layer %s thick folds into itself where the radius of curvature is %s; make it thinner, or measure another of its faces",
				both(thickness, unit.System.Length), both(unit.Length(1/m.Sharpest), unit.System.Length))
	}
	var v float64
	switch side {
	case About:
		v = t * (float64(m.Area) + t*t/12*m.Gauss)
	case Outside:
		v = t * (float64(m.Area) + t*(m.Mean+t/3*m.Gauss))
	case Inside:
		v = t * (float64(m.Area) - t*(m.Mean-t/3*m.Gauss))
	default:
		return 0, fmt.Errorf("no side %d of a surface; use about the middle, inside or outside", int(side))
	}
	if v < 0 {
		return 0,
			errors.New("the layer is thicker than the surface is curved: its volume has no meaning; make it thinner")
	}
	return unit.Volume(v), nil
}

// FormulaLayer names what Layer computes.
const FormulaLayer = "V = A t + t² ∫H dA + t³/3 ∫K dA (Steiner); about the middle A t + t³/12 ∫K dA"

// Longest is the greatest dimension that any shape or mesh may have.
const Longest unit.Length = 100e3

// dimension refuses what is no length of a shell. Rises may be nought, or too small to matter.
func dimension(name string, l unit.Length, may0 bool) error {
	switch {
	case may0 && l == 0:
		return nil
	case l > 0 && l < 1e-9 && may0:
		return nil
	case !(l >= 1e-9 && l <= Longest):
		least := "above 0"
		if may0 {
			least = "0 or more"
		}
		return fmt.Errorf("a %s of %s makes no surface; give one %s and at most %s", name, both(l, unit.System.Length),
			least, both(Longest, unit.System.Length))
	}
	return nil
}
