package plan

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"hod/internal/spelling"

	"go.yaml.in/yaml/v3"
)

// Mistake is one thing in a plan that cannot be.
type Mistake struct {
	File         string
	Line, Column int    // from 1; 0 where it is about the file as a whole
	Path         string // what it is in: "zone A3", "zone A3, coat 2"
	Msg          string // what is wrong, then what would be right
}

func (m Mistake) String() string {
	where := m.File
	if m.Line > 0 {
		where += ":" + strconv.Itoa(m.Line)
	}
	if m.Path != "" {
		return where + ": " + m.Path + ": " + m.Msg
	}
	return where + ": " + m.Msg
}

// Mistakes are all that is wrong with a file, by line.
type Mistakes []Mistake

// Error is one mistake a line.
func (m Mistakes) Error() string {
	lines := make([]string, len(m))
	for i, one := range m {
		lines[i] = one.String()
	}
	return strings.Join(lines, "\n")
}

// MostMistakes is how many are told; a file with more needs its first ones put right before the rest mean anything.
const MostMistakes = 500

// reader collects what is wrong while a file is read.
type reader struct {
	file     string
	mistakes Mistakes
	told     map[told]bool

	crewsZones []crewsZone
	knows      func(zone string) bool
	visits     int
	tired      bool
}

// told is a mistake apart from where it is used: a part of the file that is used twelve times through an alias is wrong
// once.
type told struct {
	line, column int
	msg          string
}

func (r *reader) wrong(n *yaml.Node, path, format string, args ...any) {
	m := Mistake{File: r.file, Path: path, Msg: fmt.Sprintf(format, args...)}
	if n != nil {
		m.Line, m.Column = n.Line, n.Column
	}
	if key := (told{m.Line, m.Column, m.Msg}); len(r.mistakes) <= MostMistakes && !r.told[key] {
		r.told[key] = true
		r.mistakes = append(r.mistakes, m)
	}
}

// result is nil if nothing was wrong.
func (r *reader) result() error {
	if len(r.mistakes) == 0 {
		return nil
	}
	slices.SortStableFunc(r.mistakes, func(a, b Mistake) int {
		if a.Line != b.Line {
			return a.Line - b.Line
		}
		return a.Column - b.Column
	})
	if len(r.mistakes) > MostMistakes {
		r.mistakes = append(r.mistakes[:MostMistakes:MostMistakes], Mistake{
			File: r.file,
			Msg:  fmt.Sprintf("more than %d mistakes; put these right and read the file again", MostMistakes),
		})
	}
	return r.mistakes
}

// quoted is what a file says, for a message: short, and safe on any terminal.
func quoted(s string) string {
	const most = 40
	if utf8.RuneCountInString(s) > most {
		s = string([]rune(s)[:most]) + "…"
	}
	return strconv.Quote(s)
}

// named is a name for a message: as it is if it is plain, else quoted.
func named(s string) string {
	plain := s != "" && utf8.RuneCountInString(s) <= 24
	for _, r := range s {
		plain = plain && (unicode.IsLetter(r) || unicode.IsDigit(r) || r == '-' || r == '_')
	}
	if plain {
		return s
	}
	return quoted(s)
}

// offer ends a sentence about a name that is not known. What nobody will read is not looked for, nor among more names
// than a person has in mind: a file made to take long has many of both.
func (r *reader) offer(word string, names []string) string {
	if len(r.mistakes) > MostMistakes {
		return ""
	}
	return spelling.Suggest(word, names[:min(len(names), 500)], 15)
}
