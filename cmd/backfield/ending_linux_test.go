package main

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"golang.org/x/sys/unix"

	"backfield/cmd/backfield/journalfile"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/journal"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// operated is a run on a terminal of its own, as in a window: the window is master, and closing it hangs up the run.
type operated struct {
	t       *testing.T
	cmd     *exec.Cmd
	ended   chan error
	master  *os.File
	slave   *os.File // kept open to see how the run leaves the terminal; nil once closed
	before  unix.Termios
	journal string
	mixer   func() virtual.DeviceState

	mu     sync.Mutex
	screen bytes.Buffer
}

// operate starts a run of the small show on a terminal. Its cue 2 fades for 10 s.
func operate(t *testing.T, args ...string) *operated {
	t.Helper()
	return operateOn(t, "xterm", args...)
}

// operateOn is operate on a kind of terminal, the value of TERM.
func operateOn(t *testing.T, kind string, args ...string) *operated {
	t.Helper()
	dir := copied(t, "../../testdata/script/show")
	replace(t, filepath.Join(dir, "show.toml"), "fade         = 2", "fade = 20")
	text, err := os.ReadFile(filepath.Join(dir, "mixer.toml"))
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, "\n[echo]\n"...)
	if err := os.WriteFile(filepath.Join(dir, "mixer.toml"), text, 0o644); err != nil {
		t.Fatal(err)
	}
	mixer, at := mixerAt(t, &source.File{Name: "mixer.toml", Text: string(text)})
	o := &operated{t: t, ended: make(chan error, 1), journal: filepath.Join(dir, "run.jsonl"), mixer: mixer}
	o.open()
	o.cmd = exec.Command("backfield", append([]string{"run", dir, "--to", at, "--journal", o.journal}, args...)...)
	o.cmd.Stdin, o.cmd.Stdout, o.cmd.Stderr = o.slave, o.slave, o.slave
	o.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	o.cmd.Env = append(os.Environ(), "TERM="+kind)
	if err := o.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { o.cmd.Process.Kill() })
	go func() { o.ended <- o.cmd.Wait() }()
	return o
}

// open makes the terminal: 80 by 24.
func (o *operated) open() {
	t := o.t
	t.Helper()
	var err error
	if o.master, err = os.OpenFile("/dev/ptmx", os.O_RDWR|unix.O_NOCTTY, 0); err != nil {
		t.Skip("this system has no pseudo-terminals: ", err)
	}
	raw, err := o.master.SyscallConn()
	if err != nil {
		t.Fatal(err)
	}
	number := 0
	raw.Control(func(fd uintptr) {
		if err = unix.IoctlSetPointerInt(int(fd), unix.TIOCSPTLCK, 0); err != nil {
			return
		}
		if err = unix.IoctlSetWinsize(int(fd), unix.TIOCSWINSZ, &unix.Winsize{Row: 24, Col: 80}); err != nil {
			return
		}
		number, err = unix.IoctlGetInt(int(fd), unix.TIOCGPTN)
	})
	if err != nil {
		t.Fatal(err)
	}
	if o.slave, err = os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|unix.O_NOCTTY, 0); err != nil {
		t.Fatal(err)
	}
	o.before = o.settings()
	t.Cleanup(func() { o.master.Close() })
	go func() {
		b := make([]byte, 4096)
		for {
			n, err := o.master.Read(b)
			o.mu.Lock()
			o.screen.Write(b[:n])
			o.mu.Unlock()
			if err != nil {
				return
			}
		}
	}()
}

func (o *operated) settings() unix.Termios {
	o.t.Helper()
	s, err := unix.IoctlGetTermios(int(o.slave.Fd()), unix.TCGETS)
	if err != nil {
		o.t.Fatal(err)
	}
	return *s
}

// until waits for something to be so.
func (o *operated) until(what string, so func() bool) {
	o.t.Helper()
	for end := time.Now().Add(15 * time.Second); !so(); time.Sleep(20 * time.Millisecond) {
		if time.Now().After(end) {
			o.mu.Lock()
			defer o.mu.Unlock()
			o.t.Fatalf("never: %s; the screen:\n%q\nthe mixer: %v", what, o.screen.String(), o.held())
		}
	}
}

func (o *operated) typed(text string) { io.WriteString(o.master, text) }

// held is what the mixer holds, by address.
func (o *operated) held() map[string]string {
	held := map[string]string{}
	for _, a := range o.mixer().Addresses {
		held[a.Address] = fmt.Sprint(a.Value)
	}
	return held
}

