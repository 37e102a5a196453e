package wire

import (
	"syscall"
	"time"
)

// dropAfter ends a TCP connection if the other end acknowledges nothing for this long, in whole seconds.
func dropAfter(fd uintptr, silence time.Duration) error {
	return syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, syscall.TCP_RXT_CONNDROPTIME, int(silence.Seconds()))
}
