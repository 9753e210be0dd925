package unit

import (
	"strings"
	"testing"
)

const gib = 1 << 30

func TestSizesAreReadAsTheyAreWritten(t *testing.T) {
	for text, want := range map[string]int64{
		"20GiB": 20 * gib, "1.5 TiB": 3 << 39, "500 MiB": 500 << 20, "500m": 500 << 20, "8gb": 8 * gib, "64KiB": 64 << 10,
	} {
		got, err := ParseBytes(text)
		if err != nil || got != want {
			t.Errorf("%q is %d, %v; want %d", text, got, err, want)
		}
		if again, err := ParseBytes(FormatBytes(got)); err != nil || again != want {
			t.Errorf("%q is written as %q and read as %d, %v", text, FormatBytes(got), again, err)
		}
	}
	for _, text := range []string{"", "20", "GiB", "-1GiB", "0GiB", "NaNGiB", "1e99GiB", "20 pounds", "2000000TiB"} {
		if n, err := ParseBytes(text); err == nil || !strings.Contains(err.Error(), "20GiB") {
			t.Errorf("%q is %d, %v", text, n, err)
		}
	}
	for n, want := range map[int64]string{
		512: "512 bytes", 1 << 10: "1 KiB", 8*gib - 1: "8 GiB", 1234 << 20: "1.21 GiB", 7670117717: "7.14 GiB", 100 << 20: "100 MiB", 123456789: "118 MiB", 20 * gib: "20 GiB", 1001 << 20: "1001 MiB",
	} {
		if got := FormatBytes(n); got != want {
			t.Errorf("%d is %q, want %q", n, got, want)
		}
	}
}
