package plan

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/unit"
)

// fields are the keys and values of one part of the file.
type fields struct {
	*reader
	node *yaml.Node // the part; what is missing is told at its first line
	path string
	of   map[string]*yaml.Node
}

// fields reads a part that has keys. ok is false if it is none, which is then among the mistakes.
func (r *reader) fields(n *yaml.Node, path string, keys ...string) (f fields, ok bool) {
	f = fields{reader: r, node: n, path: path, of: map[string]*yaml.Node{}}
	m := r.follow(n)
	if m.Kind != yaml.MappingNode {
		r.wrong(n, path, "%s; it is written as keys with values: %s", whatIs(m), strings.Join(keys, ", "))
		return f, false
	}
	lines := map[string]int{}
	for i := 0; i+1 < len(m.Content) && !r.tired; i += 2 {
		k, v := r.follow(m.Content[i]), m.Content[i+1]
		key := k.Value
		switch line, twice := lines[key]; {
		case k.Kind != yaml.ScalarNode:
			r.wrong(m.Content[i], path, "%s where a key should be; known are %s", whatIs(k), strings.Join(keys, ", "))
		case key == "<<":
			r.wrong(k, path, "the merge key << is not read; write the values out, or refer to the whole list with *")
		case twice:
			r.wrong(k, path, "%q stands here a second time; the first is at line %d", key, line)
		case !slices.Contains(keys, key):
			lines[key] = k.Line
			r.wrong(k, path, "the key %s is not known%s", quoted(key), r.offer(key, keys))
		default:
			lines[key] = k.Line
			f.of[key] = v
		}
	}
	return f, true
}

// item is one of a list, with its place from 1.
func (f fields) items(key string, most int, each func(i int, n *yaml.Node)) {
	n := f.of[key]
	if n == nil {
		return
	}
	list := f.follow(n)
	if list.Kind != yaml.SequenceNode {
		if list.Tag == "!!null" {
			f.wrong(n, f.path, "%s is empty; leave it out or give it a list, each on a line that begins with -", key)
			return
		}
		f.wrong(n, f.path, "%s: %s; it is a list, each on a line that begins with -", key, whatIs(list))
		return
	}
	if len(list.Content) > most {
		f.wrong(n, f.path, "%s has %d entries; it may have %d", key, len(list.Content), most)
		return
	}
	for i, one := range list.Content {
		if f.tired {
			return
		}
		each(i+1, one)
	}
}

// need says that what must be there is not.
func (f fields) need(keys ...string) {
	for _, key := range keys {
		if f.of[key] == nil {
			f.wrong(f.node, f.path, "%s is missing%s", key, likes(key))
		}
	}
}

// text is a value in words; nil node if it is not there.
func (f fields) text(key string) (string, *yaml.Node) {
	n := f.of[key]
	if n == nil {
		return "", nil
	}
	v := f.follow(n)
	switch {
	case v.Kind != yaml.ScalarNode:
		f.wrong(n, f.path, "%s: %s; it is one value%s", key, whatIs(v), likes(key))
		return "", nil
	case v.Tag == "!!null" || strings.TrimSpace(v.Value) == "":
		f.wrong(n, f.path, "%s is empty%s", key, likes(key))
		return "", nil
	}
	return strings.TrimSpace(v.Value), n
}

// likes shows what a value looks like.
func likes(key string) string {
	like := map[string]string{
		"area": "12m2 or 130ft2", "thickness": "12mm or 1/2in", "length": "3.2m or 10'-6\"", "face": "outer or inner",
		"amount":  "42.5kg, 94lb, 2.5gal, or rest for one sand",
		"kind":    "cement, pozzolan, sand, water, admixture, foam, fibre or other",
		"between": "[A1, A2]", "work": "07:00-17:00, or Mon-Sat 07:00-17:00", "time": "4h", "at": "23C or 73F",
		"gravity": "3.15", "air": "5%",
		"units": "metric or us", "time_zone": "Europe/Lisbon", "activation": "40 kJ/mol", "span": "6m", "rise": "1.8m",
		"radius": "3m",
		"width":  "4m", "top_radius": "1m", "tube": "0.5m", "form": "vault",
		"joint": "yes, engineer or no", "inner": "3m", "outer": "7m", "unit": "m",
		"corners": "[[0, 0], [8, 0], [8, 6], [0, 6]]",
	}[key]
	if like == "" {
		return ""
	}
	return "; it looks like " + like
}

