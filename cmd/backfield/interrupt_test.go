package main

import (
	"errors"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"syscall"
	"testing"
	"time"

	"backfield/cmd/backfield/verb"
)

// TestInterrupt sends Ctrl-C to the real command amid its work. It ends at once: watch, whose ordinary end that is,
// with 0, and every other one by the signal, which a shell shows as 130.
func TestInterrupt(t *testing.T) {
	t.Parallel()
	if runtime.GOOS == "windows" {
		t.Skip("another process cannot be sent an interrupt on Windows")
	}
	const ending = 30 * time.Second // a generous "at once" for a machine that is busy; each would go on for longer
	small := func(t *testing.T) string { return copied(t, "../../testdata/script/show") }

	// begin starts the command; what it says on stdout and stderr goes to the file that it returns.
	begin := func(t *testing.T, args ...string) (cmd *exec.Cmd, said string) {
		t.Helper()
		said = filepath.Join(t.TempDir(), "said.txt")
		out, err := os.Create(said)
		if err != nil {
			t.Fatal(err)
		}
		defer out.Close()
		cmd = exec.Command("backfield", args...)
		cmd.Stdout, cmd.Stderr = out, out
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { cmd.Process.Kill() })
		return cmd, said
	}
	// interrupt sends the signal and returns how the command ended.
	interrupt := func(t *testing.T, cmd *exec.Cmd, said string) syscall.WaitStatus {
		t.Helper()
		ended := make(chan error, 1)
		go func() { ended <- cmd.Wait() }()
		select {
		case err := <-ended:
			text, _ := os.ReadFile(said)
			t.Fatalf("it ended before it was interrupted: %v\n%s", err, text)
		default:
		}
		if err := cmd.Process.Signal(os.Interrupt); err != nil {
			t.Fatal(err)
		}
		select {
		case err := <-ended:
			var exit *exec.ExitError
			if err != nil && !errors.As(err, &exit) {
				t.Fatal(err)
			}
			return cmd.ProcessState.Sys().(syscall.WaitStatus)
		case <-time.After(ending):
			t.Fatalf("it goes on %v after the interrupt", ending)
		}
		panic("unreachable")
	}
	bySignal := func(t *testing.T, status syscall.WaitStatus) {
		t.Helper()
		if !status.Signaled() || status.Signal() != syscall.SIGINT {
			t.Errorf("it did not end by the signal, but with status %v", status)
		}
	}

	t.Run("watch", func(t *testing.T) {
		t.Parallel()
		cmd, said := begin(t, "watch", small(t))
		for deadline := time.Now().Add(10 * time.Second); ; time.Sleep(5 * time.Millisecond) {
			if text, _ := os.ReadFile(said); strings.Contains(string(text), "; watching 6 files") {
				break
			} else if time.Now().After(deadline) {
				t.Fatalf("it does not watch:\n%s", text)
			}
		}
		if status := interrupt(t, cmd, said); !status.Exited() || status.ExitStatus() != verb.ExitFine {
			t.Errorf("it ended with status %v", status)
		}
	})

	t.Run("send", func(t *testing.T) {
		t.Parallel()
		mixer, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
		if err != nil {
			t.Fatal(err)
		}
		defer mixer.Close()
		dir := small(t)
		replace(t, filepath.Join(dir, "mixer.toml"), "rate     = 2000", "rate = 1") // 16 messages: a quarter of a minute
		cmd, said := begin(t, "send", dir, "2", "--to", mixer.LocalAddr().String())
		packet := make([]byte, 1500)
		arrives := func(wait time.Duration) bool {
			mixer.SetReadDeadline(time.Now().Add(wait))
			_, err := mixer.Read(packet)
			return err == nil
		}
		if !arrives(2 * time.Minute) {
			text, _ := os.ReadFile(said)
			t.Fatalf("nothing is sent:\n%s", text)
		}
		bySignal(t, interrupt(t, cmd, said))
		for arrives(50 * time.Millisecond) { // what was on its way
		}
		if arrives(1500 * time.Millisecond) {
			t.Error("a message was sent after the interrupt")
		}
	})

	t.Run("compile", func(t *testing.T) {
		t.Parallel()
		dir := copied(t, harbor)
		replace(t, filepath.Join(dir, "rig.toml"), "seats = 80", "seats = 3000")
		out := filepath.Join(dir, "tonight")
		cmd, said := begin(t, "compile", dir, "-o", out)
		time.Sleep(300 * time.Millisecond) // amid the work, of which nothing shows outside
		bySignal(t, interrupt(t, cmd, said))
		if _, err := os.Stat(out); !os.IsNotExist(err) {
			t.Errorf("half a compile left a folder: %v", err)
		}
	})
}

// copied is a copy of a folder that the test may change.
func copied(t *testing.T, dir string) string {
	t.Helper()
	to := t.TempDir()
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	return to
}

// replace puts another text into a file for one that must be there.
func replace(t *testing.T, file, old, new string) {
	t.Helper()
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(string(text), old) {
		t.Fatalf("%s does not hold %q", file, old)
	}
	// As one step, so that a busy machine reads no half of it.
	whole := file + ".new"
	if err := os.WriteFile(whole, []byte(strings.ReplaceAll(string(text), old, new)), 0o666); err != nil {
		t.Fatal(err)
	}
	if err := os.Rename(whole, file); err != nil {
		t.Fatal(err)
	}
}
