package journal

import (
	"math"

	"golang.org/x/sys/windows"
)

// freeOf is how many bytes of the disk under a folder this process may still fill; below 0 where that is not known.
func freeOf(dir string) int64 {
	path, err := windows.UTF16PtrFromString(dir)
	if err != nil {
		return -1
	}
	var free uint64
	if err := windows.GetDiskFreeSpaceEx(path, &free, nil, nil); err != nil || free > math.MaxInt64/4 {
		return -1
	}
	return int64(free)
}
