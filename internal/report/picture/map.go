package picture

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// Sizes of a map's cells, on which its letters are 18 and up where a unit is a pixel.
const (
	cellWide  = 88.0
	cellHigh  = 124.0
	mapMargin = 4.0
)

// MapMost is how many zones a map shows each by its name; of more it shows an overview by bays.
const MapMost = 60

// Bays: so many columns and rows of zones are one.
const (
	BayColumns = 4
	BayRows    = 6
)

// MapWidth is how many units of its width a part's picture needs for its letters to be 18 and up.
func MapWidth(p drawing.MapPart) float64 { return float64(p.Columns)*cellWide + 2*mapMargin }

// Map draws one part of the shell, each zone by its name.
func Map(f Frame, v drawing.Map, p drawing.MapPart) string {
	d := begin(f, MapWidth(p), float64(p.Rows)*cellHigh+2*mapMargin, mapTitle(v), mapSays(v, p))
	d.patterns(p)
	cells := map[string]drawing.MapZone{}
	for _, z := range p.Zones {
		cells[z.Zone] = z
		d.cell(z)
	}
	for _, state := range edgeWords { // those of one state are one line with gaps
		var b strings.Builder
		for _, e := range p.Edges {
			if from, to, _, touch := sides(cells[e.A], cells[e.B]); touch && e.State == state && state != view.NotMet {
				fmt.Fprintf(&b, "M%s %sL%s %s", num(from[0]), num(from[1]), num(to[0]), num(to[1]))
			}
		}
		if b.Len() > 0 {
			d.edgePath(state, b.String())
		}
	}
	for _, e := range p.Edges { // a label lies on all lines
		// of all coats the lines tell what was met
		if _, _, at, touch := sides(cells[e.A], cells[e.B]); touch && (v.Shown != nil || Mark(e.State) == "") {
			d.edgeLabel(e, at, v.AsOf)
		}
	}
	return d.end()
}

func mapTitle(v drawing.Map) string {
	if v.Shown == nil {
		return "The shell laid flat, all coats"
	}
	return "The shell laid flat, " + CoatName(*v.Shown)
}

// CoatName is a coat whatever its zone.
func CoatName(c drawing.MapCoat) string {
	if c.Face == "" {
		return fmt.Sprintf("coat %d", c.Coat)
	}
	return fmt.Sprintf("%s %d", c.Face, c.Coat)
}

// ZoneWord is a zone's state in a word: of what lies there fresh where something does.
func ZoneWord(z drawing.MapZone) string {
	switch {
	case z.State == "not planned":
		return "no coat"
	case z.Surface == "drying", z.Surface == "bare", z.Surface == "covered" && z.State != "done":
		return z.Surface
	case z.State == "waiting":
		return "waits"
	case z.State == "under way":
		return "begun"
	case z.State == "done":
		return "done"
	}
	return "no coat"
}

// zoneWords in the order in which a map tells them.
var zoneWords = []string{"drying", "bare", "covered", "begun", "waits", "done", "no coat"}

// edgeWords in the order of how much they press.
var edgeWords = []string{
	view.MayBeCold, "cold", "closing", "live", view.EndedEdge, view.MadeCold, view.MadeLate, view.MadeLive,
	view.NotMet,
}

// mapSays tells a map in words: which zones are in which state, and the edges that press.
func mapSays(v drawing.Map, p drawing.MapPart) string {
	var parts []string
	for _, word := range zoneWords {
		var names []string
		for _, z := range p.Zones {
			if ZoneWord(z) == word {
				names = append(names, z.Zone)
			}
		}
		if n := len(names); n > 12 {
			names = append(names[:12:12], fmt.Sprintf("and %d more", n-12))
		}
		if len(names) > 0 {
			parts = append(parts, fmt.Sprintf("%s: %s", word, strings.Join(names, ", ")))
		}
	}
	for _, word := range edgeWords[:3] {
		var names []string
		for _, e := range p.Edges {
			if e.State == word {
				names = append(names, e.A+" to "+e.B)
			}
		}
		if len(names) > 0 {
			parts = append(parts, fmt.Sprintf("edges %s: %s", word, strings.Join(names, ", ")))
		}
	}
	return strings.Join(parts, ". ") + "."
}

