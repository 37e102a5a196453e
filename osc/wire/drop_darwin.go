package wire

import (
	"syscall"
	"time"
)

// dropAfter ends a TCP connection whose other end acknowledges nothing for that long, in whole seconds.
func dropAfter(fd uintptr, silence time.Duration) error {
	return syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, syscall.TCP_RXT_CONNDROPTIME, int(silence.Seconds()))
}
