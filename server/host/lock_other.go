//go:build !unix

package host

import (
	"os"
	"path/filepath"
)

// lockFolder cannot shut out a second server here; the ports in use do.
func lockFolder(dir string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, lockFile), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, diskError(dir, err)
	}
	return f, nil
}
