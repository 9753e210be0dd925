package shell

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
)

const (
	stlHead  = 84 // 80 bytes of anything, then the count
	stlFacet = 50
)

// stl reads either kind. A file whose length fits its count is binary, whatever it begins with (many binary files begin
// with "solid"); else one that begins with "solid" is text; else it is a binary file that is torn or has bytes to
// spare.
func (b *builder) stl(data []byte) error {
	var count int64
	if len(data) >= stlHead {
		count = int64(binary.LittleEndian.Uint32(data[80:]))
	}
	fits := len(data) >= stlHead && int64(len(data)) == stlHead+stlFacet*count
	word, _ := cutWord(data)
	switch {
	case fits:
	case bytes.EqualFold(word, []byte("solid")):
		return b.stlText(data)
	case len(data) < stlHead:
		return errors.New("STL: neither text, which begins with \"solid\", nor binary, which has at least 84 bytes")
	case int64(len(data)) < stlHead+stlFacet*count:
		return fmt.Errorf("STL: the file says %d triangles and ends after %d; fetch it again", count,
			(len(data)-stlHead)/stlFacet)
	default:
		return fmt.Errorf("STL: %d bytes follow the %d triangles that the file says it has; export it again",
			int64(len(data))-stlHead-stlFacet*count, count)
	}
	for i := range count {
		facet := data[stlHead+stlFacet*i:]
		for k := range 3 {
			var p Point
			for x := range p {
				// after the normal
				p[x] = float64(math.Float32frombits(binary.LittleEndian.Uint32(facet[12+12*k+4*x:])))
			}
			if err := b.vertex(p); err != nil {
				return fmt.Errorf("STL triangle %d: %w", i+1, err)
			}
		}
		if err := b.lastThree(); err != nil {
			return fmt.Errorf("STL triangle %d: %w", i+1, err)
		}
	}
	return nil
}

func (b *builder) lastThree() error {
	n := int32(len(b.mesh.Vertices))
	return b.polygon([]int32{n - 3, n - 2, n - 1})
}

// stlText reads words and takes line breaks only for line numbers: writers differ in how they break lines.
func (b *builder) stlText(data []byte) error {
	first, rest, _ := bytes.Cut(data, []byte{'\n'})
	_, title := cutWord(first)
	b.name(groupName(title))
	corners, line := -1, 2 // −1: outside a facet
	for len(rest) > 0 {
		var text []byte
		text, rest, _ = bytes.Cut(rest, []byte{'\n'})
		for word, after := cutWord(text); len(word) > 0; word, after = cutWord(after) {
			var err error
			switch string(bytes.ToLower(word)) {
			case "facet":
				if corners != -1 {
					err = errors.New("a facet begins inside another")
				}
				corners, after = 0, nil // the normal follows from the corners
			case "vertex":
				var p Point
				if corners < 0 || corners > 2 {
					err = errors.New("a vertex stands outside a facet, or is its fourth; a facet has three")
				} else if p, after, err = point(after); err == nil {
					err = b.vertex(p)
					corners++
				}
			case "endfacet":
				if corners != 3 {
					err = fmt.Errorf("a facet ends with %d vertices; give three", max(corners, 0))
				} else {
					err = b.lastThree()
				}
				corners = -1
			case "outer", "loop", "endloop":
			case "solid", "endsolid":
				after = nil // a name follows
			default:
				err = fmt.Errorf("%s is no word of a text STL file", quoted(word))
			}
			if err != nil {
				return fmt.Errorf("STL line %d: %w", line, err)
			}
		}
		line++
	}
	if corners != -1 {
		return errors.New("STL: the file ends inside a facet; fetch it again")
	}
	return nil
}
