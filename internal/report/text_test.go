package report

import (
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// A number is not parted from its unit, in figures that this room writes and in sentences that came as words.
func TestWrapKeepsFiguresWhole(t *testing.T) {
	figures := []string{
		"12.5 kg", "(43.7 L)", "1.24 kg/m²/h;", "1 1/2 in", "18 fl oz", "6 ft 8 in,", "1 h 30 min",
		"35–90 min", "<400 psi", "2 d 3 h.", "-3 °C", "375 mL/100 kg", "0.254 lb/ft²/h", "4 min 30 s", "31 batches",
	}
	rapid.Check(t, func(t *rapid.T) {
		var sentence, whole []string
		for range rapid.IntRange(1, 12).Draw(t, "figures") {
			f := rapid.SampledFrom(figures).Draw(t, "figure")
			whole = append(whole, f)
			sentence = append(sentence,
				rapid.SampledFrom([]string{"yield", "the", "of mortar weighed", "met the edge"}).Draw(t, "word"), f)
		}
		width := rapid.IntRange(16, 50).Draw(t, "width")
		lines := Say(strings.Join(sentence, " ")).wrap(width, width-2)
		var back []string
		left := whole
		for _, l := range lines {
			s := l.String()
			back = append(back, s)
			for len(left) > 0 && strings.Contains(s, left[0]) {
				_, s, _ = strings.Cut(s, left[0])
				left = left[1:]
			}
		}
		if len(left) > 0 {
			t.Fatalf("%q was parted at %d columns: %q", left[0], width, back)
		}
		if got, want := strings.Join(back, " "), strings.Join(sentence, " "); got != want {
			t.Fatalf("wrapping changed the words:\n got %q\nwant %q", got, want)
		}
	})
}

func TestCutSaysSo(t *testing.T) {
	for _, c := range []struct {
		in   string
		most int
		want string
	}{
		{"short enough", 1, "short enough"},
		{"batch 7 has w/cm 0.412 and more words", 1, "batch 7 has ..."},
		{"one two three four five six seven eight nine", 2, "one two three four / five six seven ..."},
		{strings.Repeat("x", 50), 1, strings.Repeat("x", 16) + " ..."},
	} {
		const room = 20
		var got []string
		for _, l := range cut(Say(c.in).wrap(room, room), c.most, room) {
			got = append(got, l.String())
		}
		if s := strings.Join(got, " / "); s != c.want {
			t.Errorf("cut(%q, %d) = %q, want %q", c.in, c.most, s, c.want)
		}
	}
}

func TestMinutes(t *testing.T) {
	for _, c := range []struct {
		d    time.Duration
		want string
	}{
		{18*time.Minute + 59*time.Second, "18 min"}, // never more than there is
		{90 * time.Minute, "90 min"},
		{2 * time.Hour, "2 h"},
		{150*time.Minute + 30*time.Second, "2 h 30 min"},
		{0, "0 min"},
		{51 * time.Hour, "2 d 3 h"},
	} {
		if got := Minutes(c.d); got != c.want {
			t.Errorf("minutes(%v) = %q, want %q", c.d, got, c.want)
		}
	}
}

func TestBetween(t *testing.T) {
	for _, c := range []struct{ low, high, want string }{
		{"35 min", "90 min", "35–90 min"},
		{"78.3%", "95%", "78.3–95%"},
		{"95%", "95%", "95%"},
		{"35 min", "3 h 30 min", "35 min–3 h 30 min"},
		{"2 h 5 min", "2 h 50 min", "2 h 5 min–2 h 50 min"},
		{NotKnown, "90 min", "not known–90 min"},
	} {
		if got := Between(c.low, c.high); got != c.want {
			t.Errorf("between(%q, %q) = %q, want %q", c.low, c.high, got, c.want)
		}
	}
	if got := Against("1/2 in", "9/16 in"); got != "1/2 of 9/16 in" {
		t.Errorf("against fractions = %q", got)
	}
}
