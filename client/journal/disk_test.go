//go:build unix

package journal

import (
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"unsafe"

	"modernc.org/libc"
	sqlite3 "modernc.org/sqlite/lib"
)

// sector is what a disk writes whole: a write that is under way when the power goes stops between two of them.
const sector = 512

// recorder is a disk below SQLite that remembers what is written to the files of one folder, in order, so that they can
// be made as a power cut would leave them at any instant.
type recorder struct {
	dir string

	mu  sync.Mutex
	ops []op

	left int    // calls until one fails; 0: none does
	what string // the one that failed
}

// failAt has the k-th call from now on fail, once.
func (r *recorder) failAt(k int) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.left, r.what = k, ""
}

// failed reports whether a call failed since failAt; none does from now on.
func (r *recorder) failed() bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.left = 0
	return r.what != ""
}

// fails reports whether the call that is made now is the one that fails.
func (r *recorder) fails(what, file string) bool {
	r.mu.Lock()
	defer r.mu.Unlock()
	if r.left == 0 {
		return false
	}
	if r.left--; r.left > 0 {
		return false
	}
	r.what = what + " of " + file
	return true
}

type opKind int

const (
	opCreate   opKind = iota // a name appears in the folder
	opDelete                 // a name leaves it
	opWrite                  // data at an offset
	opTruncate               // to a size
	opSync                   // all of this file is on the disk
	opSyncDir                // all names of the folder are
)

type op struct {
	kind opKind
	file string
	at   int64 // offset, or size
	data []byte
}

func (r *recorder) add(o op) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.ops = append(r.ops, o)
}

// now is how many operations the disk has seen.
func (r *recorder) now() int {
	r.mu.Lock()
	defer r.mu.Unlock()
	return len(r.ops)
}

// tear says what becomes of what was not flushed.
type tear int

const (
	loseAll  tear = iota // the disk got none of it
	keepAll              // the disk got all of it, as after the death of a process
	loseSome             // each write whole or not at all
	tornSome             // each sector of each write by itself
	tears
)

func (t tear) String() string {
	return [...]string{"all lost", "all kept", "some lost", "some torn"}[t]
}

// after makes in dir what the disk holds when the power goes after the first n operations. What was flushed is whole;
// of the rest some is there and some is not, by random.
func (r *recorder) after(n int, how tear, random *rand.Rand, dir string) error {
	r.mu.Lock()
	ops := r.ops[:n]
	r.mu.Unlock()
	keep := func() bool {
		switch how {
		case loseAll:
			return false
		case keepAll:
			return true
		default:
			return random.IntN(2) == 0
		}
	}
	synced, named := map[string]int{}, -1 // operations up to which a file, and the names, are on the disk
	for i, o := range ops {
		switch o.kind {
		case opSync:
			synced[o.file] = i
		case opSyncDir:
			named = i
		}
	}
	files := map[string][]byte{}
	there := map[string]bool{}
	for i, o := range ops {
		safe := i <= synced[o.file] && synced[o.file] > 0
		switch o.kind {
		case opCreate:
			if i <= named || keep() {
				there[o.file] = true
			}
		case opDelete:
			if i <= named || keep() {
				delete(there, o.file)
			}
			if !there[o.file] {
				files[o.file] = nil
			}
		case opWrite:
			for from := 0; from < len(o.data); {
				to := len(o.data)
				if how == tornSome && !safe {
					to = min(to, from+sector-int((o.at+int64(from))%sector))
				}
				if safe || keep() {
					files[o.file] = put(files[o.file], o.at+int64(from), o.data[from:to])
				}
				from = to
			}
		case opTruncate:
			if safe || keep() {
				files[o.file] = files[o.file][:min(int64(len(files[o.file])), o.at)]
			}
		}
	}
	for name := range there {
		if err := os.WriteFile(filepath.Join(dir, name), files[name], 0o600); err != nil {
			return err
		}
	}
	return nil
}

func put(file []byte, at int64, data []byte) []byte {
	if grow := at + int64(len(data)) - int64(len(file)); grow > 0 {
		file = append(file, make([]byte, grow)...)
	}
	copy(file[at:], data)
	return file
}

