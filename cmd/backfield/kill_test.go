package main

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/simulated"
	"backfield/layout/source"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
)

var kills = flag.Int("kills", 3, "how many scripted runs TestKills kills and resumes")

// script is a run whose end does not depend on when its commands come. The pauses let the guard against double presses
// pass.
var script = []string{"go", "pause", "go", "pause", "stop", `nudge "Horn 1" +1.5`, `swap "Horn 2" to 12`, "jump 2",
	"pause", "pause", "pause", `hold "Bass 1"`, "hush", "unhush",
	"go", "stop", "pause", "go", "stop", `nudge "Bass 1" -2`, "back", "stop", "pause", "jump set 5"}

// TestKills kills the real command at random instants of a scripted run and resumes it from its journal: run and mixer
// end where an undisturbed one does. CI kills 300.
func TestKills(t *testing.T) {
	t.Parallel()
	n := *kills
	if testing.Short() {
		n = min(n, 1)
	}
	wantMixer, wantRun := killed(t, nil)
	if len(wantMixer) == 0 || !strings.Contains(wantRun, "cue 5, 0:29.0 at 2:17") {
		t.Fatalf("the undisturbed run ends with %d values in the mixer, and\n%s", len(wantMixer), wantRun)
	}
	for i := range n {
		t.Run(fmt.Sprint(i), func(t *testing.T) {
			t.Parallel()
			gotMixer, gotRun := killed(t, rand.New(rand.NewPCG(uint64(i), 1)))
			if gotRun != wantRun {
				t.Errorf("resumed, it ends with\n%s\nundisturbed with\n%s", gotRun, wantRun)
			}
			for _, a := range wantMixer {
				if !slices.Contains(gotMixer, a) {
					t.Errorf("the mixer should hold %v", a)
				}
			}
		})
	}
}

// killed plays the script, once killed at a random instant unless r is nil. It returns what the mixer holds in the end,
// and where the run stands.
func killed(t *testing.T, r *rand.Rand) (held []string, where string) {
	dir := copied(t, "../../testdata/script/show")
	mixerFile := filepath.Join(dir, "mixer.toml")
	text, err := os.ReadFile(mixerFile)
	if err != nil {
		t.Fatal(err)
	}
	text = append(text, "\n[echo]\n"...)
	if err := os.WriteFile(mixerFile, text, 0o644); err != nil {
		t.Fatal(err)
	}
	mixer, at := mixerAt(t, &source.File{Name: "mixer.toml", Text: string(text)})
	path := filepath.Join(dir, "run.jsonl")
	begin := func(args ...string) (*exec.Cmd, io.WriteCloser, *bytes.Buffer) {
		cmd := exec.Command("backfield", append([]string{"run", dir, "--text", "--to", at}, args...)...)
		var said bytes.Buffer
		cmd.Stdout, cmd.Stderr = &said, &said
		in, err := cmd.StdinPipe()
		if err != nil {
			t.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { cmd.Process.Kill() })
		return cmd, in, &said
	}
	feed := func(in io.Writer, lines []string, until <-chan struct{}) {
		for _, line := range lines {
			wait := time.Duration(0)
			if line == "pause" {
				wait = 420 * time.Millisecond
			} else if r != nil {
				wait = time.Duration(r.IntN(20)) * time.Millisecond
			}
			select {
			case <-until:
				return
			case <-time.After(wait):
			}
			if line != "pause" {
				fmt.Fprintln(in, line)
			}
		}
	}
	rest := script
	args := []string{"--journal", path}
	if r != nil {
		cmd, in, _ := begin(args...)
		dead := make(chan struct{})
		time.AfterFunc(time.Duration(r.IntN(2500))*time.Millisecond, func() {
			cmd.Process.Kill()
			close(dead)
		})
		feed(in, script, dead)
		<-dead
		cmd.Wait()
		if done, begun := carriedOut(t, path); begun {
			rest = after(done)
			args = []string{"--resume=" + path}
		}
	}
	cmd, in, said := begin(args...)
	feed(in, rest, nil)
	fmt.Fprintln(in, "settle\nstatus")
	in.Close()
	if err := cmd.Wait(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	status := said.String()[strings.LastIndex(said.String(), "settled\n"):]
	status = strings.Split(status, "\nmixer ")[0] // its port is another in each run
	for _, a := range mixer().Addresses {
		held = append(held, fmt.Sprintf("%s %v", a.Address, a.Value))
	}
	return held, status
}

// carriedOut counts the commands in a journal; begun reports whether there is one to resume from.
func carriedOut(t *testing.T, path string) (n int, begun bool) {
	file, err := os.Open(path)
	if err != nil {
		return 0, false
	}
	defer file.Close()
	entries, _, err := journal.Read(file)
	if err != nil {
		t.Fatal(err)
	}
	under := false // a step that a command led to, whose own entry did not make it
	for _, e := range entries {
		switch {
		case e.Kind == "command":
			n++
			under = false
		case e.Kind == "step" && e.Command != "":
			under = true
		}
	}
	if under {
		n++
	}
	return n, len(entries) > 0
}

// after is what is left of the script after n commands.
func after(n int) []string {
	rest := []string{"pause"}
	for _, line := range script {
		if line != "pause" && n > 0 {
			n--
		} else if n == 0 {
			rest = append(rest, line)
		}
	}
	return rest
}

// mixerAt starts a virtual mixer on a port of this computer; state is what it holds when all has arrived.
func mixerAt(t *testing.T, file *source.File) (state func() virtual.DeviceState, at string) {
	t.Helper()
	var p source.Problems
	d := mixer.Read(file, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	ctx, stop := context.WithCancel(context.Background())
	t.Cleanup(stop)
	held, at, err := simulated.Start(ctx, d)
	if err != nil {
		t.Fatal(err)
	}
	return held, at
}