// intoFade goes to cue 1, and then to cue 2, whose fade is under way when it returns.
func (o *operated) intoFade(screen bool) {
	o.t.Helper()
	if screen {
		o.until("the screen is up", func() bool {
			o.mu.Lock()
			defer o.mu.Unlock()
			return strings.Contains(o.screen.String(), "horn alone")
		})
		time.Sleep(500 * time.Millisecond) // keys are ignored at first
		o.typed(":jump 1\r")
	} else {
		o.typed("jump 1\r")
	}
	o.until("the first cue", func() bool { return o.held()["/in/1/mute"] == "0" })
	time.Sleep(1100 * time.Millisecond) // a go within a second counts as the same press
	if screen {
		o.typed(" ")
	} else {
		o.typed("go\r")
	}
	o.until("the second cue", func() bool { return o.held()["/in/3/mute"] == "0" })
	time.Sleep(300 * time.Millisecond)
	if o.atEnd() {
		o.t.Fatal("the fade is over already")
	}
}

// ends are the levels at the end of cue 2: Horn 1 at 1.5 dB, Bass 1 at -10 dB, on the mixer's own scale.
var ends = map[string]string{"/in/1/level": "0.85", "/in/3/level": "0.6857143"}

func (o *operated) atEnd() bool {
	held := o.held()
	return held["/in/1/level"] == ends["/in/1/level"] && held["/in/3/level"] == ends["/in/3/level"]
}

// ending waits for the run to end by itself, with exit code 0.
func (o *operated) ending() {
	o.t.Helper()
	select {
	case err := <-o.ended:
		if err != nil {
			o.t.Errorf("it ended with %v; the screen:\n%q", err, o.screen.String())
		}
	case <-time.After(2 * time.Minute):
		o.t.Fatal("it goes on")
	}
}

// entries reads the journal, which must be whole.
func (o *operated) entries() []journal.Entry {
	o.t.Helper()
	entries, skipped, err := journalfile.Read(o.journal)
	if err != nil || len(skipped) > 0 || len(entries) == 0 {
		o.t.Fatal(err, skipped)
	}
	return entries
}

func (o *operated) says(text string) bool {
	return slices.ContainsFunc(o.entries(), func(e journal.Entry) bool { return strings.Contains(e.Text, text) })
}

func (o *operated) lastEntry(want string) {
	o.t.Helper()
	entries := o.entries()
	if last := entries[len(entries)-1]; last.Kind != "end" || last.Text != want {
		o.t.Errorf("the journal ends with %+v, not %q", last, want)
	}
}

// closeWindow closes the window of the run.
func (o *operated) closeWindow() {
	o.slave.Close()
	o.master.Close()
}

// SIGTERM, SIGINT and SIGQUIT amid a fade send its end values first. The terminal is left as it was, and the journal has its end.
func TestNoFalseCalm06EndingSignals(t *testing.T) {
	t.Parallel()
	for name, sig := range map[string]syscall.Signal{
		"SIGTERM": syscall.SIGTERM, "SIGINT": syscall.SIGINT, "SIGQUIT": syscall.SIGQUIT,
	} {
		for _, args := range [][]string{nil, {"--text"}, {"--close-on-exit"}} {
			t.Run(fmt.Sprint(name, args), func(t *testing.T) {
				t.Parallel()
				o := operate(t, args...)
				o.intoFade(!slices.Contains(args, "--text"))
				o.cmd.Process.Signal(sig)
				o.ending()
				closed := o.held()["/in/1/mute"] == "1" && o.held()["/in/3/mute"] == "1"
				if want := slices.Contains(args, "--close-on-exit"); closed != want {
					t.Errorf("closed %t, the mixer holds %v", closed, o.held())
				} else if !want && !o.atEnd() {
					t.Errorf("the fade was left partway: %v", o.held())
				}
				o.lastEntry("ended by " + name)
				if after := o.settings(); after != o.before {
					t.Errorf("the terminal was %+v\nand is   %+v", o.before, after)
				}
			})
		}
	}
}

