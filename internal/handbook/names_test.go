package handbook

import (
	"regexp"
	"slices"
	"strings"
	"testing"
)

// The pages for people. In those for developers every name in code letters is looked for, in all of them every path,
// link, test and command.
var (
	forDevelopers = []string{"DEVELOPERS.md", "proto/README.md", "testdata/README.md"}
	forAll        = append([]string{
		"README.md", "deploy/advice.md", "deploy/forecast.md", "deploy/limits.md", "deploy/performance.md",
		"deploy/reliability.md", "deploy/threats.md",
	}, forDevelopers...)
)

var (
	span    = regexp.MustCompile("`([^`\n]+)`")
	link    = regexp.MustCompile(`\]\(([^)\s]+)\)`)
	aPath   = regexp.MustCompile(`^[\w.<>-]+(/[\w.<>-]+)*/?$`)
	anEvent = regexp.MustCompile(`^\w+/\d`) // n2/147, north/2026-07-18/7
	// `keep` and `try` (`cli/record.go`
	inFile   = regexp.MustCompile("((?:`[\\w.]+`(?:, | and )?)+) \\(`([\\w./-]+\\.go)`")
	name     = regexp.MustCompile(`^\w+(\.\w+)?$`)
	testName = regexp.MustCompile(`\b(\w+)\.(Test\w+)`)
)

// code gives the indented lines of a page: what is typed.
func code(text string) []string {
	var lines []string
	for line := range strings.Lines(text) {
		if rest, ok := strings.CutPrefix(line, "    "); ok && !strings.Contains(line, "|---") {
			before, _, _ := strings.Cut(rest, "  #")
			lines = append(lines, strings.TrimSpace(before))
		}
	}
	return lines
}

func prose(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		if !strings.HasPrefix(line, "    ") {
			b.WriteString(line)
		}
	}
	return b.String()
}

func TestEachPathAndLinkOfThePagesIsThere(t *testing.T) {
	k := wholeTree(t)
	seen := 0
	for _, p := range forAll {
		text := page(t, p)
		for _, m := range link.FindAllStringSubmatch(text, -1) {
			target, anchor, _ := strings.Cut(m[1], "#")
			if strings.Contains(target, "://") {
				continue
			}
			seen++
			at := resolve(p, target)
			if at != "" && !slices.Contains(k.files, at) {
				t.Errorf("%s: the link %s leads to %s, which is not there", p, m[1], at)
			} else if anchor != "" && !hasHeading(page(t, at), anchor) {
				t.Errorf("%s: %s has no heading %s", p, at, anchor)
			}
		}
		for _, m := range span.FindAllStringSubmatch(text, -1) {
			path := strings.TrimSuffix(m[1], "/")
			if !strings.Contains(m[1], "/") && !strings.HasSuffix(m[1], ".go") || !aPath.MatchString(m[1]) ||
				anEvent.MatchString(m[1]) {
				continue
			}
			seen++
			if at := strings.Index(path, "<"); at >= 0 { // the folder of a file that is still to be written
				path = strings.TrimSuffix(path[:strings.LastIndex(path[:at], "/")+1], "/")
			}
			if len(k.find(path)) == 0 && !isConstant(k, m[1]) {
				t.Errorf("%s: there is no %s", p, m[1])
			}
		}
	}
	if seen < 150 {
		t.Errorf("only %d paths were looked for: the pages are not read as they are written", seen)
	}
}

// isConstant knows the third column of the table of limits, which another test reads.
func isConstant(k *tree, span string) bool {
	i := strings.LastIndex(span, ".")
	return i > 0 && k.declares(k.inPackage(span[:i]), span[i+1:])
}

func resolve(page, target string) string {
	dir := pathDir(page)
	for strings.HasPrefix(target, "../") {
		target, dir = strings.TrimPrefix(target, "../"), pathDir(dir)
	}
	target = strings.TrimSuffix(target, "/")
	if dir == "." || target == "" {
		return target
	}
	return dir + "/" + target
}

func hasHeading(text, anchor string) bool {
	for line := range strings.Lines(text) {
		if h := strings.TrimLeft(line, "#"); h != line && strings.ReplaceAll(strings.ToLower(strings.TrimSpace(h)), " ",
			"-") == anchor {
			return true
		}
	}
	return false
}