// quantity is nil if it is not there or cannot be read.
func quantity[Q any](f fields, key string, parse func(string) (Q, error)) *unit.As[Q] {
	s, n := f.text(key)
	if n == nil {
		return nil
	}
	q, err := unit.Said(s, parse)
	if err != nil {
		f.unread(n, key, s, err)
		return nil
	}
	return &q
}

// unread words what a parser of package unit said as the rest of a plan's mistakes are worded.
func (f fields) unread(n *yaml.Node, key, s string, err error) {
	var e *unit.Error
	if errors.As(err, &e) {
		f.wrong(n, f.path, "%s %s: %s (%s)", key, quoted(s), e.Msg, e.Want)
		return
	}
	f.wrong(n, f.path, "%s %s: %v", key, quoted(s), err)
}

// amount by mass or by volume.
func (f fields) amount(key string, parse func(string) (unit.Amount, error)) *event.Amount {
	q := quantity(f, key, parse)
	if q == nil {
		return nil
	}
	return &event.Amount{Mass: q.SI.Mass, Volume: q.SI.Volume, ByVolume: q.SI.IsVolume, Entered: q.Entered}
}

func (f fields) duration(key string) time.Duration {
	s, n := f.text(key)
	if n == nil {
		return 0
	}
	d, err := unit.ParseDuration(s)
	if err != nil {
		f.unread(n, key, s, err)
		return 0
	}
	if d == 0 {
		f.wrong(n, f.path, "%s of nothing; leave it out, or say how long", key)
	}
	return d
}

// whole is a count from 1; 0 if it is not there or cannot be read.
func (f fields) whole(key string) int {
	s, n := f.text(key)
	if n == nil {
		return 0
	}
	i, err := strconv.Atoi(s)
	if err != nil || i < 1 || i > 1_000_000 {
		f.wrong(n, f.path, "%s %s is not a whole number from 1 to 1000000", key, quoted(s))
		return 0
	}
	return i
}

// number has no unit.
func (f fields) number(key string) float64 {
	s, n := f.text(key)
	if n == nil {
		return 0
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || v <= 0 {
		hint := ""
		if strings.Contains(s, ",") {
			hint = "; write the decimals behind a point"
		}
		f.wrong(n, f.path, "%s %s is not a number above 0%s%s", key, quoted(s), likes(key), hint)
		return 0
	}
	return v
}

// words is a value of an enumeration, whose words likes knows.
func words[W any](f fields, key string, parse func(string) (W, error)) (w W, n *yaml.Node) {
	s, n := f.text(key)
	if n == nil {
		return w, nil
	}
	w, err := parse(s)
	if err != nil {
		f.wrong(n, f.path, "%s %s is not known%s", key, quoted(s), likes(key))
		return w, nil
	}
	return w, n
}

// can holds one value against the limits of package event, by the smallest body that has it.
func (f fields) can(key string, b event.Body) bool {
	if f.of[key] == nil {
		return true
	}
	if err := cannot(b); err != nil {
		f.wrong(f.of[key], f.path, "%s", strings.TrimPrefix(strings.TrimPrefix(err.Error(), "constituent 1 of 1: "),
			"step 1 of 1: "))
		return false
	}
	return true
}

// cannot is what in a body cannot be.
func cannot(b event.Body) error {
	_, err := written(b)
	return err
}

// written gives the body as an event of nobody: for its checks, and for its bytes.
func written(b event.Body) (event.Event, error) {
	return event.Write(event.Event{Name: event.Name{Device: "plan", Seq: 1}, HappenedAt: time.Unix(0, 0), Body: b})
}

func whatIs(n *yaml.Node) string {
	switch n.Kind {
	case yaml.MappingNode:
		return "here are keys with values"
	case yaml.SequenceNode:
		return "here is a list"
	case yaml.ScalarNode:
		if n.Tag == "!!null" {
			return "here is nothing"
		}
		return "here is " + quoted(n.Value)
	}
	return "here is something that contains itself"
}

// place names one of a list, by its name if it has one.
func (r *reader) place(what string, i int, n *yaml.Node) string {
	m := r.follow(n)
	if m.Kind == yaml.MappingNode {
		for k := 0; k+1 < len(m.Content); k += 2 {
			if v := r.follow(m.Content[k+1]); m.Content[k].Value == "name" && v.Kind == yaml.ScalarNode &&
				strings.TrimSpace(v.Value) != "" {
				return what + " " + named(strings.TrimSpace(v.Value))
			}
		}
	}
	return fmt.Sprintf("%s %d of the list", what, i)
}
