// Command notices writes internal/notices/notices.txt from the licences of Go and of the modules that hod and hodd are
// linked with, on any system that they are built for. Run it from the top of the tree; with -check it writes nothing
// and says whether the file is as it would be made.
package main

import (
	"bytes"
	"flag"
	"fmt"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
)

const file = "internal/notices/notices.txt"

// systems for which the programs are built; what they link differs.
var systems = []string{"linux", "darwin", "windows"}

func main() {
	check := flag.Bool("check", false, "only say whether the file is current")
	flag.Parse()
	if err := run(*check); err != nil {
		fmt.Fprintln(os.Stderr, "make the notices:", err)
		os.Exit(1)
	}
}

func run(check bool) error {
	all, err := linked()
	if err != nil {
		return err
	}
	text, err := write(all)
	if err != nil {
		return err
	}
	if !check {
		return os.WriteFile(file, text, 0o644)
	}
	held, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	if !bytes.Equal(held, text) {
		return fmt.Errorf("%s is not what the linked modules make; to make it: go run ./internal/tools/notices", file)
	}
	return nil
}

// module is one that is linked, with the folders of its packages that are.
type module struct {
	name, version, dir string
	packages           map[string]bool
}

// linked gives Go and the modules by name.
func linked() ([]*module, error) {
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		return nil, fmt.Errorf("ask go for its folder: %w", err)
	}
	dir := strings.TrimSpace(string(root))
	found := map[string]*module{}
	for _, system := range systems {
		c := exec.Command("go", "list", "-tags", "grpcnotrace", "-deps",
			"-f", "{{with .Module}}{{if not .Main}}{{.Path}}\t{{.Version}}\t{{.Dir}}\t{{$.Dir}}{{end}}{{end}}",
			"./client/hod", "./server/hodd")
		c.Env = append(os.Environ(), "GOOS="+system, "GOARCH=amd64", "CGO_ENABLED=0")
		c.Stderr = os.Stderr
		out, err := c.Output()
		if err != nil {
			return nil, fmt.Errorf("list what is linked for %s: %w", system, err)
		}
		for line := range strings.Lines(string(out)) {
			part := strings.Split(strings.TrimSpace(line), "\t")
			if len(part) != 4 {
				continue
			}
			m := found[part[0]]
			if m == nil {
				m = &module{part[0], part[1], part[2], map[string]bool{}}
				found[part[0]] = m
			}
			m.packages[part[3]] = true
		}
	}
	all := []*module{{"Go", "", dir, map[string]bool{dir: true}}}
	for _, name := range slices.Sorted(maps.Keys(found)) {
		all = append(all, found[name])
	}
	return all, nil
}

// notice is a text that a module asks to be passed on.
type notice struct {
	text string
	kind string
	of   []string // modules, and where in them
}

// unlinked are notices of what is in no program. That of modernc.org/sqlite goes through its whole module graph; what
// of it is linked is named by the modules' own notices, and by that of modernc.org/libc.
var unlinked = map[string]bool{
	"modernc.org/memory/LICENSE-LOGO":                               true,
	"gonum.org/v1/gonum/THIRD_PARTY_LICENSES/W3C-TestSuite-LICENSE": true,
	"modernc.org/sqlite/LICENSE-3RD-PARTY.md":                       true,
}

// others is the name of a folder in which a module keeps the notices of whom it took from.
var others = regexp.MustCompile(`(?i)^third_party_licen[cs]es$`)

var noticeName = regexp.MustCompile(
	`(?i)^(licen[cs]e|copying|notice|copyright|unlicense)([-._].*)?$|[-._]licen[cs]e([-._].*)?$`)

// notices of a module: those at its top, and those in the folders of what is linked of it, up to the top.
func (m *module) notices() (map[string]string, error) {
	texts := map[string]string{}
	for dir := range m.packages {
		for {
			if err := m.read(dir, noticeName, texts); err != nil {
				return nil, err
			}
			if dir == m.dir || len(dir) < len(m.dir) {
				break
			}
			dir = filepath.Dir(dir)
		}
	}
	if len(texts) == 0 {
		return nil, fmt.Errorf("%s %s has no licence in %s", m.name, m.version, m.dir)
	}
	return texts, nil
}