// A window that closes, or a lost connection, does not end the run: it goes on without a screen, amid a fade too, and
// says where to reach it. Then SIGTERM ends it as ever.
func TestNoFalseCalm06HangUp(t *testing.T) {
	t.Parallel()
	for _, args := range [][]string{{"--page"}, {"--text", "--listen", "127.0.0.1:0", "--from", "127.0.0.1"}} {
		t.Run(args[0], func(t *testing.T) {
			t.Parallel()
			o := operate(t, args...)
			o.intoFadeOf(args)
			o.closeWindow()
			o.until("the journal says that it goes on", func() bool { return o.says("the run goes on without a screen") })
			for _, want := range []string{fmt.Sprintf(`end it with "kill %d"`, o.cmd.Process.Pid), "--resume=" + o.journal,
				map[string]string{"--page": "on its page at http://127.0.0.1:", "--text": "by OSC at udp://127.0.0.1:"}[args[0]]} {
				if !o.says(want) {
					t.Errorf("the journal does not say %q: %+v", want, o.entries()[len(o.entries())-1])
				}
			}
			o.until("the fade reaches its end", o.atEnd)
			select {
			case err := <-o.ended:
				t.Fatalf("it has ended: %v", err)
			default:
			}
			o.cmd.Process.Signal(syscall.SIGTERM)
			o.ending()
			o.lastEntry("ended by SIGTERM")
		})
	}
}

// A run without a screen is ended by the machine that may send it commands, in good order.
func TestHeadlessRunIsQuitOverOSC(t *testing.T) {
	t.Parallel()
	for _, gone := range []bool{true, false} {
		o := operate(t, "--text", "--listen", "127.0.0.1:0", "--from", "127.0.0.1")
		o.intoFade(false)
		at := ""
		o.until("the journal says where it is reached", func() bool {
			for _, e := range o.entries() {
				for _, where := range e.Reach {
					at = strings.TrimPrefix(where, "by OSC at ")
				}
			}
			return at != ""
		})
		if gone {
			o.closeWindow()
			o.until("it goes on", func() bool { return o.says("the run goes on without a screen") })
		}
		link, err := wire.Open(at)
		if err != nil {
			t.Fatal(err)
		}
		defer link.Close()
		link.Write(wire.Encode(osc.Message{Address: "/backfield/quit", Args: []osc.Arg{osc.Int32(1)}}))
		o.until("a button does not end it", func() bool { return o.says(`/backfield/quit takes the text "end the run"`) })
		link.Write(wire.Encode(osc.Message{Address: "/backfield/quit", Args: []osc.Arg{osc.String("end the run")}}))
		o.ending()
		if !o.atEnd() {
			t.Errorf("the fade was left partway: %v", o.held())
		}
		if last := o.entries()[len(o.entries())-1]; last.Kind != "end" ||
			!strings.HasPrefix(last.Text, "ended by /backfield/quit from 127.0.0.1:") {
			t.Errorf("the journal ends with %+v", last)
		}
	}
}

// intoFadeOf is intoFade, whether there is a screen or not. With a page its link covers the players until Esc.
func (o *operated) intoFadeOf(args []string) {
	o.t.Helper()
	if slices.Contains(args, "--page") {
		o.until("the page's link is shown", func() bool {
			o.mu.Lock()
			defer o.mu.Unlock()
			return strings.Contains(o.screen.String(), "http://")
		})
		time.Sleep(800 * time.Millisecond)
		o.typed("\x1b")
		time.Sleep(300 * time.Millisecond)
	}
	o.intoFade(!slices.Contains(args, "--text"))
}

// With --close-on-exit a window that closes ends the run, and its worn mics close.
func TestNoFalseCalm06HangUpCloses(t *testing.T) {
	t.Parallel()
	o := operate(t, "--close-on-exit")
	o.intoFade(true)
	o.closeWindow()
	o.ending()
	if o.held()["/in/1/mute"] != "1" || o.held()["/in/3/mute"] != "1" {
		t.Errorf("mics are open: %v", o.held())
	}
	o.lastEntry("ended")
}

// SIGHUP while the terminal is still there is not the end of anything.
func TestNoFalseCalm06HangUpWithTerminal(t *testing.T) {
	t.Parallel()
	o := operate(t)
	o.intoFade(true)
	o.cmd.Process.Signal(syscall.SIGHUP)
	time.Sleep(time.Second)
	o.typed("q")
	time.Sleep(600 * time.Millisecond) // sooner would be a key that is held down
	o.typed("q")
	o.ending()
	if !o.atEnd() {
		t.Errorf("the fade was left partway: %v", o.held())
	}
	o.lastEntry("ended")
	if o.says("the terminal is gone") {
		t.Error("the journal says that the terminal is gone")
	}
}
