package plan

import (
	"errors"
	"flag"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"hod/internal/event"
	"hod/internal/mixplan"
	"hod/internal/unit"
)

var update = flag.Bool("update", false, "write the golden list of mistakes again")

func file(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("..", "..", "testdata", "plan", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func read(t *testing.T, name string) Plan {
	t.Helper()
	p, err := Read(name, file(t, name), nil)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// The examples are what a newcomer copies: all of their mixes must be mortars that one could mix, and weigh what they
// say.
func TestExamples(t *testing.T) {
	for _, c := range []struct {
		file                        string
		crews, zones, coats, edges  int
		leastYieldLitres, mostYield float64
	}{
		{"vault.yaml", 3, 12, 36, 17, 50, 75},
		{"vault_us.yaml", 2, 6, 12, 6, 70, 85},
	} {
		p := read(t, c.file)
		if len(p.Crews) != c.crews || len(p.Zones) != c.zones || len(p.Coats) != c.coats || len(p.Edges) != c.edges {
			t.Errorf("%s: %d crews, %d zones, %d coats, %d edges; want %d, %d, %d, %d", c.file,
				len(p.Crews), len(p.Zones), len(p.Coats), len(p.Edges), c.crews, c.zones, c.coats, c.edges)
		}
		if n := len(p.Events()); n != 1+c.crews+len(p.Mixes)+c.zones+c.coats+c.edges {
			t.Errorf("%s: %d events", c.file, n)
		}
		for _, m := range p.Mixes {
			_, f, err := mixplan.Figures(m)
			if err != nil {
				t.Errorf("%s: mix %s: %v", c.file, m.Mix, err)
				continue
			}
			if litres := float64(f.Yield) * 1000; litres < c.leastYieldLitres || litres > c.mostYield {
				t.Errorf("%s: mix %s yields %.1f L a batch", c.file, m.Mix, litres)
			}
			if f.WaterCementitious < 0.30 || f.WaterCementitious > m.WaterLimit {
				t.Errorf("%s: mix %s has w/cm %.3f, limit %.2f", c.file, m.Mix, f.WaterCementitious, m.WaterLimit)
			}
			if off := math.Abs(float64(f.UnitWeight-m.UnitWeight.SI)) / float64(f.UnitWeight); off > float64(
				m.UnitWeightTolerance.SI)/2 {
				t.Errorf("%s: mix %s says it weighs %v and reckons to %.0f kg/m³", c.file, m.Mix, m.UnitWeight.Entered,
					f.UnitWeight)
			}
			if odd := append(f.Remarks, f.Unusual()...); len(odd) > 0 {
				t.Errorf("%s: mix %s: %v", c.file, m.Mix, odd)
			}
			if len(m.Steps) < 5 {
				t.Errorf("%s: mix %s has %d steps of charging", c.file, m.Mix, len(m.Steps))
			}
			put := map[event.Material]float64{}
			for _, s := range m.Steps {
				switch {
				case s.Constituent == "":
				case s.Share == nil:
					put[s.Constituent]++
				default:
					put[s.Constituent] += float64(s.Share.SI)
				}
			}
			for _, k := range m.Constituents {
				if math.Abs(put[k.Name]-1) > 1e-9 {
					t.Errorf("%s: mix %s: the steps put in %.3f of the %s", c.file, m.Mix, put[k.Name], k.Name)
				}
			}
		}
	}
}

// The twelve zones make the vault: their areas are checked against a quadrature of the parabola, and each edge of the
// grid against the side that it is.
func TestTheVaultIsWhole(t *testing.T) {
	p := read(t, "vault.yaml")
	const span, rise, long = 18.0, 6.0, 24.0
	arc := 0.0
	const n = 100_000
	for i := range n { // midpoint rule on y = rise (1 - (2x/span)²)
		x := -span/2 + span*(float64(i)+0.5)/n
		arc += math.Hypot(1, 8*rise*x/(span*span)) * span / n
	}
	sum := 0.0
	for _, z := range p.Zones {
		sum += float64(z.Area.SI)
	}
	if math.Abs(sum-arc*long) > 1e-6 {
		t.Errorf("the zones' areas make %.6f m², want %.6f", sum, arc*long)
	}
	neighbours := map[event.Zone]int{}
	for _, e := range p.Edges {
		neighbours[e.A]++
		neighbours[e.B]++
		want := arc / 3
		if e.A[0] != e.B[0] {
			want = long / 4
		}
		if math.Abs(float64(e.Length.SI)-want) > 0.005 {
			t.Errorf("edge %s to %s is %.3f m long, want %.3f", e.A, e.B, e.Length.SI, want)
		}
	}
	for _, z := range p.Zones {
		want := 2 // at a corner
		if z.Zone[0] == 'B' {
			want++
		}
		if z.Zone[1] == '2' || z.Zone[1] == '3' {
			want++
		}
		if neighbours[z.Zone] != want {
			t.Errorf("zone %s adjoins %d zones, want %d", z.Zone, neighbours[z.Zone], want)
		}
	}
}

func TestWhatIsRead(t *testing.T) {
	p := read(t, "vault_us.yaml")
	if p.Site.Units != event.US || p.Site.EvaporationUS != 0.1 || p.Site.EvaporationMetric != 0.5 {
		t.Errorf("site: units %v, evaporation %v lb/ft²/h and %v kg/m²/h", p.Site.Units, p.Site.EvaporationUS,
			p.Site.EvaporationMetric)
	}
	if got := p.Site.WorkFrom.String() + " " + p.Site.WorkTo.String() + " " +
		p.Site.WarnBefore.String(); got != "6h30m0s 16h30m0s 20m0s" {
		t.Errorf("hours of work and warning: %s", got)
	}
	m := p.Mixes[0]
	if w := m.Constituents[4]; !w.Amount.ByVolume || w.Amount.Entered != "5.25gal" ||
		math.Abs(float64(w.Amount.Volume-5.25*unit.Gallon)) > 1e-12 {
		t.Errorf("water is read as %+v", w.Amount)
	}
	if m.InitialSet.Minutes() != 285 || m.SetReference.Entered != "73F" || m.Activation != 40 {
		t.Errorf("initial set %v at %v, %v kJ/mol", m.InitialSet, m.SetReference, m.Activation)
	}
	if c := p.Coats[11]; c.Coat.String() != "D6 inner 1" || c.Thickness.Entered != "3/8in" {
		t.Errorf("the last coat is %v, %v", c.Coat, c.Thickness)
	}
	if z := p.Zones[0]; z.Shape != "1/6 of a cap, radius 16 ft, rise 8 ft" || z.Area.Entered != "" {
		t.Errorf("zone D1: shape %q, area as entered %q", z.Shape, z.Area.Entered)
	}
}

// The rest is what absolute volumes leave, ACI 211.1: MIX-03 and MIX-04 of the published values, 1317.4 lb.
func TestTheRestIsByAbsoluteVolumes(t *testing.T) {
	m, err := Mix("m.yaml", []byte(`
name: m
yield: 27ft3
air: 1%
constituents:
  - {name: water, kind: water, amount: 300lb}
  - {name: sand, kind: sand, amount: rest, gravity: 2.64}
  - {name: coarse, kind: sand, amount: 1917lb, gravity: 2.68}
  - {name: cement, kind: cement, amount: 484lb, gravity: 3.15}
`))
	if err != nil {
		t.Fatal(err)
	}
	if lb := float64(m.Constituents[1].Amount.Mass / unit.Pound); math.Abs(lb-1317.4) > 0.1 {
		t.Errorf("sand takes %.2f lb, want 1317.4", lb)
	}
}

// All that can be wrong, at once: read the golden list as the foreman would, before changing it with -update.
func TestMistakes(t *testing.T) {
	_, err := Read("mistakes.yaml", file(t, "mistakes.yaml"), nil)
	if err == nil {
		t.Fatal("no mistake was found")
	}
	golden := filepath.Join("..", "..", "testdata", "plan", "mistakes.golden")
	if *update {
		if err := os.WriteFile(golden, []byte(err.Error()+"\n"), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if diff := cmp.Diff(string(file(t, "mistakes.golden")), err.Error()+"\n"); diff != "" {
		t.Errorf("mistakes (-want +got):\n%s", diff)
	}
}

const small = `site: {name: s}
mixes:
  - {name: m, constituents: [{name: cement, kind: cement, amount: 40kg, gravity: 3.15}, {name: water, kind: water, amount: 16kg}]}
zones:
  - {name: A1, area: 5m2, coats: [{thickness: 12mm, mix: m}]}
`

// resting is small with a sand.
func resting(amount, more string) string {
	s := strings.Replace(small, "{name: water,", "{name: sand, kind: sand, gravity: 2.65, amount: "+amount+
		"}, {name: water,", 1)
	return strings.Replace(s, "name: m,", "name: m, "+more+",", 1)
}

func TestForms(t *testing.T) {
	for _, c := range []struct{ name, text, want string }{
		{"as it is", small, ""},
		{"with a byte-order mark", "\ufeff" + small, ""},
		{"with CR and LF", strings.ReplaceAll(small, "\n", "\r\n"), ""},
		{"with a name that other readers take for a number", strings.ReplaceAll(small, "A1", "1e3"), ""},
		{"with a name that other readers take for a truth", strings.ReplaceAll(small, "A1", "no"), ""},
		{"empty", "", "p.yaml: the file is empty"},
		{"a remark only", "# nothing\n", "p.yaml: the file is empty"},
		{"a list", "- a\n", "here is a list"},
		{"a word", "vault\n", `here is "vault"`},
		{"a tab", "site:\n\tname: s\n", "never with tabs"},
		{"a quote that is not closed", "site: {name: \"s\n", "the file cannot be read on from here"},
		{"an unknown alias", "site: *s\n", "marked with &"},
		{"two documents", small + "---\nsite: {name: t}\n", "p.yaml:6: a second document"},
		{"something unreadable after it", small + "---\n[", "the file cannot be read on from here"},
		{"bytes that are no text", "site: {name: \xff\xfe}\n", "plain text"},
		{"a zero byte", "site: {name: \x00}\n", "plain text"},
		{"too much", small + "#" + strings.Repeat("x", MostBytes), "1 MiB"},
		{"a merge key", strings.Replace(small, "name: s", "<<: {name: s}", 1), "merge key"},
		{"a key that is a list", strings.Replace(small, "{name: s}", "{[a]: b, name: s}", 1), "where a key should be"},
		{
			"nothing where a value should be", strings.Replace(small, "area: 5m2", "area: ~", 1),
			"p.yaml:5: zone A1: area is empty",
		},
		{"a list where a value should be", strings.Replace(small, "5m2", "[5m2]", 1), "zone A1: area: here is a list"},
		{
			"no zones", strings.Replace(small, "- {name: A1, area: 5m2, coats: [{thickness: 12mm, mix: m}]}", "[]", 1),
			"zones is empty",
		},
		{"no mixes and no zones", "site: {name: s}\n", "mixes is missing"},
		{"evaporation as one figure", strings.Replace(small, "name: s", "name: s, evaporation: 0.5 kg/m2/h", 1), ""},
		{
			"evaporation as one US figure", strings.Replace(small, "name: s", "name: s, evaporation: 0.1 lb/ft2/h", 1),
			"",
		},
		{
			"evaporation that cannot be", strings.Replace(small, "name: s", "name: s, evaporation: 50 kg/m2/h", 1),
			"the evaporation limit of 50",
		},
		{"the whole day", strings.Replace(small, "name: s", "name: s, work: '00:00-24:00'", 1), ""},
		{"a zone in itself", strings.Replace(small, "zones:\n  - {", "zones: &z\n  - *z\n  - {", 1), "here is a list"},
		{
			"a shape in itself", strings.Replace(small, "area: 5m2", "shape: &s {form: *s}", 1),
			"form: here are keys with values",
		},
		{
			"like itself", strings.Replace(small, "coats: [{thickness: 12mm, mix: m}]", "like: A1", 1),
			"in a loop: A1 → A1",
		},
		{
			"a shape that cannot be",
			strings.Replace(small, "area: 5m2", "shape: {form: frustum, radius: 2m, top_radius: 2m, rise: 0m}", 1),
			"such a frustum cannot be",
		},
		{
			"half an egg", strings.Replace(small, "area: 5m2", "shape: {form: half_spheroid, radius: 2m, rise: 1m}", 1),
			"",
		},
		{
			"a ring", strings.Replace(small, "area: 5m2", "shape: {form: torus, radius: 2m, tube: 0.3m, part: 1/4}", 1),
			"",
		},
		{
			"a ring without a hole", strings.Replace(small, "area: 5m2", "shape: {form: torus, radius: 2m, tube: 3m}",
				1),
			"such a torus cannot be",
		},
		{"a ring with a rise", strings.Replace(small, "area: 5m2",
			"shape: {form: torus, radius: 2m, tube: 0.3m, rise: 1m}", 1), "a torus has no rise"},
		{"sand that takes the rest", resting("rest", "yield: 50L"), ""},
		{
			"the rest of no yield", resting("rest", "air: 2%"),
			"p.yaml:3: mix m, constituent sand: amount rest is what the others leave",
		},
		{
			"the rest of too small a yield", resting("rest", "yield: 20L"),
			"p.yaml:3: mix m, constituent sand: amount rest: nothing of 20 L",
		},
		{
			"the rest twice", strings.Replace(resting("rest", "yield: 50L"), "amount: 16kg", "amount: rest", 1),
			"amount rest",
		},
		{
			"a wait of half a second", strings.Replace(small, "name: m,", "name: m, steps: [{wait: 1.5s}],", 1),
			"whole seconds",
		},
		{"deep nesting", strings.Repeat("[", 200_000), "cannot be read"},
		{
			"deep nesting that closes", "site: " + strings.Repeat("[", 5000) + strings.Repeat("]", 5000),
			"site: here is a list",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			p, err := Read("p.yaml", []byte(c.text), nil)
			switch {
			case c.want == "" && err != nil:
				t.Errorf("a plan that stands is refused:\n%v", err)
			case c.want == "" && len(p.Events()) != 4:
				t.Errorf("%d events, want 4", len(p.Events()))
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
				t.Errorf("got %v\nwant a mistake with %q", err, c.want)
			}
		})
	}
}

// A small file whose aliases stand for thousands of millions of values is refused, not read through.
func TestAliasBomb(t *testing.T) {
	var b strings.Builder
	b.WriteString(
		"site: {name: s}\nmixes: [{name: m, constituents: [{name: c, kind: cement, amount: 1kg, gravity: 3}, {name: w, kind: water, amount: 0.4kg}]}]\nzones:\n")
	b.WriteString("  - {name: A, area: 1m2, coats: &c [&k {thickness: 12mm, mix: m}" + strings.Repeat(", *k",
		MostCoats-1) + "]}\n")
	for i := range MostZones - 1 {
		b.WriteString("  - {name: Z" + strings.Repeat("a", i%10) + string(rune('A'+i%26)) + ", area: 1m2, coats: *c}\n")
	}
	_, err := Read("bomb.yaml", []byte(b.String()), nil)
	if err == nil || !strings.Contains(err.Error(), "with all its aliases") {
		t.Errorf("got %.300v", err)
	}
	deep := "a: &a [x,x,x,x,x,x,x,x,x]\n"
	for c := 'b'; c < 'k'; c++ {
		prev := string(c - 1)
		deep += string(c) + ": &" + string(c) + " [" + strings.TrimSuffix(strings.Repeat("*"+prev+",", 9), ",") + "]\n"
	}
	if _, err := Read("bomb.yaml", []byte(deep), nil); err == nil ||
		!strings.Contains(err.Error(), `the key "j" is not known`) {
		t.Errorf("nested aliases: got %v", err)
	}
}

// A mistake in a part that many zones share is one mistake.
func TestSharedMistake(t *testing.T) {
	text := strings.Replace(string(file(t, "vault.yaml")), "span: 18m", "span: 18kg", 1)
	_, err := Read("vault.yaml", []byte(text), nil)
	m, ok := err.(Mistakes)
	if !ok || len(m) != 1 || m[0].Path != "zone A1, shape" || m[0].Line == 0 || m[0].Column == 0 {
		t.Errorf("got %d mistakes: %v", len(m), err)
	}
}

func TestMostMistakes(t *testing.T) {
	text := small + strings.Repeat("  - {}\n", 1500)
	_, err := Read("p.yaml", []byte(text), nil)
	m, _ := err.(Mistakes)
	if len(m) != MostMistakes+1 || !strings.Contains(m[MostMistakes].Msg, "more than 500") {
		t.Errorf("%d mistakes are told", len(m))
	}
}

func TestMix(t *testing.T) {
	one := `name: m
air: 5%
constituents:
  - {name: cement, kind: cement, amount: 40kg, gravity: 3.15}
  - {name: water, kind: water, amount: 16kg}
`
	m, err := Mix("m.yaml", []byte(one))
	if err != nil || m.Mix != "m" || m.Revision != 1 || len(m.Constituents) != 2 {
		t.Fatalf("%+v, %v", m, err)
	}
	if again, err := Mix("p.yaml", []byte(small)); err != nil || again.Mix != "m" {
		t.Errorf("the one mix of a plan: %+v, %v", again, err)
	}
	for text, want := range map[string]string{
		string(file(t, "vault.yaml")):          "2 mixes stand here",
		"":                                     "the file is empty",
		"mixes: []\n":                          "there are no mixes",
		"name: m\n":                            "m.yaml:1: mix m: constituents is missing",
		strings.Replace(one, "16kg", "16m", 1): "m.yaml:5: mix m, constituent water: amount",
		strings.Replace(one, "name: m", "nme: m", 1): `the key "nme" is not known; did you mean name?`,
	} {
		if _, err := Mix("m.yaml", []byte(text)); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: got %v, want %q", text, err, want)
		}
	}
}

// Any bytes end in a plan whose events can be written, or in mistakes that say where.
func FuzzRead(f *testing.F) {
	for _, name := range []string{"vault.yaml", "vault_us.yaml", "mistakes.yaml"} {
		f.Add(file(f, name))
	}
	f.Add([]byte(small))
	f.Add([]byte("site: &a [*a]\nzones: *a\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := Read("p.yaml", data, nil)
		if err != nil {
			m, ok := err.(Mistakes)
			if !ok || len(m) == 0 || len(m) > MostMistakes+1 {
				t.Fatalf("%d mistakes: %v", len(m), err)
			}
			for _, one := range m {
				if one.Msg == "" || strings.ContainsFunc(one.String(), func(r rune) bool {
					return r < ' ' ||
						r == 0x7f
				}) {
					t.Fatalf("a mistake that cannot be shown: %q", one.String())
				}
			}
			return
		}
		for _, b := range p.Events() {
			if _, err := written(b); err != nil {
				t.Fatalf("%s: %v", What(b), err)
			}
		}
		if again := Compare(nil, p.Events()); again.Same != 0 || len(again.Write) != len(p.Events()) {
			t.Fatalf("%d of %d events would be written", len(again.Write), len(p.Events()))
		}
	})
}

func FuzzMix(f *testing.F) {
	f.Add(
		[]byte(
			"name: m\nconstituents:\n  - {name: c, kind: cement, amount: 40kg, gravity: 3.15}\n  - {name: w, kind: water, amount: 4gal}\n"))
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := Mix("m.yaml", data)
		if err != nil {
			return
		}
		if _, _, err := mixplan.Figures(m); err != nil {
			t.Fatalf("a mix without figures: %v", err)
		}
	})
}

func TestATimeZoneThatNobodyKnowsIsAMistakeAtItsLine(t *testing.T) {
	text := strings.Replace(string(file(t, "vault.yaml")), "time_zone: ", "time_zone: Europe/Nowhere # ", 1)
	_, err := Read("p.yaml", []byte(text+"\nsaed: 1\n"), func(zone string) bool { return zone != "Europe/Nowhere" })
	var all Mistakes
	if !errors.As(err, &all) || len(all) != 2 {
		t.Fatalf("%v; want two mistakes, the time zone's and the unknown key's", err)
	}
	if all[0].Line == 0 || !strings.Contains(all[0].Msg, `there is no time zone "Europe/Nowhere"`) {
		t.Errorf("the first is %q; want the time zone with its line", all[0])
	}
}
