package main

import (
	"os"
	"strings"
	"time"

	"golang.org/x/sys/unix"

	"hod/client/journal"
)

// uptime is the kernel's count since it was started, which runs on in sleep and which no setting of the clock moves,
// with the name that the kernel gave this start. It is zero where the system hides either.
func uptime() journal.Uptime {
	boot, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return journal.Uptime{}
	}
	var since unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &since); err != nil {
		return journal.Uptime{}
	}
	return journal.Uptime{Boot: strings.TrimSpace(string(boot)), Since: time.Duration(since.Nano())}
}
