package handbook

import (
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"testing"
)

// tree is what the pages may name: the files and folders, what each Go file declares, the words of the messages, and
// the commands and flags of the programs.
type tree struct {
	files    []string                   // and folders, from the top
	declared map[string]map[string]bool // by file: functions, methods, types, constants, variables, fields
	packages map[string][]string        // files by package name
	messages map[string]bool            // words of the .proto files
	texts    map[string]bool            // whole string literals of Go files that are no tests: flags, environment
	commands map[string]map[string]bool // of hod and of hodd: the first word of a command, at whatever depth
}

var theTree = sync.OnceValues(readTree)

func wholeTree(t *testing.T) *tree {
	t.Helper()
	k, err := theTree()
	if err != nil {
		t.Fatal(err)
	}
	return k
}

func readTree() (*tree, error) {
	k := &tree{
		declared: map[string]map[string]bool{}, packages: map[string][]string{}, messages: map[string]bool{},
		texts: map[string]bool{}, commands: map[string]map[string]bool{"hod": {}, "hodd": {}},
	}
	err := filepath.WalkDir(root, func(path string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && d.Name() == ".git" {
			return filepath.SkipDir
		}
		name, err := filepath.Rel(root, path)
		if err != nil || name == "." {
			return err
		}
		name = filepath.ToSlash(name)
		k.files = append(k.files, name)
		switch {
		case strings.HasSuffix(name, ".pb.go"):
			return nil
		case strings.HasSuffix(name, ".go"):
			return k.readGo(name)
		case strings.HasSuffix(name, ".proto"):
			return k.readProto(name)
		}
		return nil
	})
	return k, err
}

var (
	word  = regexp.MustCompile(`\w+`)
	useOf = regexp.MustCompile(`^"([a-z]+) [A-Z]{3,}`) // how a command is used: cover ZONE…
)

func (k *tree) readProto(name string) error {
	b, err := os.ReadFile(filepath.Join(root, name))
	for _, w := range word.FindAllString(string(b), -1) {
		k.messages[w] = true
	}
	return err
}

func (k *tree) readGo(name string) error {
	f, err := parser.ParseFile(token.NewFileSet(), filepath.Join(root, name), nil, parser.SkipObjectResolution)
	if err != nil {
		return err
	}
	names := map[string]bool{}
	k.declared[name] = names
	k.packages[f.Name.Name] = append(k.packages[f.Name.Name], name)
	program := ""
	switch {
	case strings.HasSuffix(name, "_test.go"):
	case strings.HasPrefix(name, "client/"):
		program = "hod"
	case strings.HasPrefix(name, "server/hodd/"):
		program = "hodd"
	}
	ast.Inspect(f, func(n ast.Node) bool {
		switch n := n.(type) {
		case *ast.FuncDecl:
			names[n.Name.Name] = true
		case *ast.TypeSpec:
			names[n.Name.Name] = true
		case *ast.ValueSpec:
			note(names, n.Names)
		case *ast.Field:
			note(names, n.Names)
		case *ast.CallExpr:
			if s, ok := n.Fun.(*ast.SelectorExpr); ok && (s.Sel.Name == "NewCommand" || s.Sel.Name == "NewGroup") &&
				len(n.Args) > 0 {
				k.command(program, n.Args[0])
			}
		case *ast.KeyValueExpr:
			if key, ok := n.Key.(*ast.Ident); ok && key.Name == "Use" {
				k.command(program, n.Value)
			}
		case *ast.BasicLit:
			if n.Kind == token.STRING && program != "" {
				k.texts[strings.Trim(n.Value, "\"`")] = true
				if m := useOf.FindStringSubmatch(n.Value); m != nil { // commands that one function makes several of
					k.commands[program][m[1]] = true
				}
			}
		}
		return true
	})
	return nil
}

func note(names map[string]bool, ids []*ast.Ident) {
	for _, id := range ids {
		names[id.Name] = true
	}
}

// command keeps the first word of how a command is used.
func (k *tree) command(program string, use ast.Expr) {
	if lit, ok := use.(*ast.BasicLit); ok && program != "" {
		k.commands[program][word.FindString(lit.Value)] = true
	}
}

// find gives the files and folders that a path of a page may mean: one from the top, or shortened from the left.
func (k *tree) find(path string) []string {
	var found []string
	for _, name := range k.files {
		if name == path || strings.HasSuffix(name, "/"+path) {
			found = append(found, name)
		}
	}
	return found
}

// declares reports whether any of the files declares a name.
func (k *tree) declares(files []string, name string) bool {
	for _, f := range files {
		if k.declared[f][name] {
			return true
		}
	}
	return false
}

// inPackage gives the Go files of a folder.
func (k *tree) inPackage(dir string) []string {
	var files []string
	for name := range k.declared {
		if pathDir(name) == dir {
			files = append(files, name)
		}
	}
	return files
}

func pathDir(name string) string {
	if i := strings.LastIndex(name, "/"); i >= 0 {
		return name[:i]
	}
	return "."
}
