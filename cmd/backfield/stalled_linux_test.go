package main

import (
	"strings"
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

// A terminal that can show no screen gets a run of typed commands, and is told so: single keys do nothing there.
func TestTerminalWithoutScreenIsToldWhatToType(t *testing.T) {
	t.Parallel()
	for _, kind := range []string{"", "dumb"} {
		o := operateOn(t, kind)
		shows := func(text string) bool {
			o.mu.Lock()
			defer o.mu.Unlock()
			return strings.Contains(strings.Join(strings.Fields(o.screen.String()), " "), text) // long lines are broken
		}
		o.until("it says what to type", func() bool { return shows("single keys do nothing: type a command and Enter") })
		o.typed("hush\r")
		o.until("it is hushed", func() bool { return shows("hushed:") })
		o.typed("quit\r")
		o.ending()
	}
}