// patterns of the states that occur.
func (d *canvas) patterns(p drawing.MapPart) {
	used := map[string]bool{}
	for _, z := range p.Zones {
		used[ZoneWord(z)] = true
	}
	d.put(`<defs>`)
	for _, word := range zoneWords {
		if used[word] {
			d.pattern(word)
		}
	}
	d.put(`</defs>`)
}

// pattern of a state: hatched, cross-hatched, ruled, dotted or plain, so that it is told without its tone.
func (d *canvas) pattern(word string) {
	id := d.fill(word)
	open := func(size int, turned string) {
		d.put(
			`<pattern id="%s" width="%d" height="%d" patternUnits="userSpaceOnUse"%s><rect width="%d" height="%d" class="pa"/>`, id, size, size, turned, size, size)
	}
	const turn = ` patternTransform="rotate(45)"`
	switch word {
	case "drying":
		open(8, turn)
		d.put(`<rect width="3" height="8" class="bare"/><rect width="8" height="3" class="bare"/>`)
	case "bare":
		open(10, turn)
		d.put(`<rect width="4" height="10" class="bare"/>`)
	case "covered":
		open(8, "")
		d.put(`<rect width="8" height="3" class="band"/>`)
	case "begun":
		open(10, turn)
		d.put(`<rect width="10" height="3" class="band"/>`)
	case "done":
		open(6, "")
		d.put(`<rect width="6" height="6" class="dim"/>`)
	default:
		return
	}
	d.put(`</pattern>`)
}

func (d *canvas) fill(word string) string { return d.frame.ID + strings.ReplaceAll(word, " ", "") }

func (d *canvas) filled(word string) string {
	if word == "waits" || word == "no coat" {
		return ""
	}
	return `fill="url(#` + d.fill(word) + `)"`
}

func corner(z drawing.MapZone) (x, y float64) {
	return mapMargin + float64(z.Column-1)*cellWide, mapMargin + float64(z.Row-1)*cellHigh
}

func (d *canvas) cell(z drawing.MapZone) {
	x, y := corner(z)
	word := ZoneWord(z)
	shown := []string{fit(z.Zone, 21, cellWide-9)}
	for _, line := range []string{word, zoneFigure(d.frame.System, z)} {
		if line != "" {
			shown = append(shown, fit(line, 18, cellWide-8))
		}
	}
	// What leads on is called by what is seen of it first: who speaks to a browser says that (WCAG 2.2, 2.5.3).
	linked := d.link("zone", z.Zone,
		strings.Join(shown, " ")+": zone"+strings.TrimPrefix(zoneSays(d.frame.System, z), word))
	switch word {
	case "waits":
		d.rect(x, y, cellWide, cellHigh, "c w", "")
	case "no coat":
		d.rect(x, y, cellWide, cellHigh, "c no", "")
	default:
		d.rect(x, y, cellWide, cellHigh, "c", d.filled(word))
	}
	d.put(`<text x="%s" y="%s" class="n">%s`, num(x+6), num(y+35), words(shown[0]))
	for i, line := range shown[1:] {
		d.put(` <tspan x="%s" y="%s">%s</tspan>`, num(x+6), num(y+57+float64(i)*21), words(line))
	}
	d.put(`</text>`)
	d.unlink(linked)
}

