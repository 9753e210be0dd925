package shell

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"strconv"
)

// plyProperty is one column of an element; count is the type of a list's length, and zero where it is no list.
type plyProperty struct {
	name        string
	kind, count plyKind
}

type plyElement struct {
	name  string
	rows  int64
	props []plyProperty
}

type plyKind int

const (
	plyInt8 plyKind = iota + 1
	plyUint8
	plyInt16
	plyUint16
	plyInt32
	plyUint32
	plyFloat32
	plyFloat64
)

var plyKinds = map[string]plyKind{
	"char": plyInt8, "uchar": plyUint8, "short": plyInt16, "ushort": plyUint16, "int": plyInt32, "uint": plyUint32,
	"float": plyFloat32, "double": plyFloat64,
	"int8": plyInt8, "uint8": plyUint8, "int16": plyInt16, "uint16": plyUint16, "int32": plyInt32, "uint32": plyUint32,
	"float32": plyFloat32, "float64": plyFloat64,
}

var plySizes = [...]int{
	plyInt8: 1, plyUint8: 1, plyInt16: 2, plyUint16: 2, plyInt32: 4, plyUint32: 4, plyFloat32: 4,
	plyFloat64: 8,
}

var errPlyShort = errors.New("the file ends before all that its header announces; fetch it again")

// ply reads vertices (x, y, z) and faces (a list vertex_indices or vertex_index) and passes over all other elements and
// properties. Vertices may come after faces.
func (b *builder) ply(data []byte) error {
	elements, next, err := plyHeader(&data)
	if err != nil {
		return fmt.Errorf("PLY header: %w", err)
	}
	var faces [][]int32
	room := int64(b.limits.Triangles) // for triangles yet
	for _, e := range elements {
		if len(e.props) == 0 {
			continue // nothing to read, however many rows it claims
		}
		// Every row costs at least a byte, so a count beyond the bytes left is false before any room is made for it.
		if e.rows > int64(len(data)) {
			return fmt.Errorf("PLY: %d rows of %s are announced: %w", e.rows, quoted([]byte(e.name)), errPlyShort)
		}
		for row := range e.rows {
			if err := b.plyRow(e, &data, next, &faces, &room); err != nil {
				return fmt.Errorf("PLY: %s %d: %w", quoted([]byte(e.name)), row+1, err)
			}
		}
	}
	for i, f := range faces {
		if err := b.polygon(f); err != nil {
			return fmt.Errorf("PLY: face %d: %w", i+1, err)
		}
	}
	return nil
}

func (b *builder) plyRow(e plyElement, data *[]byte, next func(*[]byte, plyKind) (float64, error), faces *[][]int32,
	room *int64,
) error {
	var p Point
	for _, prop := range e.props {
		if prop.count != 0 {
			corners, err := b.plyList(prop, e.name == "face" && isCorners(prop.name), data, next, room)
			if err != nil {
				return err
			}
			if corners != nil {
				*faces = append(*faces, corners)
			}
			continue
		}
		x, err := next(data, prop.kind)
		if err != nil {
			return err
		}
		if e.name == "vertex" && len(prop.name) == 1 && prop.name[0] >= 'x' && prop.name[0] <= 'z' {
			p[prop.name[0]-'x'] = x
		}
	}
	if e.name == "vertex" {
		return b.vertex(p)
	}
	return nil
}

// plyList reads the list that a row has of a property: the corners of a face, or values that are passed over, which
// gives nil. Each face takes its triangles off the room that is left.
func (b *builder) plyList(prop plyProperty, isFace bool, data *[]byte, next func(*[]byte, plyKind) (float64, error),
	room *int64,
) ([]int32, error) {
	n, err := next(data, prop.count)
	if err != nil {
		return nil, err
	}
	switch {
	case !(n >= 0 && n == math.Trunc(n)):
		return nil, fmt.Errorf("a list of %.4g values; give a whole number of them", n)
	case n > float64(len(*data)):
		return nil, errPlyShort
	case !isFace:
		for range int(n) {
			if _, err := next(data, prop.kind); err != nil {
				return nil, err
			}
		}
		return nil, nil
	case n < 3:
		return nil, fmt.Errorf("a face of %.0f corners is no face; give three or more", n)
	}
	if *room -= int64(n) - 2; *room < 0 {
		return nil, fmt.Errorf("the mesh has over %d triangles, the most that is read; simplify it", b.limits.Triangles)
	}
	corners := make([]int32, int(n))
	for i := range corners {
		x, err := next(data, prop.kind)
		if err != nil {
			return nil, err
		}
		if !(x >= 0 && x <= math.MaxInt32 && x == math.Trunc(x)) {
			return nil, fmt.Errorf("a face names vertex %.6g; give a whole number from 0", x)
		}
		corners[i] = int32(x)
	}
	return corners, nil
}

func isCorners(name string) bool { return name == "vertex_indices" || name == "vertex_index" }

// plyHead is a header as far as it is read.
type plyHead struct {
	elements   []plyElement
	next       func(*[]byte, plyKind) (float64, error) // reads one value of the body; nil until the format is known
	properties int
}

