package batching

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"
	"strings"

	"hod/client/terminal"
	"hod/internal/spelling"
	"hod/internal/trade/next"
)

// orderCase is a job as its file gives it, with what may befall its batches.
type orderCase struct {
	name string
	job  next.Job
	late *next.Lateness
}

// orderFields are what an object of the file may hold. What only says something to people, or gives an answer, is
// passed over.
var orderFields = map[string][]string{
	"": {
		"name", "says", "cells", "edges", "crews", "lead_min", "limit_min", "joint_percent", "crew_may_stand_down",
		"late_min", "late_percent", "optimum", "with_late_batches",
	},
	"cells": {"name", "minutes", "needs", "placed_from", "placed_to"},
	"edges": {"a", "b", "length_cm", "joint_permitted"},
	"crews": {"name", "free_at_min", "pace_percent"},
}

// readOrderCase reads a file of one job. A mistake is told by its path in the file.
func readOrderCase(raw []byte) (orderCase, error) {
	raw = bytes.TrimPrefix(raw, []byte("\xef\xbb\xbf"))
	d := json.NewDecoder(bytes.NewReader(raw))
	d.UseNumber()
	var top any
	if err := d.Decode(&top); err != nil {
		return orderCase{}, notJSON(raw, err)
	}
	if _, err := d.Token(); !errors.Is(err, io.EOF) {
		return orderCase{}, fmt.Errorf("line %d: something follows the end of the case; a file holds one",
			lineOf(raw, d.InputOffset()))
	}
	if path := saidTwice(raw); path != "" {
		return orderCase{}, &next.Mistake{Path: terminal.Safe(path), What: "it is said twice; leave one of them out"}
	}
	r := &orderReader{at: map[string]int{}}
	c := r.read(node{is: top})
	if r.err != nil {
		return orderCase{}, r.err
	}
	return c, c.job.Check()
}

func notJSON(raw []byte, err error) error {
	var wrong *json.SyntaxError
	switch {
	case errors.As(err, &wrong):
		return fmt.Errorf("line %d: not JSON: %w", lineOf(raw, wrong.Offset), err)
	case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
		return errors.New("the file ends before the case does; a case is one JSON object")
	}
	return fmt.Errorf("not JSON: %w", err)
}

func lineOf(raw []byte, offset int64) int {
	return 1 + bytes.Count(raw[:max(0, min(int(offset), len(raw)))], []byte("\n"))
}

// node is a value in the file and the path to it.
type node struct {
	path string
	is   any
}

// orderReader reads a case and keeps the first mistake.
type orderReader struct {
	at  map[string]int // cells by name
	err error
}

func (r *orderReader) wrong(path, format string, args ...any) {
	if r.err == nil {
		r.err = &next.Mistake{Path: path, What: fmt.Sprintf(format, args...)}
	}
}

func (r *orderReader) read(top node) orderCase {
	o := r.object(top, "")
	c := orderCase{name: r.text(o["name"], "")}
	c.job.Lead = r.whole(r.must(o, top, "lead_min"), 0)
	c.job.Joint = r.whole(o["joint_percent"], next.UsualJoint)
	c.job.MayStop = r.truth(o["crew_may_stand_down"])
	limit := r.whole(r.must(o, top, "limit_min"), 1)
	cells := r.list(r.must(o, top, "cells"))
	for i, n := range cells {
		name := r.object(n, "cells")["name"]
		k, twice := r.at[r.text(name, "")]
		if twice && name.is != nil {
			r.wrong(name.path, "%q is cells[%d] already", terminal.Safe(r.text(name, "")), k)
		}
		r.at[r.text(name, "")] = i
	}
	for _, n := range cells {
		c.job.Cells = append(c.job.Cells, r.cell(n, int64(limit)*60_000))
	}
	for _, n := range r.list(r.must(o, top, "edges")) {
		e := r.object(n, "edges")
		c.job.Edges = append(c.job.Edges, next.Edge{
			A: r.cellNamed(r.must(e, n, "a")), B: r.cellNamed(r.must(e, n, "b")),
			Length: int64(r.whole(r.must(e, n, "length_cm"), 0)), Permitted: r.truth(e["joint_permitted"]),
		})
	}
	for _, n := range r.list(r.must(o, top, "crews")) {
		e := r.object(n, "crews")
		c.job.Crews = append(c.job.Crews, next.Crew{
			Name: r.text(r.must(e, n, "name"), ""), Free: r.whole(r.must(e, n, "free_at_min"), 0),
			Pace: r.whole(e["pace_percent"], 100),
		})
	}
	c.late = r.lateness(o, top)
	return c
}