// zoneFigure is the thickness against the design, or of all coats how many are done.
func zoneFigure(sys unit.System, z drawing.MapZone) string {
	switch {
	case z.DesignM > 0 && z.MeanM > 0 && number(z.MeanM) && number(z.DesignM):
		is, of := sys.Thickness(unit.Length(z.MeanM)), sys.Thickness(unit.Length(z.DesignM))
		a, unitA, _ := strings.Cut(is, " ")
		b, unitB, _ := strings.Cut(of, " ")
		if strings.Contains(a+b, "/") { // one fraction over another is read by nobody
			return short(100*z.MeanM/z.DesignM, 0) + " %"
		}
		if unitA == unitB {
			return a + "/" + b
		}
		return is
	case z.DesignM == 0 && z.Planned > 1:
		return fmt.Sprintf("%d of %d", z.Done, z.Planned)
	}
	return ""
}

// zoneSays is a cell in words.
func zoneSays(sys unit.System, z drawing.MapZone) string {
	says := ZoneWord(z)
	if z.Surface != "" && says != z.State {
		says += ", " + z.State
	}
	if z.DesignM > 0 && z.MeanM > 0 && number(z.MeanM) {
		says += fmt.Sprintf(", %s of %s", sys.Thickness(unit.Length(z.MeanM)), sys.Thickness(unit.Length(z.DesignM)))
	}
	if z.Grave > 0 {
		says += fmt.Sprintf(", %d grave to settle", z.Grave)
	}
	return says
}

// sides are the ends of the line between two zones that touch, and where its label lies.
func sides(a, b drawing.MapZone) (from, to, label [2]float64, touch bool) {
	if !Touch(a, b) {
		return from, to, label, false
	}
	beside := a.Row == b.Row
	if a.Row > b.Row || a.Column > b.Column {
		b = a
	}
	x, y := corner(b)
	if beside {
		return [2]float64{x, y + 3}, [2]float64{x, y + cellHigh - 3}, [2]float64{x, y + 98}, true
	}
	return [2]float64{x + 3, y}, [2]float64{x + cellWide - 3, y}, [2]float64{x + cellWide/2, y}, true
}

// edgePath draws lines in the manner of a state: dashed and thick, thick, dotted, thin, or with a gap along them.
func (d *canvas) edgePath(state, path string) {
	class := map[string]string{
		view.MayBeCold: "eb", "cold": "ec", "closing": "es", "live": "el", view.MadeLate: "eg",
		view.MadeCold: "eg",
	}[state]
	if class == "" {
		class = "em"
	}
	d.put(`<path d="%s" class="%s"/>`, path, class)
	if class == "eg" { // so that it is none that is open
		d.put(`<path d="%s" class="eh"/>`, path)
	}
}

func (d *canvas) edgeLabel(e drawing.MapEdge, at [2]float64, now time.Time) {
	text := EdgeMinutes(e.TurnsAt, e.TurnsLatest, now)
	switch e.State {
	case view.MadeLate, view.MadeCold:
		text = Mark(e.State)
	case "cold", view.EndedEdge:
		text = e.State
	case view.MadeLive, view.NotMet:
		return
	}
	if text == "" {
		return
	}
	linked := d.link("joint", e.Joint, fmt.Sprintf("edge %s to %s, %s%s", e.A, e.B, e.State, inMinutes(e, now)))
	w := 2 * math.Ceil(wide(text)*8.5+6)
	if linked { // large enough for a thumb in a glove
		d.rect(at[0]-w/2, at[1]-24, w, 48, "hit", "")
	}
	box, ink := "box", "e"
	switch e.State {
	case view.MayBeCold, "cold":
		box, ink = "act", "e on"
	case "closing":
		box, ink = "soon", "e on"
	}
	d.rect(at[0]-w/2, at[1]-12, w, 24, box, `rx="4"`)
	count := ""
	if e.TurnsAt != nil && e.State != "cold" && !strings.HasPrefix(e.State, "made") {
		count = Countdown(e.TurnsAt, e.TurnsLatest)
	}
	d.put(`<text x="%s" y="%s" class="%s"%s>%s</text>`, num(at[0]), num(at[1]+6), ink, count, words(text))
	d.unlink(linked)
}

