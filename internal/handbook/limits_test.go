package handbook

import (
	"fmt"
	"go/ast"
	"go/constant"
	"go/parser"
	"go/token"
	"go/types"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
)

// root is the top of the tree, from here.
const root = "../.."

func page(t *testing.T, name string) string {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(root, name))
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// limitRow is a row of a table: what, limit, constant.
var limitRow = regexp.MustCompile("(?m)^\\| (.+) \\| ([^|]+) \\| `([a-z/]+)\\.(\\w+)` \\|$")

func TestEachLimitOfThePageIsThatOfItsConstant(t *testing.T) {
	text := page(t, "deploy/limits.md")
	rows := limitRow.FindAllStringSubmatch(text, -1)
	if lines := strings.Count(text, "\n| ") - strings.Count(text, "\n|---"); len(rows) != lines || lines < 50 {
		t.Errorf("%d rows of limits are understood, of %d", len(rows), lines)
	}
	for _, r := range rows {
		what, said, dir, name := r[1], r[2], r[3], r[4]
		want, err := limitOf(said)
		if err != nil {
			t.Errorf("%s: %v", what, err)
			continue
		}
		got := constantsOf(t, dir)[name]
		switch {
		case got == nil:
			t.Errorf("%s: %s has no constant %s", what, dir, name)
		case !constant.Compare(constant.ToInt(got), token.EQL, constant.MakeInt64(want)):
			t.Errorf("%s: the page says %s, which is %d; %s.%s is %v", what, said, want, dir, name, got)
		}
	}
}

func TestALimitIsReadWithItsUnit(t *testing.T) {
	for said, want := range map[string]int64{
		"512": 512, "200,000": 200_000, "32 KiB": 32 << 10, "2 MiB": 2 << 20, "2 h": int64(
			2 * time.Hour), "31 d": int64(31 * 24 * time.Hour),
		"15 min": int64(15 * time.Minute), "30 s": int64(30 * time.Second), "500 ms": int64(500 * time.Millisecond),
	} {
		if got, err := limitOf(said); err != nil || got != want {
			t.Errorf("%s is %d, want %d (%v)", said, got, want, err)
		}
	}
	if _, err := limitOf("2 miles"); err == nil {
		t.Error("miles are taken for a unit of a limit")
	}
}

// limitOf gives a count, bytes, or nanoseconds.
func limitOf(said string) (int64, error) {
	number, unit, _ := strings.Cut(said, " ")
	n, err := strconv.ParseInt(strings.ReplaceAll(number, ",", ""), 10, 64)
	if err != nil {
		return 0, fmt.Errorf("%q is no limit; one looks like 200,000 or 64 KiB or 15 min", said)
	}
	per, ok := map[string]int64{
		"": 1, "KiB": 1 << 10, "MiB": 1 << 20,
		"ms": int64(time.Millisecond), "s": int64(time.Second), "min": int64(time.Minute), "h": int64(time.Hour),
		"d": int64(24 * time.Hour),
	}[unit]
	if !ok {
		return 0, fmt.Errorf("%q is in no unit that a limit is in: KiB, MiB, ms, s, min, h, d, or none for a count",
			said)
	}
	return n * per, nil
}

var (
	held = map[string]map[string]constant.Value{} // by package
	fset = token.NewFileSet()
)

// units are those of package time in which limits are told.
const units = `package time
type Duration int64
const (Nanosecond Duration = 1; Microsecond = 1000 * Nanosecond; Millisecond = 1000 * Microsecond
	Second = 1000 * Millisecond; Minute = 60 * Second; Hour = 60 * Minute)`

// onlyTime imports package time, as far as constants need it, and nothing else: a constant that rests on another
// package is not looked for.
type onlyTime struct{}

func (onlyTime) Import(path string) (*types.Package, error) {
	if path != "time" {
		return nil, fmt.Errorf("%s is not looked at", path)
	}
	f, err := parser.ParseFile(fset, "time.go", units, 0)
	if err != nil {
		return nil, err
	}
	return (&types.Config{}).Check(path, fset, []*ast.File{f}, nil)
}

// constantsOf gives the constants of a package's files, tests left out, as the compiler computes them.
func constantsOf(t *testing.T, dir string) map[string]constant.Value {
	t.Helper()
	if held[dir] != nil {
		return held[dir]
	}
	paths, _ := filepath.Glob(filepath.Join(root, dir, "*.go"))
	var files []*ast.File
	for _, path := range paths {
		if strings.HasSuffix(path, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(fset, path, nil, parser.SkipObjectResolution)
		if err != nil {
			t.Fatal(err)
		}
		f.Decls = onlyConstants(f.Decls)
		files = append(files, f)
	}
	held[dir] = map[string]constant.Value{}
	c := types.Config{Importer: onlyTime{}, Error: func(error) {}} // what other packages hold is not known here
	pkg, _ := c.Check(dir, fset, files, nil)
	for _, name := range pkg.Scope().Names() {
		if c, ok := pkg.Scope().Lookup(name).(*types.Const); ok && c.Val().Kind() != constant.Unknown {
			held[dir][name] = c.Val()
		}
	}
	return held[dir]
}

func onlyConstants(all []ast.Decl) []ast.Decl {
	var kept []ast.Decl
	for _, d := range all {
		if g, ok := d.(*ast.GenDecl); ok && (g.Tok == token.CONST || g.Tok == token.IMPORT) {
			kept = append(kept, d)
		}
	}
	return kept
}
