package csvtable

import (
	"bytes"
	"encoding/csv"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
)

type span struct {
	P50 int32    `json:"p50"`
	P90 *float64 `json:"p90_kg,omitempty"`
}

type line struct {
	Name   string     `json:"name"`
	MassKg float64    `json:"mass_kg"`
	AirC   *float64   `json:"air_c,omitempty"`
	At     *time.Time `json:"at,omitempty"`
	Along  []string   `json:"along"`
	GaugeM []float64  `json:"gauge_m"`
	Left   *span      `json:"left,omitempty"`
	Grave  bool       `json:"grave"`
	Parts  []span     `json:"parts"` // a list of its own
	hidden int
}

type doc struct {
	Site  string `json:"site"`
	Lines []line `json:"lines"`
	Stock struct {
		Materials []span `json:"materials"`
	} `json:"stock"`
	Order *struct {
		Rows []span `json:"rows"`
	} `json:"order,omitempty"`
}

func written(t *testing.T, d doc, name string) string {
	t.Helper()
	in := time.FixedZone("", -7*3600)
	for _, k := range Of(d) {
		if k.Name == name {
			var b bytes.Buffer
			if err := k.Write(&b, in); err != nil {
				t.Fatal(err)
			}
			return b.String()
		}
	}
	t.Fatalf("there is no table %s", name)
	return ""
}

func TestATableHasItsColumnsWhateverIsSaid(t *testing.T) {
	want := "name,mass_kg,air_c,at,along,gauge_m,left_p50,left_p90_kg,grave\r\n"
	if got := written(t, doc{}, "lines"); got != want {
		t.Errorf("without rows %q, want %q", got, want)
	}
	at := time.Date(2026, 7, 18, 21, 5, 0, 0, time.UTC)
	zero, d := 0.0, doc{}
	d.Lines = []line{
		{
			Name: "A1, outer", MassKg: -2.5, AirC: &zero, At: &at, Along: []string{"B1", "C1"},
			GaugeM: []float64{0.012, 0.0125}, hidden: 1,
		},
		{Name: `so "called"`, MassKg: 0.1 + 0.2, Left: &span{P50: 7}, Grave: true},
	}
	want += `"A1, outer",-2.5,0,2026-07-18T14:05:00-07:00,B1; C1,0.012; 0.0125,,,false` + "\r\n" +
		`"so ""called""",0.3,,,,,7,,true` + "\r\n"
	if got := written(t, d, "lines"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
}

func TestEachListOfAViewIsATable(t *testing.T) {
	var names []string
	for _, k := range Of(doc{}) {
		names = append(names, k.Name)
	}
	if want := []string{"lines", "stock.materials", "order.rows", Summary}; !slices.Equal(names, want) {
		t.Errorf("tables %v, want %v", names, want)
	}
}

func TestNoTextStartsAFormulaAndNumbersStayNumbers(t *testing.T) {
	for text, want := range map[string]string{
		"=1+1": "'=1+1", "+1": "'+1", "-1": "'-1", "@SUM(A1)": "'@SUM(A1)", "\t=1": "' =1", "\r=1": "' =1", " =1": "' =1",
		"'=1": "''=1", "＝1": "'＝1", "A1": "A1", "": "", "3-1": "3-1", "'": "'",
	} {
		if got := Text(text); got != want {
			t.Errorf("%q is written as %q, want %q", text, got, want)
		}
	}
	for x, want := range map[float64]string{-1: "-1", 0: "0", 1e-7: "0.0000001", 1.25e20: "1.25e+20", math.Inf(1): ""} {
		if got := number(x); got != want {
			t.Errorf("%g is written as %q, want %q", x, got, want)
		}
	}
}

func TestWhateverANameHoldsTheRowsStayRows(t *testing.T) {
	names := []string{"a\r\nb", "<b>A1</b>", "אבג 12", strings.Repeat("x", 200), `"`, "a,b", "\x1b[2J", "\ufeffA1"}
	var d doc
	for _, n := range names {
		d.Lines = append(d.Lines, line{Name: n, MassKg: 1})
	}
	text := written(t, d, "lines")
	rows, err := csv.NewReader(strings.NewReader(text)).ReadAll()
	if err != nil || len(rows) != len(names)+1 {
		t.Fatalf("%d rows, %v, of\n%s", len(rows), err, text)
	}
	for i, r := range rows[1:] {
		if len(r) != 9 || r[1] != "1" {
			t.Errorf("%q became %q", names[i], r)
		}
	}
	if strings.ContainsAny(text, "\x1b\ufeff") {
		t.Errorf("what steers a terminal got through: %q", text)
	}
}
