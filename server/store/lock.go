package store

import (
	"io"
	"path/filepath"

	"github.com/gofrs/flock"

	"hod/server/fault"
)

// Lock takes a data folder for this process until it is closed. The system lets go of it when the process ends, however
// it ends.
func Lock(dir string) (io.Closer, error) {
	lock := flock.New(filepath.Join(dir, lockFile), flock.SetPermissions(0o600))
	ours, err := lock.TryLock()
	if err != nil {
		return nil, fault.OfFile(dir, err)
	}
	if !ours {
		return nil, fault.New(fault.Busy, nil,
			"another hodd runs on the data folder %s; stop it first, or choose another folder with --data", dir)
	}
	return lock, nil
}
