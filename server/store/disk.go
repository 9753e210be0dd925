package store

import (
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
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

func (system) read(path string) ([]byte, error)        { return os.ReadFile(path) }
func (system) names(dir string) ([]fs.DirEntry, error) { return os.ReadDir(dir) }
func (system) makeDir(path string) error               { return os.Mkdir(path, 0o700) }
func (system) begin(dir string) (File, error)          { return os.CreateTemp(dir, ".new-*") } // mode 0600
func (system) rename(from, to string) error            { return os.Rename(from, to) }
func (system) remove(path string) error                { return os.Remove(path) }
func (system) flushNames(dir string) error             { return flushDir(dir) }

func (system) extend(path string) (File, error) {
	return os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600)
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