// Below: SQLite's own way to the disk, with a recorder in it. The module's functions are C's, called through pointers.

var disk struct {
	sync.Mutex
	usual    *sqlite3.Tsqlite3_vfs
	watched  map[string]*recorder // by folder
	open     map[uintptr]watchedFile
	methods  map[uintptr]*sqlite3.Tsqlite3_io_methods // by those that they stand before
	replaced *sqlite3.Tsqlite3_vfs
}

type watchedFile struct {
	*recorder
	name  string
	usual *sqlite3.Tsqlite3_io_methods
	names bool // its first flush flushes the folder, too
}

// watch records what SQLite does in dir from now to the end of the test.
func watch(t testing.TB, dir string) *recorder {
	t.Helper()
	tls := libc.NewTLS()
	disk.Lock()
	defer disk.Unlock()
	if disk.usual == nil {
		disk.usual = at[sqlite3.Tsqlite3_vfs](sqlite3.Xsqlite3_vfs_find(tls, 0))
		disk.watched, disk.open, disk.methods = map[string]*recorder{}, map[uintptr]watchedFile{},
			map[uintptr]*sqlite3.Tsqlite3_io_methods{}
		name, err := libc.CString("recorded")
		if err != nil {
			t.Fatal(err)
		}
		disk.replaced = inC(tls, *disk.usual)
		disk.replaced.FpNext, disk.replaced.FzName = 0, name
		*(*func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32)(
			unsafe.Pointer(&disk.replaced.FxOpen)) = openRecorded
		*(*func(*libc.TLS, uintptr, uintptr, int32) int32)(unsafe.Pointer(&disk.replaced.FxDelete)) = deleteRecorded
	}
	r := &recorder{dir: dir}
	disk.watched[dir] = r
	// The journal asks for the usual way to the disk; for this test it is this one.
	if code := sqlite3.Xsqlite3_vfs_register(tls, uintptr(unsafe.Pointer(disk.replaced)),
		1); code != sqlite3.SQLITE_OK {
		t.Fatalf("SQLite takes no other disk: %d", code)
	}
	t.Cleanup(func() {
		disk.Lock()
		defer disk.Unlock()
		delete(disk.watched, dir)
		if code := sqlite3.Xsqlite3_vfs_register(tls, uintptr(unsafe.Pointer(disk.usual)),
			1); code != sqlite3.SQLITE_OK {
			t.Errorf("SQLite does not take its own disk back: %d", code)
		}
		tls.Close()
	})
	return r
}

// at is what lies at an address that C knows.
func at[T any](p uintptr) *T { return (*T)(*(*unsafe.Pointer)(unsafe.Pointer(&p))) }

// inC is a copy of v where C may hold it, for good.
func inC[T any](tls *libc.TLS, v T) *T {
	p := at[T](libc.Xmalloc(tls, libc.Tsize_t(unsafe.Sizeof(v))))
	*p = v
	return p
}

// function is the one that C's pointer means.
func function[F any](p *uintptr) F { return *(*F)(unsafe.Pointer(p)) }

