package main

import (
	"os/exec"
	"syscall"
)

// dieWithTest ends a process when the test's own ends, however that comes about.
func dieWithTest(cmd *exec.Cmd) { cmd.SysProcAttr = &syscall.SysProcAttr{Pdeathsig: syscall.SIGKILL} }
