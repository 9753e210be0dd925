package paper

import (
	"math"
	"strconv"
	"strings"

	"golang.org/x/net/html"

	"hod/internal/report/picture"
)

// greys of the tones that a picture's style names, from 0, black, to 255. Patterns and words tell states; these keep
// them apart in black and white.
var greys = map[string]int{
	"ink": 0, "paper": 255, "act": 40, "soon": 90, "bare": 150, "band": 225, "band2": 175, "bareband": 200,
	"dimfill": 215,
}

// rules of the style that pictures bring, by class and by element inside one: "n", "n tspan", " text".
var rules = readStyle(picture.Style)

// readStyle reads what a picture's style says of classes: ".pic .a,.pic .b{name:value;...}".
func readStyle(css string) map[string]map[string]string {
	all := map[string]map[string]string{}
	for rule := range strings.SplitSeq(css, "}") {
		names, body, ok := strings.Cut(rule, "{")
		if !ok {
			continue
		}
		for name := range strings.SplitSeq(names, ",") {
			rest, ok := strings.CutPrefix(strings.TrimSpace(name), ".pic ")
			if !ok || strings.ContainsAny(rest, ":#[>") {
				continue
			}
			class, isClass := strings.CutPrefix(rest, ".")
			if !isClass {
				class = " " + rest
			}
			if all[class] == nil {
				all[class] = map[string]string{}
			}
			for said := range strings.SplitSeq(body, ";") {
				if k, v, ok := strings.Cut(said, ":"); ok {
					all[class][strings.TrimSpace(k)] = strings.TrimSpace(v)
				}
			}
		}
	}
	return all
}

// styled is what is said of an element: by its kind, its classes in the order of the style, then its own attributes.
func styled(n *html.Node) map[string]string {
	all := map[string]string{}
	take := func(name string) {
		for k, v := range rules[name] {
			all[k] = v
		}
	}
	for _, a := range n.Attr { // a style outranks an attribute
		all[a.Key] = a.Val
	}
	take(" " + n.Data)
	for class := range strings.FieldsSeq(attribute(n, "class")) {
		take(class)
	}
	if n.Data == "tspan" && n.Parent != nil {
		for class := range strings.FieldsSeq(attribute(n.Parent, "class")) {
			for k, v := range rules[class] {
				all[k] = v
			}
			take(class + " tspan")
		}
	}
	return all
}

// pen is how a shape is drawn: tones below 0 are none, and widths are the picture's own.
type pen struct {
	fill, stroke int
	pattern      string // the id of the pattern that it is filled with
	wide         float64
	dashes       []float64
}

func penOf(style map[string]string) pen {
	p := pen{fill: 0, stroke: -1, wide: 1}
	if v, said := style["fill"]; said {
		p.fill = tone(v)
		if id, is := strings.CutPrefix(v, "url(#"); is {
			p.pattern = strings.TrimSuffix(id, ")")
		}
	}
	if v, said := style["stroke"]; said {
		p.stroke = tone(v)
	}
	if v, said := style["stroke-width"]; said {
		p.wide = measure(v)
	}
	switch opacity, said := style["fill-opacity"]; {
	case said && measure(opacity) == 0:
		p.fill, p.pattern = -1, ""
	case said && p.fill >= 0:
		p.fill = 255 - int(math.Round(float64(255-p.fill)*measure(opacity)))
	}
	for v := range strings.FieldsSeq(strings.ReplaceAll(style["stroke-dasharray"], ",", " ")) {
		if d := measure(v); d > 0 {
			p.dashes = append(p.dashes, d)
		}
	}
	return p
}

// tone of a value of fill or stroke.
func tone(v string) int {
	name, is := strings.CutPrefix(v, "var(--")
	if !is {
		if v == "none" || strings.HasPrefix(v, "url(") {
			return -1
		}
		return 0
	}
	if grey, known := greys[strings.TrimSuffix(name, ")")]; known {
		return grey
	}
	return 0
}

// measure reads a number with or without px; what is none is 0.
func measure(v string) float64 {
	x, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSpace(v), "px"), 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	return x
}