// plyHeader takes the header off data and gives the elements and the way to read one value of the body.
func plyHeader(data *[]byte) ([]plyElement, func(*[]byte, plyKind) (float64, error), error) {
	line := func() [][]byte {
		var l []byte
		l, *data, _ = bytes.Cut(*data, []byte{'\n'})
		return bytes.Fields(l[:min(len(l), 1000)]) // all but a comment is far shorter
	}
	if w := line(); len(w) != 1 || string(w[0]) != "ply" {
		return nil, nil, errors.New("the file does not begin with \"ply\"")
	}
	var h plyHead
	for number := 2; ; number++ {
		if len(*data) == 0 {
			return nil, nil, errors.New(
				"no end_header line; the file is cut short, or its lines do not end as PLY's do")
		}
		w := line()
		switch {
		case len(w) == 0:
			continue
		case string(w[0]) != "end_header":
			if wrong := h.line(w); wrong != "" {
				return nil, nil, fmt.Errorf("line %d: %s", number, wrong)
			}
			continue
		case h.next == nil:
			return nil, nil, errors.New("no format line")
		}
		return h.elements, h.next, plyHasAll(h.elements)
	}
}

// line reads the words of one line of a header, and says what is wrong with it.
func (h *plyHead) line(w [][]byte) (wrong string) {
	switch string(w[0]) {
	case "comment", "obj_info":
	case "format":
		if len(w) != 3 || string(w[2]) != "1.0" {
			return "a format line reads: format ascii 1.0 (or binary_little_endian, binary_big_endian)"
		}
		return h.format(w[1])
	case "element":
		if len(w) != 3 || len(h.elements) >= 100 {
			return "an element line reads: element vertex 24; at most 100 of them"
		}
		rows, err := strconv.ParseInt(string(w[2]), 10, 64)
		if err != nil || rows < 0 {
			return quoted(w[2]) + " is no count"
		}
		h.elements = append(h.elements, plyElement{name: string(w[1]), rows: rows})
	case "property":
		if h.properties++; len(h.elements) == 0 || h.properties > 1000 {
			return "a property before any element, or over 1000 of them"
		}
		p, ok := plyColumn(w)
		if !ok {
			return "a property line reads: property float x, or: property list uchar int vertex_indices"
		}
		e := &h.elements[len(h.elements)-1]
		e.props = append(e.props, p)
	default:
		return quoted(w[0]) + " is no word of a PLY header"
	}
	return ""
}

func (h *plyHead) format(name []byte) (wrong string) {
	switch string(name) {
	case "ascii":
		h.next = plyWord
	case "binary_little_endian":
		h.next = plyBytes(binary.LittleEndian)
	case "binary_big_endian":
		h.next = plyBytes(binary.BigEndian)
	default:
		return "no format " + quoted(name) + "; use ascii, binary_little_endian or binary_big_endian"
	}
	return ""
}

func plyColumn(w [][]byte) (plyProperty, bool) {
	if len(w) == 5 && string(w[1]) == "list" {
		p := plyProperty{name: string(w[4]), count: plyKinds[string(w[2])], kind: plyKinds[string(w[3])]}
		return p, p.count != 0 && p.count < plyFloat32 && p.kind != 0
	}
	if len(w) == 3 {
		p := plyProperty{name: string(w[2]), kind: plyKinds[string(w[1])]}
		return p, p.kind != 0
	}
	return plyProperty{}, false
}

func plyHasAll(elements []plyElement) error {
	var x, y, z, corners int
	for _, e := range elements {
		for _, p := range e.props {
			switch {
			case e.name == "vertex" && p.count == 0 && p.name == "x":
				x++
			case e.name == "vertex" && p.count == 0 && p.name == "y":
				y++
			case e.name == "vertex" && p.count == 0 && p.name == "z":
				z++
			case e.name == "face" && p.count != 0 && isCorners(p.name):
				corners++
			}
		}
	}
	if x != 1 || y != 1 || z != 1 || corners != 1 {
		return errors.New(
			"it must announce once each: vertex x, y and z, and a face list vertex_indices; export triangles, not points or strips")
	}
	return nil
}

func plyWord(data *[]byte, _ plyKind) (float64, error) {
	var word []byte
	word, *data = cutWord(*data)
	if len(word) == 0 {
		return 0, errPlyShort
	}
	x, err := strconv.ParseFloat(string(word), 64)
	if err != nil {
		return 0, fmt.Errorf("%s is no number", quoted(word))
	}
	return x, nil
}

func plyBytes(order binary.ByteOrder) func(*[]byte, plyKind) (float64, error) {
	return func(data *[]byte, k plyKind) (float64, error) {
		d := *data
		size := plySizes[k]
		if len(d) < size {
			return 0, errPlyShort
		}
		*data = d[size:]
		switch k {
		case plyInt8:
			return float64(int8(d[0])), nil
		case plyUint8:
			return float64(d[0]), nil
		case plyInt16:
			return float64(int16(order.Uint16(d))), nil
		case plyUint16:
			return float64(order.Uint16(d)), nil
		case plyInt32:
			return float64(int32(order.Uint32(d))), nil
		case plyUint32:
			return float64(order.Uint32(d)), nil
		case plyFloat32:
			return float64(math.Float32frombits(order.Uint32(d))), nil
		}
		return math.Float64frombits(order.Uint64(d)), nil
	}
}
