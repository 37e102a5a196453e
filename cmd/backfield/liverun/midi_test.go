package liverun

import (
	"math"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/term"
	"backfield/layout/source"
	"backfield/osc/midi"
	"backfield/osc/presses"
	"backfield/osc/run"
	"backfield/osc/timecode"
)

// following starts a run of the smallest example that takes MIDI over TCP as a remote.toml says, and returns the other
// end of the connection.
func following(t *testing.T, remote string) (*LiveRun, net.Conn) {
	t.Helper()
	s, _, at := example(t, "tiny")
	var p source.Problems
	if s.Remote = presses.Read(&source.File{Name: "remote.toml", Text: remote}, &p); p.Errors() > 0 {
		t.Fatal(p.All())
	}
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	notices := term.NewNotices(os.Stderr)
	t.Cleanup(func() { notices.Close() })
	r, err := Start(t.Context(), s, StartOptions{Score: "show.toml", To: []string{at}, Plain: true, Notices: notices, Beside: true,
		Journal: filepath.Join(t.TempDir(), "run.jsonl")})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(r.Close)
	where, err := r.MIDI("tcp:" + l.Addr().String())
	if err != nil || where == "" {
		t.Fatal(where, err)
	}
	conn, err := l.Accept()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	return r, conn
}

// until waits until the run's status says something.
func until(t *testing.T, r *LiveRun, want string) {
	t.Helper()
	said := ""
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		v, _ := r.Driver.View()
		if said = v.Step + " | " + v.Tempo() + " | " + v.Stopped; strings.Contains(said, want) {
			return
		}
	}
	t.Fatalf("the run never said %q; it says %q", want, said)
}

// A footswitch: a press goes, its release does nothing, running status and time inside messages are read.
func TestMIDIPresses(t *testing.T) {
	t.Parallel()
	r, conn := following(t, "[press]\ngo = \"note 60\"\nhush = \"controller 64\"\n")
	conn.Write([]byte{0x90, 60, midi.ActiveSensing, 100, 60, 0, 61, 100, 0x7F})
	until(t, r, "1 |")
	conn.Write([]byte{0xB3, 64, 127, 64, 0})
	for end := time.Now().Add(20 * time.Second); ; time.Sleep(10 * time.Millisecond) {
		if v, _ := r.Driver.View(); v.Hush {
			break
		}
		if time.Now().After(end) {
			t.Fatal("it is not hushed")
		}
	}
}

// Time code over the cable: the first cue goes when its time has come, and the clock is the code's.
func TestMIDITimeCode(t *testing.T) {
	t.Parallel()
	r, conn := following(t, "[time]\nfrom = \"time code\"\nrate = \"30\"\nbegins = [\"01:00:00:00\"]\n")
	until(t, r, "waiting for time code")
	from := timecode.Code{Minutes: 59, Seconds: 59, Rate: timecode.NTSC}
	begin := time.Now()
	for n := range 360 { // 3 s
		time.Sleep(time.Until(begin.Add(time.Duration(n) * time.Second / 120)))
		conn.Write([]byte{midi.QuarterFrame, timecode.At(from.Count()+n/8*2, from.Rate).Piece(n % 8)})
	}
	v, _ := r.Driver.View()
	if want := time.Since(begin).Seconds() - 1; math.Abs(v.ShowS-want) > 0.2 || v.Step == "" || !v.Running {
		t.Errorf("at %.3f s the clock is at %.3f s, cue %q, running %t", want, v.ShowS, v.Step, v.Running)
	}
	if _, err := r.Do(run.Command{Verb: run.Stop}); err != nil {
		t.Error(err)
	}
	if v, _ := r.Driver.View(); !v.Outer.Alarm || !strings.HasSuffix(v.Outer.Text, "not followed since stop: start follows it again") {
		t.Errorf("%+v", v.Outer)
	}
}

// What cannot be a MIDI cable is refused at once.
func TestOpenMIDI(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	for where, want := range map[string]string{
		folder:          "is neither a device nor a named pipe",
		"tcp:nonsense":  "has no port",
		"tcp:":          "has no port",
		folder + "/pip": "", // it may be plugged in later
	} {
		_, err := OpenMIDI(where)
		if (err == nil) != (want == "") || err != nil && !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", where, err, want)
		}
	}
}