func TestWhatAPageSaysIsInAFileIsDeclaredThere(t *testing.T) {
	k := wholeTree(t)
	seen := 0
	for _, p := range forDevelopers {
		text := strings.ReplaceAll(page(t, p), "\n", " ")
		text = regexp.MustCompile(` +`).ReplaceAllString(text, " ")
		for _, m := range inFile.FindAllStringSubmatch(text, -1) {
			files := k.find(m[2])
			for _, id := range span.FindAllStringSubmatch(m[1], -1) {
				seen++
				if last := id[1][strings.LastIndex(id[1], ".")+1:]; !k.declares(files, last) {
					t.Errorf("%s: %s is not declared in %s", p, id[1], m[2])
				}
			}
		}
	}
	if seen < 30 {
		t.Errorf("only %d names were looked for: the pages are not read as they are written", seen)
	}
}

// known are words in code letters that nothing in the tree declares.
var known = map[string]bool{
	"hod": true, "hodd": true, "optional": true, "reserved": true, "oneof": true, "kind": true, "depguard": true,
	"n2": true, "7": true, "t.TempDir": true,
}

func TestEachNameOfThePagesForDevelopersIsDeclared(t *testing.T) {
	k := wholeTree(t)
	all := map[string]bool{}
	for _, names := range k.declared {
		for n := range names {
			all[n] = true
		}
	}
	for _, f := range k.files {
		all[f[strings.LastIndex(f, "/")+1:]] = true
	}
	seen := 0
	for _, p := range forDevelopers {
		for _, m := range span.FindAllStringSubmatch(prose(page(t, p)), -1) {
			if !name.MatchString(m[1]) || strings.HasSuffix(m[1], ".go") {
				continue
			}
			seen++
			pkg, id, qualified := strings.Cut(m[1], ".")
			switch {
			case qualified && k.packages[pkg] != nil:
				if !k.declares(k.packages[pkg], id) {
					t.Errorf("%s: package %s has no %s", p, pkg, id)
				}
			case qualified:
				if !all[id] && !all[m[1]] && !k.texts[m[1]] && !known[m[1]] {
					t.Errorf("%s: nothing is called %s", p, m[1])
				}
			case !all[m[1]] && !k.messages[m[1]] && !k.texts[m[1]] && !known[m[1]]:
				t.Errorf("%s: nothing is called %s", p, m[1])
			}
		}
	}
	if seen < 80 {
		t.Errorf("only %d names were looked for: the pages are not read as they are written", seen)
	}
}

func TestEachTestThatAPageNamesIsThere(t *testing.T) {
	k := wholeTree(t)
	seen := 0
	for _, m := range testName.FindAllStringSubmatch(page(t, "deploy/threats.md"), -1) {
		seen++
		pkg := slices.Concat(k.packages[m[1]], k.packages[m[1]+"_test"])
		if m[1] == "hodd" {
			pkg = k.inPackage("server/hodd")
		}
		if !k.declares(pkg, m[2]) {
			t.Errorf("deploy/threats.md: package %s has no %s", m[1], m[2])
		}
	}
	if seen < 70 {
		t.Errorf("only %d tests were looked for", seen)
	}
}

func TestEachCommandOfThePagesCanBeTyped(t *testing.T) {
	k := wholeTree(t)
	seen := 0
	for _, p := range forAll {
		text := page(t, p)
		var typed []string
		for _, line := range code(text) {
			typed = append(typed, strings.Split(line, "; ")...)
		}
		for _, m := range span.FindAllStringSubmatch(prose(text), -1) {
			typed = append(typed, m[1])
		}
		for _, line := range typed {
			if k.mistyped(t, p, line) {
				seen++
			}
		}
	}
	if seen < 60 {
		t.Errorf("only %d commands were looked at", seen)
	}
}

