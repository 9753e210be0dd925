package store

import (
	"bytes"
	"crypto/sha256"
	"errors"
	"flag"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

var rounds = flag.Int("rounds", 0, "how many power cuts and damages the long form tries; 0 is the short form")

// recorded is a disk that remembers what is done to it, in order, so that it can be made as a power cut would leave it
// at any instant. What it is asked it also does, below root.
type recorded struct {
	system
	root    string
	careful bool // it flushes; one that is not says that it did
	files   int  // that were begun; each keeps its number whatever its name
	named   map[string]int
	ops     []diskOp
}

type diskOp struct {
	what string // "make", "name", "rename", "remove", "write", "cut", "flush", "flush names"
	file int
	path string // below root
	from string
	at   int64
	data []byte
}

func newRecorded(t *testing.T, careful bool) *recorded {
	t.Helper()
	return &recorded{root: t.TempDir(), careful: careful, named: map[string]int{}}
}

func (r *recorded) below(path string) string {
	rel, err := filepath.Rel(r.root, path)
	if err != nil {
		panic(err) // the test itself gave the path
	}
	return rel
}

func (r *recorded) did(o diskOp, err error) error {
	if err == nil && (r.careful || !strings.HasPrefix(o.what, "flush")) {
		r.ops = append(r.ops, o)
	}
	return err
}

func (r *recorded) makeDir(path string) error {
	return r.did(diskOp{what: "make", path: r.below(path)}, r.system.makeDir(path))
}

func (r *recorded) begin(dir string) (File, error) {
	f, err := r.system.begin(dir)
	if err != nil {
		return nil, err
	}
	r.files++
	r.named[f.Name()] = r.files
	return &recordedFile{f, r, r.files, 0}, r.did(diskOp{what: "name", file: r.files, path: r.below(f.Name())}, nil)
}

func (r *recorded) extend(path string) (File, error) {
	f, err := r.system.extend(path)
	if err != nil {
		return nil, err
	}
	info, err := f.Stat()
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	return &recordedFile{f, r, r.named[path], info.Size()}, nil
}

func (r *recorded) rename(from, to string) error {
	err := r.did(diskOp{what: "rename", file: r.named[from], from: r.below(from), path: r.below(to)},
		r.system.rename(from, to))
	if err == nil {
		r.named[to] = r.named[from]
		delete(r.named, from)
	}
	return err
}

func (r *recorded) remove(path string) error {
	return r.did(diskOp{what: "remove", path: r.below(path)}, r.system.remove(path))
}

func (r *recorded) flushNames(dir string) error {
	return r.did(diskOp{what: "flush names", path: r.below(dir)}, r.system.flushNames(dir))
}

type recordedFile struct {
	File
	disk *recorded
	file int
	size int64
}

func (f *recordedFile) Write(b []byte) (int, error) {
	n, err := f.File.Write(b)
	if n > 0 {
		_ = f.disk.did(diskOp{what: "write", file: f.file, at: f.size, data: bytes.Clone(b[:n])}, nil)
		f.size += int64(n)
	}
	return n, err
}

func (f *recordedFile) Truncate(size int64) error {
	err := f.disk.did(diskOp{what: "cut", file: f.file, at: size}, f.File.Truncate(size))
	if err == nil {
		f.size = size
	}
	return err
}

func (f *recordedFile) Sync() error {
	return f.disk.did(diskOp{what: "flush", file: f.file}, f.File.Sync())
}

// after makes in dir what the disk holds when the power goes after the first n operations: what was flushed, and of the
// rest what keep says, which is asked for each name and each sector.
func (r *recorded) after(t *testing.T, n int, keep func() bool, dir string) {
	t.Helper()
	flushed, named := map[int]int{}, map[string]int{}
	for i, o := range r.ops[:n] {
		switch o.what {
		case "flush":
			flushed[o.file] = i + 1
		case "flush names":
			named[o.path] = i + 1
		}
	}
	type thing struct{ file int } // 0: a folder
	names, data := map[string]thing{}, map[int][]byte{}
	for i, o := range r.ops[:n] {
		onDisk := i < named[filepath.Dir(o.path)]
		switch o.what {
		case "make", "name":
			if onDisk || keep() {
				names[o.path] = thing{o.file}
			}
		case "rename":
			if onDisk || keep() {
				delete(names, o.from)
				names[o.path] = thing{o.file}
			}
		case "remove":
			if onDisk || keep() {
				delete(names, o.path)
			}
		case "cut":
			if i < flushed[o.file] || keep() {
				data[o.file] = data[o.file][:min(int64(len(data[o.file])), o.at)]
			}
		case "write":
			for from := 0; from < len(o.data); {
				to := min(len(o.data), from+512-int((o.at+int64(from))%512))
				if i < flushed[o.file] || keep() {
					if grow := o.at + int64(to) - int64(len(data[o.file])); grow > 0 {
						data[o.file] = append(data[o.file], make([]byte, grow)...)
					}
					copy(data[o.file][o.at+int64(from):], o.data[from:to])
				}
				from = to
			}
		}
	}
	paths := make([]string, 0, len(names))
	for path := range names {
		paths = append(paths, path)
	}
	slices.Sort(paths) // a folder comes before what is in it
	for _, path := range paths {
		full := filepath.Join(dir, path)
		if _, err := os.Stat(filepath.Dir(full)); errors.Is(err, fs.ErrNotExist) {
			continue // gone with its folder
		}
		var err error
		if file := names[path].file; file == 0 {
			err = os.Mkdir(full, 0o700)
		} else {
			err = os.WriteFile(full, data[file], 0o600)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
}

// archived is an archive that was written to, and after how many operations which records were told to be in it.
type archived struct {
	*recorded
	records [][]byte
	told    []int // after so many operations the record with this number was told
}

func (r *recorded) archive(t *testing.T, appends int, random *rand.Rand) archived {
	t.Helper()
	w := archived{recorded: r}
	dir := filepath.Join(r.root, "data", archiveDir)
	a, _, err := openArchiveOn(r, dir, headOf("dune"))
	if err != nil {
		t.Fatal(err)
	}
	for i := range appends {
		a.roll = 4000
		var some [][]byte
		for range 1 + random.IntN(4) {
			sum := sha256.Sum256(fmt.Append(nil, len(w.records)+len(some)))
			some = append(some, bytes.Repeat(sum[:], 1+random.IntN(40)))
		}
		if err := a.append(some...); err != nil {
			t.Fatal(err)
		}
		for _, s := range some {
			w.records, w.told = append(w.records, s), append(w.told, len(r.ops))
		}
		if i%9 == 8 { // a restart
			if err := a.close(); err != nil {
				t.Fatal(err)
			}
			if a, _, err = openArchiveOn(r, dir, headOf("dune")); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := a.close(); err != nil {
		t.Fatal(err)
	}
	return w
}

// cut says how many records that were told are lost by a power cut, and what else is wrong.
func (w archived) cut(t *testing.T, n int, keep func() bool) (told, lost int, wrong string) {
	t.Helper()
	dir := t.TempDir()
	w.after(t, n, keep, dir)
	for told < len(w.told) && w.told[told] <= n {
		told++
	}
	a, _, err := openArchive(filepath.Join(dir, "data", archiveDir), headOf("dune"))
	if err != nil {
		return told, told, fmt.Sprintf("it does not open: %v", err)
	}
	defer a.close()
	next := 0
	got := readAll(t, a)
	for _, g := range got {
		at := slices.IndexFunc(w.records[next:], func(r []byte) bool { return bytes.Equal(r, g) })
		if at < 0 {
			return told, told, "it holds a record that nobody wrote, or twice, or out of order"
		}
		lost += min(max(told-next, 0), at)
		next += at + 1
	}
	lost += max(told-next, 0)
	if err := a.append([]byte("after the cut")); err != nil {
		return told, lost, fmt.Sprintf("it takes no more: %v", err)
	}
	if again := readAll(t, a); len(again) != len(got)+1 {
		wrong = "what was written after the cut is not read"
	}
	return told, lost, wrong
}

// The power goes after any operation, and of what was not flushed, names of files and folders too, some is there and
// some is not: what append said was in the archive is in it.
func TestPowerCutLosesNothingThatTheArchiveTold(t *testing.T) {
	cuts := 80
	if testing.Short() {
		cuts = 20
	}
	if *rounds > 0 {
		cuts = *rounds
	}
	random := rand.New(rand.NewPCG(1, 7))
	tried, told, lost := 0, 0, 0
	try := func(w archived, n int, keep func() bool) {
		t.Helper()
		some, gone, wrong := w.cut(t, n, keep)
		tried, told, lost = tried+1, told+some, lost+gone
		if gone > 0 || wrong != "" {
			t.Errorf("the power goes after operation %d of %d (%s): %d of %d records lost; %s", n, len(w.ops),
				w.ops[max(n-1, 0)].what, gone, some, wrong)
		}
	}
	none, some := func() bool { return false }, func() bool { return random.IntN(2) == 0 }
	every := newRecorded(t, true).archive(t, 12, random)
	for n := range len(every.ops) + 1 {
		try(every, n, none)
		try(every, n, some)
	}
	long := newRecorded(t, true).archive(t, 80, random)
	for range cuts {
		try(long, random.IntN(len(long.ops)+1), some)
	}
	t.Logf("%d power cuts, %d records told, %d lost", tried, told, lost)
	if told < tried {
		t.Errorf("only %d records were told in %d cuts; the test does not hit", told, tried)
	}
}

// A disk that says it flushes and does not: if nothing were found lost then, nothing ever would be.
func TestPowerCutIsNoticedWhereTheArchiveIsNotFlushed(t *testing.T) {
	random := rand.New(rand.NewPCG(2, 7))
	w := newRecorded(t, false).archive(t, 40, random)
	tried, losing := 0, 0
	for range 40 {
		tried++
		if _, lost, _ := w.cut(t, random.IntN(len(w.ops)+1), func() bool { return random.IntN(2) == 0 }); lost > 0 {
			losing++
		}
	}
	if losing < tried/2 {
		t.Errorf("without a flush, only %d of %d power cuts lost anything; the test does not bite", losing, tried)
	}
	t.Logf("without a flush, %d of %d power cuts lost records that were told", losing, tried)
}