func openRecorded(tls *libc.TLS, vfs, name, file uintptr, flags int32, given uintptr) int32 {
	path := ""
	if name != 0 {
		path = libc.GoString(name)
	}
	_, missing := os.Lstat(path)
	code := function[func(*libc.TLS, uintptr, uintptr, uintptr, int32, uintptr) int32](&disk.usual.FxOpen)(tls, vfs,
		name, file, flags, given)
	disk.Lock()
	defer disk.Unlock()
	r := disk.watched[filepath.Dir(path)]
	if code != sqlite3.SQLITE_OK || r == nil {
		return code
	}
	usual := at[sqlite3.Tsqlite3_file](file).FpMethods
	if disk.methods[usual] == nil {
		m := inC(tls, *at[sqlite3.Tsqlite3_io_methods](usual))
		*(*func(*libc.TLS, uintptr) int32)(unsafe.Pointer(&m.FxClose)) = closeRecorded
		*(*func(*libc.TLS, uintptr, uintptr, int32, int64) int32)(unsafe.Pointer(&m.FxWrite)) = writeRecorded
		*(*func(*libc.TLS, uintptr, int64) int32)(unsafe.Pointer(&m.FxTruncate)) = truncateRecorded
		*(*func(*libc.TLS, uintptr, int32) int32)(unsafe.Pointer(&m.FxSync)) = syncRecorded
		disk.methods[usual] = m
	}
	at[sqlite3.Tsqlite3_file](file).FpMethods = uintptr(unsafe.Pointer(disk.methods[usual]))
	w := watchedFile{
		recorder: r, name: filepath.Base(path), usual: at[sqlite3.Tsqlite3_io_methods](usual),
		// What SQLite does by its own description: the name of a log or journal that it may have made is flushed with
		// it.
		names: flags&sqlite3.SQLITE_OPEN_CREATE != 0 &&
			flags&(sqlite3.SQLITE_OPEN_WAL|sqlite3.SQLITE_OPEN_MAIN_JOURNAL|sqlite3.SQLITE_OPEN_SUPER_JOURNAL) != 0,
	}
	disk.open[file] = w
	if missing != nil {
		r.add(op{kind: opCreate, file: w.name})
	}
	return code
}

func opened(file uintptr) watchedFile {
	disk.Lock()
	defer disk.Unlock()
	return disk.open[file]
}

func closeRecorded(tls *libc.TLS, file uintptr) int32 {
	w := opened(file)
	disk.Lock()
	delete(disk.open, file)
	disk.Unlock()
	return function[func(*libc.TLS, uintptr) int32](&w.usual.FxClose)(tls, file)
}

func writeRecorded(tls *libc.TLS, file, data uintptr, n int32, offset int64) int32 {
	w := opened(file)
	if w.fails("write", w.name) {
		return sqlite3.SQLITE_FULL
	}
	code := function[func(*libc.TLS, uintptr, uintptr, int32, int64) int32](&w.usual.FxWrite)(tls, file, data, n,
		offset)
	if code == sqlite3.SQLITE_OK {
		w.add(op{opWrite, w.name, offset, slices.Clone(unsafe.Slice(at[byte](data), n))})
	}
	return code
}

func truncateRecorded(tls *libc.TLS, file uintptr, size int64) int32 {
	w := opened(file)
	if w.fails("truncation", w.name) {
		return sqlite3.SQLITE_IOERR_TRUNCATE
	}
	code := function[func(*libc.TLS, uintptr, int64) int32](&w.usual.FxTruncate)(tls, file, size)
	if code == sqlite3.SQLITE_OK {
		w.add(op{kind: opTruncate, file: w.name, at: size})
	}
	return code
}

func syncRecorded(tls *libc.TLS, file uintptr, flags int32) int32 {
	w := opened(file)
	if w.fails("flush", w.name) {
		return sqlite3.SQLITE_IOERR_FSYNC
	}
	code := function[func(*libc.TLS, uintptr, int32) int32](&w.usual.FxSync)(tls, file, flags)
	if code != sqlite3.SQLITE_OK {
		return code
	}
	w.add(op{kind: opSync, file: w.name})
	if w.names {
		w.add(op{kind: opSyncDir})
		w.names = false
		disk.Lock()
		disk.open[file] = w
		disk.Unlock()
	}
	return code
}

func deleteRecorded(tls *libc.TLS, vfs, name uintptr, flushed int32) int32 {
	path := libc.GoString(name)
	code := function[func(*libc.TLS, uintptr, uintptr, int32) int32](&disk.usual.FxDelete)(tls, vfs, name, flushed)
	disk.Lock()
	r := disk.watched[filepath.Dir(path)]
	disk.Unlock()
	if code == sqlite3.SQLITE_OK && r != nil {
		r.add(op{kind: opDelete, file: filepath.Base(path)})
		if flushed != 0 {
			r.add(op{kind: opSyncDir})
		}
	}
	return code
}

func (r *recorder) String() string {
	n := map[opKind]int{}
	for _, o := range r.ops {
		n[o.kind]++
	}
	return fmt.Sprintf("%d writes, %d flushes, %d other operations", n[opWrite], n[opSync],
		len(r.ops)-n[opWrite]-n[opSync])
}
