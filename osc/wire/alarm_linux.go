package wire

import (
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// kernelLate is how late a timerfd wakes a goroutine through Go's poller on a computer that is not busy: 50 to 170 us
// were measured.
const kernelLate = 200 * time.Microsecond

// kernelTimer is a timerfd(2). It counts nanoseconds, while the poller's own wait counts milliseconds.
type kernelTimer struct {
	fd   int
	file *os.File
}

// systemAlarm returns nil if there is no such timer.
func systemAlarm() *WakeTimer {
	fd, err := unix.TimerfdCreate(unix.CLOCK_MONOTONIC, unix.TFD_NONBLOCK|unix.TFD_CLOEXEC)
	if err != nil {
		return nil
	}
	t := kernelTimer{fd, os.NewFile(uintptr(fd), "timerfd")} // non-blocking, so that Go's poller waits for it
	c := make(chan struct{}, 1)
	go func() {
		var fired [8]byte
		for {
			if _, err := t.file.Read(fired[:]); err != nil {
				return
			}
			ring(c)
		}
	}()
	return &WakeTimer{C: c, late: kernelLate, timer: t}
}

func (t kernelTimer) set(d time.Duration) {
	unix.TimerfdSettime(t.fd, 0, &unix.ItimerSpec{Value: unix.NsecToTimespec(int64(d))}, nil)
}

func (t kernelTimer) close() { t.file.Close() }
