package main

import (
	"bufio"
	"bytes"
	"context"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/wire"
)

// outside returns the path of a program that is not ours, or skips; where BACKFIELD_REQUIRE_TOOLS is set its
// absence is a failure.
func outside(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err == nil {
		return path
	}
	if os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
		t.Fatalf("%s is not installed, and the tests require it", program)
	}
	t.Skipf("%s is not installed (Debian: liblo-tools)", program)
	return ""
}

// oscdump starts liblo's listener on a free loopback port and returns the port and the lines it prints.
func oscdump(t *testing.T) (port int, lines <-chan string) {
	t.Helper()
	program := outside(t, "oscdump")
	probe, err := net.ListenUDP("udp4", &net.UDPAddr{IP: net.IPv4(127, 0, 0, 1)})
	if err != nil {
		t.Fatal(err)
	}
	port = probe.LocalAddr().(*net.UDPAddr).Port
	probe.Close()
	cmd := exec.Command(program, "-L", strconv.Itoa(port))
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { cmd.Process.Kill(); cmd.Wait() })
	c := make(chan string, 4096)
	go func() {
		defer close(c)
		s := bufio.NewScanner(out)
		for s.Scan() {
			c <- s.Text()
		}
	}()
	conn, err := net.Dial("udp", "127.0.0.1:"+strconv.Itoa(port))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	for range 100 { // until it listens
		conn.Write(wire.Encode(osc.Message{Address: "/are/you/there"}))
		select {
		case <-c:
			conn.Write(wire.Encode(osc.Message{Address: "/that/is/all"}))
			for line := range c { // what more of these was under way
				if strings.Contains(line, "/that/is/all") {
					return port, c
				}
			}
		case <-time.After(50 * time.Millisecond):
		}
	}
	t.Fatal("oscdump does not listen")
	return 0, nil
}

var timeTag = regexp.MustCompile(`^[0-9a-f]+\.[0-9a-f]+ `)

// asDumped is a message of messages.txt as oscdump prints it: floats with six decimals.
func asDumped(t *testing.T, line string) string {
	t.Helper()
	fields := strings.Fields(line)
	if len(fields) != 3 {
		t.Fatalf("the line %q is not address, tag and argument", line)
	}
	if fields[1] == "f" {
		v, err := strconv.ParseFloat(fields[2], 32)
		if err != nil {
			t.Fatal(err)
		}
		fields[2] = strconv.FormatFloat(v, 'f', 6, 64)
	}
	return strings.Join(fields, " ")
}

// What liblo decodes of every cue of the demo that is sent with `backfield send` is what the compiled
// messages.txt says, line by line and in order.
func TestLibloHearsTheDemo(t *testing.T) {
	t.Parallel()
	port, lines := oscdump(t)
	demo := smallDemo(t)
	dir := t.TempDir()
	if code := execute(context.Background(), []string{"compile", demo, "-o", dir, "--full"}, &bytes.Buffer{},
		os.Stderr); code != 0 {
		t.Fatalf("compile ended with %d", code)
	}
	text, err := os.ReadFile(filepath.Join(dir, "messages.txt"))
	if err != nil {
		t.Fatal(err)
	}
	cues := strings.Split(string(text), "# cue ")[1:]
	if len(cues) < 40 {
		t.Fatalf("the demo has %d cues", len(cues))
	}
	const every, least = 20, 300 // each send compiles the show again
	compared := 0
	for i, c := range cues {
		if i%every != 0 && i != len(cues)-1 { // each send lasts a moment at the mixer's rate
			continue
		}
		head, body, _ := strings.Cut(c, "\n")
		id, _, _ := strings.Cut(head, " ")
		if code := execute(context.Background(), []string{"send", demo, id, "--to", "127.0.0.1:" + strconv.Itoa(port)},
			&bytes.Buffer{}, &bytes.Buffer{}); code != 0 {
			t.Fatalf("send of cue %s ended with %d", id, code)
		}
		for _, want := range strings.Split(strings.TrimSpace(body), "\n") {
			want = asDumped(t, want)
			select {
			case got := <-lines:
				if got = timeTag.ReplaceAllString(got, ""); got != want {
					t.Fatalf("cue %s: liblo heard %q, compiled was %q", id, got, want)
				}
				compared++
			case <-time.After(time.Minute):
				t.Fatalf("cue %s: liblo never heard %q", id, want)
			}
		}
	}
	if compared < least {
		t.Errorf("compared only %d messages", compared)
	}
}

// The difference between cues, sent one after the other to a table of addresses, leaves what the full
// snapshot holds: what messages.txt lists is enough.
func TestDifferencesAddUp(t *testing.T) {
	t.Parallel()
	s := compiledOnce()
	held := map[string]string{}
	for i := range s.Show.Cues {
		prev := &s.Show.Cues[max(i-1, 0)]
		if i == 0 {
			prev = nil
		}
		for _, m := range s.Mixer.Messages(prev, &s.Show.Cues[i]) {
			held[m.Address] = m.String()
		}
		for _, m := range s.Mixer.Messages(nil, &s.Show.Cues[i]) {
			if held[m.Address] != m.String() {
				t.Fatalf("cue %s: the mixer holds %q, the snapshot %q", s.Show.Cues[i].ID, held[m.Address], m)
			}
		}
	}
}
