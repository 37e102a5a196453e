package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net"
	"os/exec"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// The real command runs the small show at liblo's oscdump; after each settled cue the last that liblo decoded at each
// address is what was compiled. Cues are stepped from stdin, over UDP and over a TCP stream, and by liblo's oscsend.
func TestRunAtLiblo(t *testing.T) {
	t.Parallel()
	outside(t, "oscsend")
	for _, scheme := range []string{"udp", "tcp"} {
		t.Run(scheme, func(t *testing.T) {
			dir := copied(t, "../../testdata/script/show")
			var p source.Problems
			s, err := show.Load(show.Disk{}, show.Path(dir), show.LoadOptions{}, &p)
			if err != nil || s.Show == nil {
				t.Fatal(err, p.All())
			}
			port, held := listening(t, scheme)
			cmd := exec.Command("backfield", "run", dir, "--text", "--to", fmt.Sprintf("%s://127.0.0.1:%d", scheme,
				port), "--listen", "127.0.0.1:0", "--from", "127.0.0.1")
			in, _ := cmd.StdinPipe()
			out, _ := cmd.StdoutPipe()
			talk, _ := cmd.StderrPipe()
			if err := cmd.Start(); err != nil {
				t.Fatal(err)
			}
			t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
			ear := make(chan string, 1)
			go func() {
				for l := bufio.NewScanner(talk); l.Scan(); {
					if _, at, ok := strings.Cut(l.Text(), "listening for commands at udp://"); ok {
						ear <- at
					}
				}
			}()
			said := bufio.NewScanner(out)
			settle := func(cue string) {
				t.Helper()
				fmt.Fprintln(in, "settle")
				for said.Scan() && said.Text() != "settled" {
				}
				snapshot, _ := s.Show.Find(cue)
				var missing string
				for limit := time.Now().Add(5 * time.Second); ; time.Sleep(20 * time.Millisecond) {
					missing = ""
					for _, x := range s.Mixer.Settings(snapshot) {
						if want := asDumped(t, x.Message.String()); held(x.Message.Address) != want {
							missing = fmt.Sprintf("%q, and liblo had %q", want, held(x.Message.Address))
						}
					}
					if missing == "" || time.Now().After(limit) {
						break
					}
				}
				if missing != "" {
					t.Fatalf("cue %s: wanted %s", cue, missing)
				}
			}
			fmt.Fprintln(in, "go")
			fmt.Fprintln(in, "stop") // the clock, or the pan follows a player who walks
			settle("1")
			fmt.Fprintln(in, "jump 3")
			settle("3")
			_, trigger, _ := net.SplitHostPort(<-ear)
			if out, err := exec.Command("oscsend", "127.0.0.1", trigger, "/backfield/jump", "s",
				"5").CombinedOutput(); err != nil {
				t.Fatalf("oscsend: %v %s", err, out)
			}
			time.Sleep(300 * time.Millisecond)
			settle("5")
			in.Close()
			io.Copy(&bytes.Buffer{}, out)
		})
	}
}

// listening starts oscdump over UDP or TCP; held is the last line that it printed for an address.
func listening(t *testing.T, scheme string) (port int, held func(address string) string) {
	t.Helper()
	var mu sync.Mutex
	last := map[string]string{}
	take := func(line string) {
		line = timeTag.ReplaceAllString(line, "")
		address, _, _ := strings.Cut(line, " ")
		mu.Lock()
		last[address] = line
		mu.Unlock()
	}
	if scheme == "udp" {
		port, lines := oscdump(t)
		go func() {
			for line := range lines {
				take(line)
			}
		}()
		return port, func(a string) string { mu.Lock(); defer mu.Unlock(); return last[a] }
	}
	program := outside(t, "oscdump")
	for range 5 { // now and then it does not get the port that was free
		l, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		port = l.Addr().(*net.TCPAddr).Port
		l.Close()
		cmd := exec.Command(program, "-L", "osc.tcp://:"+strconv.Itoa(port))
		out, _ := cmd.StdoutPipe()
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
		go func() {
			for s := bufio.NewScanner(out); s.Scan(); {
				take(s.Text())
			}
		}()
		for range 40 {
			if c, err := net.Dial("tcp", "127.0.0.1:"+strconv.Itoa(port)); err == nil {
				c.Close()
				return port, func(a string) string { mu.Lock(); defer mu.Unlock(); return last[a] }
			}
			time.Sleep(25 * time.Millisecond)
		}
	}
	t.Fatal("oscdump does not listen")
	return 0, nil
}
