package store

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"sync/atomic"
	"syscall"

	"hod/server/fault"
)

// disk is what is done to the files of the log. A test stands in for one that loses what was not flushed.
type disk interface {
	read(path string) ([]byte, error)
	names(dir string) ([]fs.DirEntry, error)
	hasDir(path string) (bool, error)
	makeDir(path string) error
	begin(dir string) (File, error)   // a new file under a name of no meaning, which only this user may read
	extend(path string) (File, error) // a file that is there, at its end
	rename(from, to string) error
	remove(path string) error
	flushNames(dir string) error
}

// File is a file that is open for writing.
type File interface {
	io.WriteCloser
	Name() string
	Stat() (fs.FileInfo, error)
	Sync() error
	Truncate(size int64) error
}

// system is the disk of this machine, through package os.
type system struct{}

func (system) read(path string) ([]byte, error) {
	return called("read", path, func() ([]byte, error) { return os.ReadFile(path) })
}

func (system) names(dir string) ([]fs.DirEntry, error) {
	return called("names", dir, func() ([]fs.DirEntry, error) { return os.ReadDir(dir) })
}

func (system) makeDir(path string) error {
	return done("make a folder", path, func() error { return os.Mkdir(path, 0o700) })
}

func (system) rename(from, to string) error {
	return done("rename", to, func() error { return os.Rename(from, to) })
}

func (system) remove(path string) error {
	return done("remove", path, func() error { return os.Remove(path) })
}

func (system) flushNames(dir string) error {
	return done("flush names", dir, func() error { return flushDir(dir) })
}

func (system) begin(dir string) (File, error) {
	return called("begin", dir, func() (File, error) { return opened(os.CreateTemp(dir, ".new-*")) }) // mode 0600
}

func (system) extend(path string) (File, error) {
	return called("extend", path,
		func() (File, error) { return opened(os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600)) })
}

// extendOrBegin is extend for a file that may not be there yet.
func (system) extendOrBegin(path string) (File, error) {
	return called("extend", path, func() (File, error) {
		return opened(os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_APPEND, 0o600))
	})
}

func (system) hasDir(path string) (bool, error) {
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return false, nil
	case err != nil:
		return false, err
	case !info.IsDir():
		return false, &fs.PathError{Op: "mkdir", Path: path, Err: syscall.ENOTDIR}
	}
	return true, nil
}

// trouble is asked before each call to the disk of this machine; nil: nobody is.
var trouble atomic.Pointer[func(call string) error]

// Trouble has each call to the disk of this machine fail with the error that f gives for it, until end is called. It is
// for tests that have one call fail, and for one of them at a time.
func Trouble(f func(call string) error) (end func()) {
	trouble.Store(&f)
	return func() { trouble.Store(nil) }
}

func done(call, path string, do func() error) error {
	if f := trouble.Load(); f != nil {
		if err := (*f)(call); err != nil {
			return &fs.PathError{Op: call, Path: path, Err: err}
		}
	}
	return do()
}

func called[V any](call, path string, do func() (V, error)) (v V, err error) {
	err = done(call, path, func() error {
		v, err = do()
		return err
	})
	return v, err
}

// systemFile is a file of this machine.
type systemFile struct{ *os.File }

func opened(f *os.File, err error) (File, error) {
	if err != nil {
		return nil, err
	}
	return systemFile{f}, nil
}

// Write writes half of the bytes where it is to fail, as a disk that is full does.
func (f systemFile) Write(p []byte) (int, error) {
	if err := done("write", f.Name(), func() error { return nil }); err != nil {
		n, _ := f.File.Write(p[:len(p)/2])
		return n, err
	}
	return f.File.Write(p)
}

func (f systemFile) Sync() error { return done("flush", f.Name(), f.File.Sync) }

func (f systemFile) Truncate(size int64) error {
	return done("truncate", f.Name(), func() error { return f.File.Truncate(size) })
}

// ReadFile reads a file of a data folder.
func ReadFile(path string) ([]byte, error) { return system{}.read(path) }

// ReadDir gives what lies in a folder, by name.
func ReadDir(dir string) ([]fs.DirEntry, error) { return system{}.names(dir) }

// Remove takes a file away.
func Remove(path string) error { return system{}.remove(path) }

// ReplaceUnflushed writes a file that only this user may read, wholly or not at all while the power stays on: after a
// power cut it may be the old one, or torn.
func ReplaceUnflushed(path string, data []byte) error {
	err := done("write", path, func() error { return os.WriteFile(path+".new", data, 0o600) })
	if err == nil {
		err = system{}.rename(path+".new", path)
	}
	return fault.OfFile(path, err)
}

// makeFolder makes a folder and those that it lies in, and flushes the name of each one made: what is flushed in a
// folder whose own name is not may be gone with it.
func makeFolder(d disk, dir string) error {
	there, err := d.hasDir(dir)
	if err != nil || there {
		return err
	}
	parent := filepath.Dir(dir)
	if parent != dir {
		if err := makeFolder(d, parent); err != nil {
			return err
		}
	}
	if err := d.makeDir(dir); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	return d.flushNames(parent)
}

// MakeFolder makes a folder and its parents, and flushes their names. A folder that exists is no error.
func MakeFolder(dir string) error { return makeFolder(system{}, dir) }

// ReplaceFile writes a file with mode 0600, flushed and atomically: after a crash the file holds the old text or the
// new.
func ReplaceFile(path string, data []byte) error { return replaceOn(system{}, path, data) }

func replaceOn(d disk, path string, data []byte) error {
	dir := filepath.Dir(path)
	f, err := d.begin(dir)
	if err != nil {
		return fault.OfFile(dir, err)
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = d.rename(f.Name(), path)
	}
	if err != nil {
		_ = d.remove(f.Name()) // it may be gone already
		return fault.OfFile(path, err)
	}
	return fault.OfFile(dir, d.flushNames(dir))
}

// flushDir flushes the names in a folder to the disk, where the system supports that.
func flushDir(dir string) error {
	d, err := os.Open(dir)
	if errors.Is(err, fs.ErrPermission) {
		return nil // one may make a name where one may not read them
	}
	if err != nil {
		return err
	}
	_ = d.Sync() // not every system flushes a folder
	return d.Close()
}
