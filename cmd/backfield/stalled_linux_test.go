package main

import (
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"
)

// A terminal that Ctrl-S has stopped, or whose connection hangs, keeps no run from ending: the mics close, the journal has
// its end, and the keys of the terminal work again.
func TestStalledTerminalDoesNotHoldTheEnd(t *testing.T) {
	t.Parallel()
	for _, text := range []bool{false, true} {
		t.Run(map[bool]string{false: "screen", true: "text"}[text], func(t *testing.T) {
			t.Parallel()
			args := []string{"--close-on-exit"}
			if text {
				args = append(args, "--text")
			}
			o := operate(t, args...)
			o.intoFade(!text)
			if err := unix.IoctlSetInt(int(o.slave.Fd()), unix.TCXONC, unix.TCOOFF); err != nil {
				t.Fatal(err)
			}
			o.typed("status\r") // its answer is never read
			time.Sleep(2 * time.Second)
			o.cmd.Process.Signal(syscall.SIGTERM)
			o.until("the mics close", func() bool {
				return o.held()["/in/1/mute"] == "1" && o.held()["/in/3/mute"] == "1"
			})
			o.ending()
			o.lastEntry("ended by SIGTERM")
			if after := o.settings(); after != o.before {
				t.Errorf("the terminal was %+v\nand is   %+v", o.before, after)
			}
		})
	}
}