// Mark of an edge that was met too late, as it stands on the map and in its key.
func Mark(state string) string {
	switch state {
	case view.MadeCold:
		return "✕"
	case view.MadeLate:
		return "!"
	}
	return ""
}

// Countdown names the instants between which something turns, for the page's script to count down to.
func Countdown(from, to *time.Time) string {
	if from == nil {
		return ""
	}
	if to == nil {
		to = from
	}
	if from.Unix() == to.Unix() {
		return fmt.Sprintf(` data-turns="%d"`, from.Unix())
	}
	return fmt.Sprintf(` data-turns="%d %d"`, from.Unix(), to.Unix())
}

func inMinutes(e drawing.MapEdge, now time.Time) string {
	if m := EdgeMinutes(e.TurnsAt, e.TurnsLatest, now); m != "" && e.State != "cold" &&
		!strings.HasPrefix(e.State, "made") {
		return ", cold in " + m + " min"
	}
	return ""
}

// EdgeMinutes is the whole minutes until an edge turns cold, from the soonest to the latest; nothing that has passed is
// below 0.
func EdgeMinutes(from, to *time.Time, now time.Time) string {
	if from == nil {
		return ""
	}
	if to == nil {
		to = from
	}
	low, high := max(int(from.Sub(now)/time.Minute), 0), max(int(to.Sub(now)/time.Minute), 0)
	if low == high {
		return fmt.Sprint(low)
	}
	return fmt.Sprintf("%d–%d", low, high)
}

// Touch tells whether two zones lie beside each other on the map.
func Touch(a, b drawing.MapZone) bool {
	down, along := a.Row-b.Row, a.Column-b.Column
	return a.Zone != "" && b.Zone != "" && (down == 0 && (along == 1 || along == -1) || along == 0 &&
		(down == 1 || down == -1))
}

// Key is the pattern of a state, or the line of an edge, as it stands beside its word.
func Key(f Frame, word string) string {
	d := &canvas{frame: f}
	d.put(`<svg class="pic key" viewBox="0 0 36 24" aria-hidden="true" focusable="false">`)
	if slices.Contains(zoneWords, word) {
		d.put(`<defs>`)
		d.pattern(word)
		d.put(`</defs>`)
		switch word {
		case "waits":
			d.rect(1, 1, 34, 22, "c w", "")
		case "no coat":
			d.rect(1, 1, 34, 22, "c no", "")
		default:
			d.rect(1, 1, 34, 22, "c", d.filled(word))
		}
		return d.end()
	}
	d.edgePath(word, "M0 12L36 12")
	return d.end()
}

// Words are the states that occur in a part, of zones and of edges, in the order in which they are told.
func Words(p drawing.MapPart) (zones, edges []string) {
	for _, word := range zoneWords {
		if slices.ContainsFunc(p.Zones, func(z drawing.MapZone) bool { return ZoneWord(z) == word }) {
			zones = append(zones, word)
		}
	}
	for _, word := range edgeWords {
		if word != view.NotMet &&
			slices.ContainsFunc(p.Edges, func(e drawing.MapEdge) bool { return e.State == word }) {
			edges = append(edges, word)
		}
	}
	return zones, edges
}

// Bay is one of the blocks into which a large part is cut.
type Bay struct {
	Number int
	Part   drawing.MapPart // its zones, laid from 1, with the edges among them
	Across []drawing.MapEdge
	row    int32 // of the part, from 0
	column int32
}

