//go:build unix

package main

import (
	"os"
	"runtime"
	"syscall"
	"time"
)

// processorTime is what this process has had of the processor.
func processorTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		panic(err)
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// peakMB is the most memory that a process that has ended ever held.
func peakMB(p *os.ProcessState) float64 {
	u := p.SysUsage().(*syscall.Rusage)
	if runtime.GOOS == "darwin" || runtime.GOOS == "ios" {
		return float64(u.Maxrss) / 1e6 // in bytes there, in KiB elsewhere
	}
	return float64(u.Maxrss) * 1024 / 1e6
}
