package reporttest

import (
	"math"
	"reflect"
	"strings"
	"time"
	"unicode"

	"golang.org/x/text/width"
	"pgregory.net/rapid"
)

// Unsafe is written from Unicode's categories, apart from the code that it judges.
func Unsafe(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co, unicode.Cs) || r != ' ' &&
		unicode.Is(unicode.Zs, r)
}

func Hostile() *rapid.Generator[string] {
	pieces := rapid.SampledFrom([]string{
		"\x1b[2J", "\x1b]8;;http://x\x07", "\u009b31m", "\x9d", "\r", "\n", "\r\n", "\t", "\b", "\x00", "\x7f",
		"\u202e", "\u2066", "\u200b", "\u200d", "\ufeff", "\u2028", "\u0085", "\u00a0",
		"\u0301\u0301\u0301\u0301\u0301\u0301", "佐藤", "شيد", "☀\ufe0f", "👷", "\xff\xfe", "\U000e0041", "=1+1", "<b>",
		"12.5 kg", "1 1/2 in", "6 ft 8 in", "A3", "word", " ", strings.Repeat("x", 90), strings.Repeat("佐", 50), "COLD",
	})
	return rapid.OneOf(rapid.Just(""), rapid.String(), rapid.Map(rapid.SliceOfN(pieces, 1, 12),
		func(p []string) string { return strings.Join(p, "") }))
}

// columns is how many a line takes, by the width that Unicode gives its characters.
func columns(s string) int {
	n := 0
	for _, r := range s {
		switch k := width.LookupRune(r).Kind(); {
		case unicode.In(r, unicode.Mn, unicode.Me):
		case k == width.EastAsianWide, k == width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
}

// fill draws every field of a view: hostile words, figures that no site has, times of all ages.
func fill(t *rapid.T, v reflect.Value, depth int) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			if rapid.IntRange(0, 9).Draw(t, "no time") > 0 {
				v.Set(reflect.ValueOf(Now.Add(time.Duration(rapid.Int64().Draw(t, "time") >> rapid.IntRange(0,
					40).Draw(t, "how far")))))
			}
			return
		}
		for i := range v.NumField() {
			fill(t, v.Field(i), depth)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(t, v.Index(i), depth)
		}
	case reflect.Int:
		v.SetInt(rapid.Int64Range(-3, 1e9).Draw(t, "count"))
	case reflect.Pointer:
		if rapid.Bool().Draw(t, "set") {
			v.Set(reflect.New(v.Type().Elem()))
			fill(t, v.Elem(), depth)
		}
	case reflect.Slice:
		n := rapid.IntRange(0, 4-depth).Draw(t, "length")
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fill(t, v.Index(i), depth+1)
		}
	case reflect.String:
		v.SetString(rapid.OneOf(rapid.SampledFrom([]string{
			"live", "closing", "cold", "edge", "inside", "below", "done",
			"waiting", "under way", "set aside", "us", "metric", "2026-07-18",
		}), Hostile()).Draw(t, "text"))
	case reflect.Float64:
		v.SetFloat(rapid.OneOf(rapid.Float64(), rapid.Float64Range(0, 100),
			rapid.SampledFrom([]float64{
				0, -1, 1e-9, 0.0437, 999.96, 1e14, 1e300, math.NaN(), math.Inf(1),
				math.Inf(-1),
			})).Draw(t, "figure"))
	case reflect.Int32:
		v.SetInt(int64(rapid.Int32().Draw(t, "count")))
	case reflect.Bool:
		v.SetBool(rapid.Bool().Draw(t, "whether"))
	default:
		t.Fatalf("a view has a field of a kind that this test does not fill: %v", v.Type())
	}
}

func DrawView[V any](t *rapid.T, name string) V {
	var v V
	rapid.Custom(func(t *rapid.T) bool {
		fill(t, reflect.ValueOf(&v).Elem(), 0)
		return true
	}).Draw(t, name)
	return v
}
