package wire

import (
	"syscall"
	"time"
)

// dropAfter ends a TCP connection whose other end acknowledges nothing for that long: TCP_USER_TIMEOUT of
// tcp(7), in ms, which package syscall does not name.
func dropAfter(fd uintptr, silence time.Duration) error {
	const userTimeout = 18
	return syscall.SetsockoptInt(int(fd), syscall.IPPROTO_TCP, userTimeout, int(silence.Milliseconds()))
}
