package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

var byteUnits = []struct {
	name string
	size int64
}{{"TiB", 1 << 40}, {"GiB", 1 << 30}, {"MiB", 1 << 20}, {"KiB", 1 << 10}}

// FormatBytes is a size as people write it, to three digits.
func FormatBytes(n int64) string {
	for _, u := range byteUnits {
		if n >= u.size {
			x := float64(n) / float64(u.size)
			text := strconv.FormatFloat(x, 'f', max(2-int(math.Log10(x)), 0), 64)
			if strings.Contains(text, ".") {
				text = strings.TrimRight(strings.TrimRight(text, "0"), ".")
			}
			return text + " " + u.name
		}
	}
	return strconv.FormatInt(n, 10) + " bytes"
}

// ParseBytes reads a size: 20GiB, 1.5 TiB, 500MiB; GB and G mean the same here.
func ParseBytes(text string) (int64, error) {
	word := strings.ToUpper(strings.ReplaceAll(text, " ", ""))
	for _, u := range byteUnits {
		for _, end := range []string{strings.ToUpper(u.name), u.name[:1] + "B", u.name[:1]} {
			number, ok := strings.CutSuffix(word, end)
			if !ok {
				continue
			}
			n, err := strconv.ParseFloat(number, 64)
			if err != nil || !(n > 0) || n*float64(u.size) >= 1<<50 {
				return 0, fmt.Errorf("%q is not a size; one looks like 20GiB", text)
			}
			return int64(n * float64(u.size)), nil
		}
	}
	return 0, fmt.Errorf("%q is not a size; one looks like 20GiB", text)
}
