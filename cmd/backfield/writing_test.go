package main

import (
	"bytes"
	"flag"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/verb"
)

var harms = flag.Int("harms", 10, "how many compiles TestKilledWhileWriting kills")

// compiledFiles are those that compile replaces together.
var compiledFiles = []string{"snapshots.json", "snapshots.csv", "messages.txt"}

func contents(t *testing.T, dir string) map[string][]byte {
	t.Helper()
	held := map[string][]byte{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		if held[e.Name()], err = os.ReadFile(filepath.Join(dir, e.Name())); err != nil {
			t.Fatal(err)
		}
	}
	return held
}

// TestKilledWhileWriting kills the real command at random instants while it replaces compiled files: each file is the
// old or the new one, whole, and a later compile clears away what the dead one left.
func TestKilledWhileWriting(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/script/show")
	out := filepath.Join(dir, "compiled")
	compile := func() *exec.Cmd { return exec.Command("backfield", "compile", dir) }
	version := func(level string) map[string][]byte {
		replace(t, filepath.Join(dir, "show.toml"), "\nsupport = ", "\nsupport = "+level+" #")
		if said, err := compile().CombinedOutput(); err != nil {
			t.Fatalf("%v\n%s", err, said)
		}
		return contents(t, out)
	}
	old := version("-9")
	begun := time.Now()
	fresh := version("-8")
	took := time.Since(begun)
	for _, name := range compiledFiles {
		if bytes.Equal(old[name], fresh[name]) {
			t.Fatalf("%s does not depend on the level", name)
		}
	}
	r := rand.New(rand.NewPCG(11, 11))
	left, killed := 0, 0
	for range *harms {
		for name, data := range old {
			if err := os.WriteFile(filepath.Join(out, name), data, 0o644); err != nil {
				t.Fatal(err)
			}
		}
		cmd := compile()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		time.Sleep(time.Duration(r.Int64N(int64(took))))
		cmd.Process.Kill()
		if cmd.Wait() != nil {
			killed++
		}
		held := contents(t, out)
		for _, name := range compiledFiles {
			if !bytes.Equal(held[name], old[name]) && !bytes.Equal(held[name], fresh[name]) {
				t.Errorf("%s is neither the old nor the new one: %d bytes", name, len(held[name]))
			}
		}
		left = len(held) - len(compiledFiles)
	}
	t.Logf("%d of %d compiles were killed; temporary files left: %d", killed, *harms, left)
	long := time.Now().Add(-2 * publish.Abandoned)
	for name := range contents(t, out) {
		if err := os.Chtimes(filepath.Join(out, name), long, long); err != nil {
			t.Fatal(err)
		}
	}
	if said, err := compile().CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	if held := contents(t, out); len(held) != len(compiledFiles) {
		t.Errorf("the folder holds %d files after a whole compile", len(held))
	}
}

// TestDiskFull compiles onto a full disk and onto one that is read-only. It needs the right to mount one.
func TestDiskFull(t *testing.T) {
	t.Parallel()
	if runtime.GOOS != "linux" || os.Geteuid() != 0 {
		t.Skip("a full disk is a small one that is mounted: only root on Linux may")
	}
	dir, disk := copied(t, "../../testdata/script/show"), t.TempDir()
	mount := func(options ...string) error {
		return exec.Command("mount", append(options, "-t", "tmpfs", "none", disk)...).Run()
	}
	if err := mount("-o", "size=128k"); err != nil {
		t.Skipf("no disk can be mounted here: %v", err)
	}
	defer exec.Command("umount", disk).Run()
	out := filepath.Join(disk, "compiled")
	compile := func() (string, int) {
		cmd := exec.Command("backfield", "compile", dir, "-o", out)
		said, _ := cmd.CombinedOutput()
		return string(said), cmd.ProcessState.ExitCode()
	}
	if said, code := compile(); code != verb.ExitFine {
		t.Fatalf("the disk is too small at once: %d\n%s", code, said)
	}
	before := contents(t, out)
	same := func(what string) {
		t.Helper()
		now := contents(t, out)
		for name, data := range before {
			if !bytes.Equal(now[name], data) {
				t.Errorf("%s: %s has changed", what, name)
			}
		}
		if len(now) != len(before) {
			t.Errorf("%s: %d files, not %d", what, len(now), len(before))
		}
	}
	// Fill it up, and write a version that differs.
	fill := filepath.Join(disk, "fill")
	os.WriteFile(fill, make([]byte, 256<<10), 0o644) // as much as there is room for
	replace(t, filepath.Join(dir, "show.toml"), "\nsupport = ", "\nsupport = -8 #")
	said, code := compile()
	if code != verb.ExitWorld || !strings.Contains(said, "no space left") {
		t.Errorf("a full disk ends with %d\n%s", code, said)
	}
	same("a full disk")
	os.Remove(fill)
	if err := mount("-o", "remount,ro"); err != nil {
		t.Fatal(err)
	}
	if said, code = compile(); code != verb.ExitWorld || !strings.Contains(said, "read-only") {
		t.Errorf("a read-only disk ends with %d\n%s", code, said)
	}
	same("a read-only disk")
	if err := mount("-o", "remount,rw"); err != nil {
		t.Fatal(err)
	}
	if said, code = compile(); code != verb.ExitFine {
		t.Errorf("with room again: %d\n%s", code, said)
	}
}
