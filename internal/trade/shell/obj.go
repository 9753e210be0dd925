package shell

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
)

// obj reads the v, f, g and o lines of a Wavefront OBJ file; all else is passed over. The group is what the last g or o
// line named.
func (b *builder) obj(data []byte) error {
	var corners []int32
	number := 0
	for len(data) > 0 {
		var line []byte
		line, data = objLine(data, &number)
		word, rest := cutWord(line)
		var err error
		switch string(word) {
		case "v":
			var p Point
			if p, _, err = point(rest); err == nil {
				err = b.vertex(p)
			}
		case "f":
			corners = corners[:0]
			for word, rest = cutWord(rest); len(word) > 0 && err == nil; word, rest = cutWord(rest) {
				var c int32
				if c, err = b.objCorner(word); err == nil {
					corners = append(corners, c)
				}
				if len(corners) > b.limits.Triangles+2 {
					break // polygon says so
				}
			}
			if err == nil {
				err = b.polygon(corners)
			}
		case "g", "o":
			b.name(groupName(rest))
		}
		if err != nil {
			return fmt.Errorf("OBJ line %d: %w", number, err)
		}
	}
	return nil
}

// objLine takes one line off data, joined with those that a backslash continues it on, without its comment. number
// comes to be that of the line's last part.
func objLine(data []byte, number *int) (line, rest []byte) {
	for {
		part, after, _ := bytes.Cut(data, []byte{'\n'})
		*number++
		data = after
		part = bytes.TrimRight(part, "\r")
		if more, ok := bytes.CutSuffix(part, []byte{'\\'}); ok && len(data) > 0 {
			line = append(append(line, more...), ' ')
			continue
		}
		if line != nil {
			part = append(line, part...)
		}
		part, _, _ = bytes.Cut(part, []byte{'#'})
		return part, data
	}
}

// objCorner reads 7, 7/1, 7//3, 7/1/3 and their negatives, which count back from the last vertex so far.
func (b *builder) objCorner(word []byte) (int32, error) {
	place, _, _ := bytes.Cut(word, []byte{'/'})
	n, err := strconv.ParseInt(string(place), 10, 32)
	if err != nil {
		return 0, fmt.Errorf("%s is no vertex number; give a whole number", quoted(word))
	}
	have := int64(len(b.mesh.Vertices))
	switch {
	case n > 0 && n <= have:
		return int32(n - 1), nil
	case n < 0 && -n <= have:
		return int32(have + n), nil
	}
	return 0, fmt.Errorf("a face names vertex %d where %d have been given; count from 1, or back from −1", n, have)
}

func cutWord(line []byte) (word, rest []byte) {
	line = bytes.TrimLeft(line, " \t\r\n\v\f")
	if i := bytes.IndexAny(line, " \t\r\n\v\f"); i >= 0 {
		return line[:i], line[i:]
	}
	return line, nil
}

// point takes three numbers.
func point(line []byte) (p Point, rest []byte, err error) {
	for i := range p {
		var word []byte
		if word, line = cutWord(line); len(word) == 0 {
			return p, nil, errors.New("a vertex needs three numbers")
		}
		if p[i], err = strconv.ParseFloat(string(word), 64); err != nil {
			return p, nil, fmt.Errorf("%s is no coordinate; give a number", quoted(word))
		}
	}
	return p, line, nil
}

// quoted shows a file's text in a message: short, and with nothing that could move a terminal.
func quoted(word []byte) string {
	if len(word) > 24 {
		return strconv.QuoteToASCII(string(word[:24])) + "…"
	}
	return strconv.QuoteToASCII(string(word))
}
