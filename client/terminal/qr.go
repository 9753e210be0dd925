package terminal

import (
	"fmt"
	"strings"

	qr "github.com/piglig/go-qr"
)

// Grounds on which a code is printed.
const (
	OnDark  = "dark"  // light letters on a dark ground: what is light in the code is printed
	OnLight = "light" // dark letters on a light ground: what is dark in the code is printed
	NoCode  = "off"
)

// quiet is how many modules around a code stay light: four, by ISO/IEC 18004.
const quiet = 4

// QR is a text as a QR code (ISO/IEC 18004) of half blocks, two rows of it a line, for a terminal of that ground.
func QR(text, ground string) (string, error) {
	code, err := qr.EncodeText(text, qr.Low)
	if err != nil {
		return "", fmt.Errorf("make a code of %d letters: %w", len(text), err)
	}
	size := code.Size()
	printed := func(x, y int) bool {
		dark := x >= 0 && y >= 0 && x < size && y < size && code.Module(x, y)
		return dark == (ground == OnLight)
	}
	var b strings.Builder
	for y := -quiet; y < size+quiet; y += 2 {
		for x := -quiet; x < size+quiet; x++ {
			switch up, down := printed(x, y), y+1 < size+quiet && printed(x, y+1); {
			case up && down:
				b.WriteRune('█')
			case up:
				b.WriteRune('▀')
			case down:
				b.WriteRune('▄')
			default:
				b.WriteByte(' ')
			}
		}
		b.WriteByte('\n')
	}
	return b.String(), nil
}
