package wire

import (
	"syscall"
	"time"
)

// dropAfter ends a TCP connection if the other end acknowledges nothing for this long: TCP_USER_TIMEOUT of
// tcp(7), in ms, which package syscall does not name.
func dropAfter(fd uintptr, silence time.Duration) error {
	const userTimeout = 18
	return syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, userTimeout, int(silence.Milliseconds()))
}
