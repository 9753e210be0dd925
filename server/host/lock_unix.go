//go:build unix

package host

import (
	"errors"
	"os"
	"path/filepath"
	"syscall"
)

// lockFolder takes the data folder for this process until the file is closed. The system lets go of it when the process
// ends, however it ends.
func lockFolder(dir string) (*os.File, error) {
	path := filepath.Join(dir, lockFile)
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, diskError(dir, err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		_ = f.Close() // nothing was written
		if errors.Is(err, syscall.EWOULDBLOCK) {
			return nil, fail(Busy, err, "another hodd runs on the data folder %s; stop it first, or choose another folder with --data", dir)
		}
		return nil, diskError(path, err)
	}
	return f, nil
}
