//go:build linux || darwin

package journal

import (
	"math"
	"syscall"
)

// freeOf is how many bytes of the disk under a folder this process may still fill; below 0 where that is not known.
func freeOf(dir string) int64 {
	var s syscall.Statfs_t
	if err := syscall.Statfs(dir, &s); err != nil {
		return -1
	}
	free := float64(s.Bavail) * float64(s.Bsize)
	if free < 0 || free > math.MaxInt64/4 {
		return -1
	}
	return int64(free)
}