// Bays of a part, row by row, without those in which no zone lies.
func Bays(p drawing.MapPart) []Bay {
	const most = 1000 // rows and columns that no map has
	var all []Bay
	for row := int32(0); row < min(p.Rows, most); row += BayRows {
		for column := int32(0); column < min(p.Columns, most); column += BayColumns {
			b := Bay{row: row, column: column}
			here := map[string]bool{}
			for _, z := range p.Zones {
				if z.Row <= row || z.Row > row+BayRows || z.Column <= column || z.Column > column+BayColumns {
					continue
				}
				here[z.Zone] = true
				z.Row, z.Column = z.Row-row, z.Column-column
				b.Part.Rows, b.Part.Columns = max(b.Part.Rows, z.Row), max(b.Part.Columns, z.Column)
				b.Part.Zones = append(b.Part.Zones, z)
			}
			for _, e := range p.Edges {
				switch {
				case here[e.A] && here[e.B]:
					b.Part.Edges = append(b.Part.Edges, e)
				case here[e.A] || here[e.B]:
					b.Across = append(b.Across, e)
				}
			}
			if len(here) > 0 {
				b.Number = len(all) + 1
				all = append(all, b)
			}
		}
	}
	return all
}

// Sizes of an overview's cells.
const miniCell = 22.0

// Overview draws a large part by its bays: each zone as a small cell in its pattern, each bay by its number, the edges
// that press. Name is the address of a bay.
func Overview(f Frame, v drawing.Map, p drawing.MapPart, name func(bay int) string) string {
	w, h := float64(p.Columns)*miniCell+2*mapMargin, float64(p.Rows)*miniCell+2*mapMargin
	bays := Bays(p)
	d := begin(f, w, h, mapTitle(v)+", by bays", fmt.Sprintf("%d zones in %d bays. ", len(p.Zones), len(bays))+
		mapSays(v, p))
	d.patterns(p)
	at := map[string]drawing.MapZone{}
	for _, word := range zoneWords {
		var b strings.Builder
		for _, z := range p.Zones {
			at[z.Zone] = z
			if ZoneWord(z) == word {
				fmt.Fprintf(&b, "M%s %sh20v20h-20z", num(mapMargin+float64(z.Column-1)*miniCell+1),
					num(mapMargin+float64(z.Row-1)*miniCell+1))
			}
		}
		if b.Len() > 0 {
			fill := d.filled(word)
			if fill == "" {
				fill = `fill="none" stroke-dasharray="2 2"`
			}
			d.put(`<path d="%s" class="m" stroke-width="0.7" %s/>`, b.String(), fill)
		}
	}
	for _, e := range p.Edges {
		a, b := at[e.A], at[e.B]
		if !slices.Contains(edgeWords[:3], e.State) || !Touch(a, b) {
			continue
		}
		if a.Row > b.Row || a.Column > b.Column {
			a, b = b, a
		}
		x, y := mapMargin+float64(b.Column-1)*miniCell, mapMargin+float64(b.Row-1)*miniCell
		to := [2]float64{x + miniCell, y}
		if a.Row == b.Row {
			to = [2]float64{x, y + miniCell}
		}
		d.edgePath(e.State, path([][2]float64{{x, y}, to}))
	}
	for _, b := range bays {
		x, y := mapMargin+float64(b.column)*miniCell, mapMargin+float64(b.row)*miniCell
		bw, bh := float64(min(BayColumns, p.Columns-b.column))*miniCell, float64(min(BayRows, p.Rows-b.row))*miniCell
		linked := d.link("bay", name(b.Number), fmt.Sprintf("bay %d, %s", b.Number, BaySays(b)))
		d.rect(x, y, bw, bh, "l", `stroke-width="2" pointer-events="all"`)
		d.text(x+bw/2, y+bh/2+7, 20, "b halo", "middle", fmt.Sprint(b.Number))
		d.unlink(linked)
	}
	return d.end()
}

// BaySays is a bay in words: how many zones are in which state, and the edges that press.
func BaySays(b Bay) string {
	var parts []string
	for _, word := range zoneWords {
		n := 0
		for _, z := range b.Part.Zones {
			if ZoneWord(z) == word {
				n++
			}
		}
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", n, word))
		}
	}
	for _, word := range edgeWords[:3] {
		n := 0
		for _, e := range slices.Concat(b.Part.Edges, b.Across) {
			if e.State == word {
				n++
			}
		}
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%d edges %s", n, word))
		}
	}
	return strings.Join(parts, ", ")
}
