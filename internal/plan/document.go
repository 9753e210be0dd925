package plan

import (
	"bytes"
	"errors"
	"io"
	"regexp"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"
)

// Limits on what is read. A plan of a thousand zones keeps well within them.
const (
	MostBytes  = 1 << 20
	MostZones  = 2000
	MostCrews  = 200
	MostMixes  = 100
	MostEdges  = 8000
	MostCoats  = 200 // of one zone
	mostCoats  = 20_000
	mostVisits = 400_000 // values read, aliases followed
)

// document gives the top of the file; nil if it cannot be read at all, with the reason among the mistakes.
func (r *reader) document(data []byte) *yaml.Node {
	if len(data) > MostBytes {
		r.wrong(nil, "", "the file has %d bytes; a plan may have %d (1 MiB)", len(data), MostBytes)
		return nil
	}
	var doc, more yaml.Node
	d := yaml.NewDecoder(bytes.NewReader(data))
	err := d.Decode(&doc)
	switch {
	case errors.Is(err, io.EOF):
		r.wrong(nil, "", "the file is empty; a plan begins with \"site:\"")
		return nil
	case err != nil:
		r.unreadable(err)
		return nil
	}
	if err := d.Decode(&more); err == nil {
		r.wrong(&more, "", "a second document begins here (---); a plan is one document")
	} else if !errors.Is(err, io.EOF) {
		r.unreadable(err)
	}
	if doc.Kind != yaml.DocumentNode || len(doc.Content) != 1 {
		r.wrong(nil, "", "the file is empty; a plan begins with \"site:\"")
		return nil
	}
	return doc.Content[0]
}

var atLine = regexp.MustCompile(`^(?:yaml: )?(?:line (\d+): )?(.*)$`)

// unreadable says where the form itself breaks; what stands behind that place cannot be judged.
func (r *reader) unreadable(err error) {
	text := strings.Map(func(c rune) rune {
		if c < ' ' {
			return ' '
		}
		return c
	}, err.Error())
	m := Mistake{File: r.file, Msg: text}
	if at := atLine.FindStringSubmatch(text); at != nil {
		m.Line, _ = strconv.Atoi(at[1])
		m.Msg = at[2]
	}
	hint := "look at the indent, the colons and the quotes there and just above"
	switch {
	case strings.Contains(m.Msg, "cannot start any token"):
		hint = "indent with spaces, never with tabs, and quote words that begin with @, ` or %"
	case strings.Contains(m.Msg, "control characters"), strings.Contains(m.Msg, "UTF-"):
		hint = "save the file as plain text (UTF-8)"
	case strings.Contains(m.Msg, "unknown anchor"):
		hint = "a * refers to something marked with & further up; quote a text that begins with *"
	}
	m.Msg = "the file cannot be read on from here (" + m.Msg + "); " + hint
	r.mistakes = append(r.mistakes, m)
}

// follow gives what an alias stands for, and counts what is read: aliases can make a small file a huge plan. The form
// of a plan is only so deep, so one that contains itself is found out where it should be a value.
func (r *reader) follow(n *yaml.Node) *yaml.Node {
	r.visits++
	if r.visits > mostVisits && !r.tired {
		r.tired = true
		r.wrong(n, "", "with all its aliases (*) the plan has more than %d values; write it with fewer", mostVisits)
	}
	if n.Kind == yaml.AliasNode && n.Alias != nil {
		return n.Alias
	}
	return n
}