func (r *orderReader) cell(n node, set int64) next.Cell {
	o := r.object(n, "cells")
	c := next.Cell{Name: r.text(r.must(o, n, "name"), ""), Minutes: r.whole(o["minutes"], 0), Set: set}
	if from, to := o["placed_from"], o["placed_to"]; from.is != nil || to.is != nil {
		c.Placed, c.From, c.To = true, r.whole(r.must(o, n, "placed_from"), 0), r.whole(r.must(o, n, "placed_to"), 0)
	} else {
		r.must(o, n, "minutes")
	}
	if needs := o["needs"]; needs.is != nil {
		for _, k := range r.list(needs) {
			c.Needs = append(c.Needs, r.cellNamed(k))
		}
	}
	return c
}

func (r *orderReader) lateness(o map[string]node, top node) *next.Lateness {
	if o["late_min"].is == nil && o["late_percent"].is == nil {
		return nil
	}
	l := next.Lateness{
		Minutes: r.whole(r.must(o, top, "late_min"), 0),
		Percent: r.whole(r.must(o, top, "late_percent"), 0),
	}
	switch {
	case l.Minutes < 0 || l.Minutes > next.MaxMinutes:
		r.wrong("late_min", "%d must be from 0 to %d", l.Minutes, next.MaxMinutes)
	case l.Percent < 0 || l.Percent > 100:
		r.wrong("late_percent", "%d must be from 0 to 100", l.Percent)
	}
	return &l
}

// object is the fields of a node, each with its path; those that the kind does not have are a mistake.
func (r *orderReader) object(n node, kind string) map[string]node {
	is, ok := n.is.(map[string]any)
	if !ok {
		r.wrong(wordsOr(n.path, "the file"), "%s is no object; write {\"…\": …}", shown(n.is))
		return nil
	}
	known := orderFields[kind]
	all := map[string]node{}
	for _, name := range slices.Sorted(maps.Keys(is)) { // the first mistake is the same each time
		all[name] = node{pathTo(n.path, name), is[name]}
		if !slices.Contains(known, name) {
			offer := ""
			if near := spelling.Nearest(name, known); near != "" {
				offer = fmt.Sprintf("; did you mean %q?", near)
			}
			r.wrong(pathTo(n.path, terminal.Safe(name)), "nothing is known by this name; there are %s%s",
				strings.Join(known, ", "), offer)
		}
	}
	return all
}

// wordsOr is a text, or other words where it is empty.
func wordsOr(text, otherwise string) string {
	if text == "" {
		return otherwise
	}
	return text
}

func pathTo(path, name string) string {
	if path == "" {
		return name
	}
	return path + "." + name
}

// must gives a field that has to be there.
func (r *orderReader) must(o map[string]node, in node, name string) node {
	n, ok := o[name]
	if o != nil && (!ok || n.is == nil) {
		r.wrong(pathTo(in.path, name), "it is missing")
	}
	return n
}

func (r *orderReader) list(n node) []node {
	if n.is == nil {
		return nil
	}
	is, ok := n.is.([]any)
	if !ok {
		r.wrong(n.path, "%s is no list; write [ … ]", shown(n.is))
	}
	all := make([]node, len(is))
	for i, v := range is {
		all[i] = node{fmt.Sprintf("%s[%d]", n.path, i), v}
	}
	return all
}

func (r *orderReader) text(n node, otherwise string) string {
	if n.is == nil {
		return otherwise
	}
	s, ok := n.is.(string)
	if !ok {
		r.wrong(n.path, "%s is no text; write it in quotes", shown(n.is))
	}
	return s
}

func (r *orderReader) truth(n node) bool {
	if n.is == nil {
		return false
	}
	b, ok := n.is.(bool)
	if !ok {
		r.wrong(n.path, "%s is neither true nor false", shown(n.is))
	}
	return b
}

func (r *orderReader) whole(n node, otherwise int) int {
	if n.is == nil {
		return otherwise
	}
	number, ok := n.is.(json.Number)
	if !ok {
		r.wrong(n.path, "%s is no number", shown(n.is))
		return otherwise
	}
	v, err := number.Float64()
	if err != nil || v != math.Trunc(v) || math.Abs(v) > 1e9 {
		r.wrong(n.path, "%s must be a whole number of at most nine digits", terminal.Safe(number.String()))
		return otherwise
	}
	return int(v)
}

func (r *orderReader) cellNamed(n node) int {
	name := r.text(n, "")
	if n.is == nil || r.err != nil {
		return 0
	}
	i, ok := r.at[name]
	if !ok {
		r.wrong(n.path, "no cell is named %q", terminal.Safe(name))
	}
	return i
}

// shown is a value of the file as an error quotes it.
func shown(v any) string {
	b, err := json.Marshal(v)
	if err != nil || len(b) > 40 {
		return "this"
	}
	return terminal.Safe(string(b))
}
