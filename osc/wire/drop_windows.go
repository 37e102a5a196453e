package wire

import (
	"syscall"
	"time"
)

// dropAfter ends a TCP connection whose other end acknowledges nothing for that long: TCP_MAXRT of
// ws2ipdef.h, in whole seconds, which package syscall does not name.
func dropAfter(fd uintptr, silence time.Duration) error {
	const maxRT = 5
	return syscall.SetsockoptInt(syscall.Handle(fd), syscall.IPPROTO_TCP, maxRT, int(silence.Seconds()))
}
