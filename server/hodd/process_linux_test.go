package main

import (
	"os"
	"os/exec"
	"syscall"
)

// dieWithTest ends a process when the test's own ends, however that comes about.
func dieWithTest(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} }

// still has a process stand still, or go on, and says whether that can be done here.
func still(p *os.Process, on bool) bool {
	if on {
		return p.Signal(syscall.SIGSTOP) == nil
	}
	return p.Signal(syscall.SIGCONT) == nil
}