// read puts the notices in a folder beside those read, by where in the module they lie.
func (m *module) read(dir string, called *regexp.Regexp, texts map[string]string) error {
	names, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	for _, n := range names {
		path := filepath.Join(dir, n.Name())
		switch {
		case n.IsDir() && others.MatchString(n.Name()):
			if err := m.read(path, regexp.MustCompile(`.`), texts); err != nil {
				return err
			}
		case n.Type().IsRegular() && called.MatchString(n.Name()) && filepath.Ext(path) != ".go":
			where, err := filepath.Rel(m.dir, path)
			if err != nil {
				return err
			}
			where = filepath.ToSlash(where)
			if unlinked[m.name+"/"+where] {
				continue
			}
			b, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			texts[where] = plain(b)
		}
	}
	return nil
}

// plain ends lines in one way, and drops blanks at their ends.
func plain(b []byte) string {
	lines := strings.Split(strings.ReplaceAll(string(b), "\r\n", "\n"), "\n")
	for i := range lines {
		lines[i] = strings.TrimRight(lines[i], " \t\f")
	}
	return strings.Trim(strings.Join(lines, "\n"), "\n") + "\n"
}

// kinds of licences that are known to be permissive, by words that each holds.
var kinds = []struct{ name, words string }{
	{"Apache-2.0", "Apache License Version 2.0"},
	{"MIT", "Permission is hereby granted, free of charge, to any person obtaining a copy"},
	{"BSD-3-Clause", "may be used to endorse or promote products derived from"},
	{"BSD-2-Clause", "Redistributions in binary form must reproduce the above copyright notice"},
	{"BSL-1.0", "Boost Software License - Version 1.0"},
	{"ISC", "Permission to use, copy, modify, and/or distribute this software for any purpose"},
	{"public domain", "dedicated to the public domain"},
	{"notice", "Copyright (C) 1993 by Sun Microsystems"}, // of a work under one of the above
	{"notice", "Copyright (C) 2014 by Ignace Bogaert"},
}

// strict are words of licences that ask for more than to pass a notice on.
var strict = regexp.MustCompile(
	`(?i)GNU (lesser |affero )?general public|mozilla public license|server side public|business source|eclipse public|non-?commercial (use )?only`)

// kindOf a text; an error if it is none that is known to be permissive.
func kindOf(where, text string) (string, error) {
	words := strings.Join(strings.Fields(text), " ")
	if found := strict.FindString(words); found != "" {
		return "", fmt.Errorf("%s speaks of %q: a person must read it", where, found)
	}
	for _, k := range kinds {
		if strings.Contains(words, k.words) || k.name == "notice" && strings.HasPrefix(filepath.Base(where), "NOTICE") {
			return k.name, nil
		}
	}
	return "", fmt.Errorf("%s is no licence that is known to be permissive: a person must read it", where)
}

func write(all []*module) ([]byte, error) {
	var order []*notice
	byText := map[string]*notice{}
	var b bytes.Buffer
	b.WriteString("hod and hodd are built with what is named here, under the licences that follow.\n\n")
	for _, m := range all {
		texts, err := m.notices()
		if err != nil {
			return nil, err
		}
		called := strings.TrimSpace(m.name + " " + m.version)
		var said []string
		for _, where := range slices.Sorted(maps.Keys(texts)) {
			text := texts[where]
			kind, err := kindOf(called+"/"+where, text)
			if err != nil {
				return nil, err
			}
			if !slices.Contains(said, kind) {
				said = append(said, kind)
			}
			n := byText[text]
			if n == nil {
				n = &notice{text: text, kind: kind}
				byText[text] = n
				order = append(order, n)
			}
			n.of = append(n.of, called+", "+where)
		}
		fmt.Fprintf(&b, "%s: %s\n", called, strings.Join(said, ", "))
	}
	for _, n := range order {
		fmt.Fprintf(&b, "\n%s\n%s\n%s\n\n%s", strings.Repeat("-", 78), strings.Join(n.of, "\n"),
			strings.Repeat("-", 78), n.text)
	}
	return b.Bytes(), nil
}
