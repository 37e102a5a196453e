package wire

import (
	"syscall"
	"time"
)

// dropAfter ends a TCP connection if the other end acknowledges nothing for this long: TCP_MAXRT of
// ws2ipdef.h, in whole seconds, which package syscall does not name.
func dropAfter(fd uintptr, silence time.Duration) error {
	const maxRT = 5
	return syscall.SetsockoptInt(syscall.Handle(fd), syscall.IPPROTO_TCP, maxRT, int(silence.Seconds()))
}
