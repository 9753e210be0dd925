package paper

import (
	"fmt"

	qr "github.com/piglig/go-qr"
)

// code draws a text as a QR code (ISO/IEC 18004), with the four modules around it that stay light, and the text
// beneath.
func (s *sheet) code(text string) error {
	c, err := qr.EncodeText(text, qr.Low)
	if err != nil {
		return fmt.Errorf("make a code of %d letters: %w", len(text), err)
	}
	const quiet, wide = 4, 90.0
	n := c.Size()
	module := wide / float64(n+2*quiet)
	s.room(wide + 3*s.line())
	s.pdf.SetFillColor(0, 0, 0)
	left, top := side+(s.width-wide)/2, s.y
	for y := range n {
		for x := 0; x < n; x++ {
			from := x
			for x < n && c.Module(x, y) {
				x++
			}
			if x > from { // a run is one, so that no hair of white is left between its modules
				s.pdf.Rect(left+float64(quiet+from)*module, top+float64(quiet+y)*module, float64(x-from)*module, module,
					"F")
			}
		}
	}
	s.y += wide
	s.onPage = true
	s.paragraph([]run{{words: text}}, 0, s.size)
	return nil
}
