package wire

import (
	"os"
	"time"

	"golang.org/x/sys/unix"
)

// kernelLate is how late a timerfd wakes a goroutine by way of Go's poller, on a machine that is not busy: measured at
// 50 to 170 us.
const kernelLate = 200 * time.Microsecond

// kernelTimer is a timerfd(2): it has nanoseconds, where the poller's own wait has milliseconds.
type kernelTimer struct {
	fd   int
	file *os.File
}

// systemAlarm is nil where there is no such timer.
func systemAlarm() *Alarm {
	fd, err := unix.TimerfdCreate(unix.CLOCK_MONOTONIC, unix.TFD_NONBLOCK|unix.TFD_CLOEXEC)
	if err != nil {
		return nil
	}
	t := kernelTimer{fd, os.NewFile(uintptr(fd), "timerfd")} // not blocking, so that the poller waits for it
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
	return &Alarm{C: c, late: kernelLate, timer: t}
}

func (t kernelTimer) set(d time.Duration) {
	unix.TimerfdSettime(t.fd, 0, &unix.ItimerSpec{Value: unix.NsecToTimespec(int64(d))}, nil)
}

func (t kernelTimer) close() { t.file.Close() }