// mistyped says what of a line could not be typed; true if the line is a command at all.
func (k *tree) mistyped(t *testing.T, page, line string) bool {
	words := strings.Fields(line)
	if len(words) < 2 {
		return false
	}
	program := strings.TrimPrefix(words[0], "./")
	switch {
	case program == ".ci/run":
		for _, step := range words[1:] {
			if !strings.Contains(ciRun(t), "\nstep_"+step+"()") {
				t.Errorf("%s: .ci/run has no step %s", page, step)
			}
		}
	case program == "hod" || program == "hodd":
		if regexp.MustCompile(`^[a-z]`).MatchString(words[1]) && words[1] != "chain" &&
			!k.commands[program][words[1]] && !isSigned(line) {
			t.Errorf("%s: %s has no command %s", page, program, words[1])
		}
		k.flags(t, page, line, words)
	case program == "go" && words[1] == "test":
		k.goTest(t, page, line, words)
	case program == "go" && (words[1] == "run" || words[1] == "build"):
		for _, w := range words[2:] {
			if dir, ok := strings.CutPrefix(w, "./"); ok && !slices.Contains(k.files, dir) {
				t.Errorf("%s: there is no %s to %s", page, w, words[1])
			}
		}
		k.flags(t, page, line, words)
	case program == "go" && words[1] == "tool":
		file := strings.TrimPrefix(words[2], "-modfile=")
		if file != words[2] && !slices.Contains(k.files, file) {
			t.Errorf("%s: there is no %s", page, file)
		}
	default:
		return false
	}
	return true
}

// isSigned knows the words that what is signed begins with, which look like a command.
func isSigned(line string) bool { return regexp.MustCompile(`^hod \w+ 1$`).MatchString(line) }

func (k *tree) flags(t *testing.T, page, line string, words []string) {
	for _, w := range words {
		flag, ok := strings.CutPrefix(w, "--")
		flag, _, _ = strings.Cut(flag, "=")
		if ok && flag != "help" && !k.texts[flag] {
			t.Errorf("%s: no command has the flag --%s: %s", page, flag, line)
		}
	}
}

var ownFlag = regexp.MustCompile(`^-(\w+)$`)

// goFlags are flags of go test itself.
var goFlags = map[string]bool{
	"run": true, "v": true, "timeout": true, "bench": true, "benchmem": true, "benchtime": true, "fuzz": true,
	"fuzztime":         true,
	"fuzzminimizetime": true, "short": true, "race": true,
}

func (k *tree) goTest(t *testing.T, page, line string, words []string) {
	var files []string
	for _, w := range words[2:] {
		if dir, ok := strings.CutPrefix(w, "./"); ok && dir != "..." {
			in := k.inPackage(strings.TrimSuffix(dir, "/..."))
			if len(in) == 0 {
				t.Errorf("%s: there is no package %s: %s", page, w, line)
			}
			files = append(files, in...)
		}
	}
	for i, w := range words {
		m := ownFlag.FindStringSubmatch(w)
		if m == nil {
			continue
		}
		if !goFlags[m[1]] && !slices.ContainsFunc(files, func(f string) bool { return definesFlag(t, f, m[1]) }) {
			t.Errorf("%s: no test there has the flag %s: %s", page, w, line)
		}
		if (m[1] == "run" || m[1] == "fuzz") && i+1 < len(words) {
			k.pattern(t, page, line, files, words[i+1])
		}
	}
}

// pattern sees that a pattern of tests fits one; '^$' and xxx are there to fit none.
func (k *tree) pattern(t *testing.T, page, line string, files []string, pattern string) {
	first, _, _ := strings.Cut(strings.Trim(pattern, "'"), "/")
	if first == "^$" || first == "xxx" {
		return
	}
	fits := regexp.MustCompile(first)
	for _, f := range files {
		for n := range k.declared[f] {
			if regexp.MustCompile(`^(Test|Fuzz)`).MatchString(n) && fits.MatchString(n) {
				return
			}
		}
	}
	t.Errorf("%s: no test there is called like %s: %s", page, pattern, line)
}

func definesFlag(t *testing.T, file, flag string) bool {
	return strings.HasSuffix(file, "_test.go") && regexp.MustCompile(`flag\.\w+\("`+flag+`"`).MatchString(page(t, file))
}

func ciRun(t *testing.T) string { return page(t, ".ci/run") }

// The page for the first hour is one that is read.
func TestTheFirstHourIsShort(t *testing.T) {
	if n := len(page(t, "DEVELOPERS.md")); n > 12<<10 {
		t.Errorf(
			"DEVELOPERS.md has %d bytes; %d at most are read in an hour. Limits go to deploy/limits.md, figures and faults to deploy/reliability.md, decisions to the packages", n, 12<<10)
	}
}
