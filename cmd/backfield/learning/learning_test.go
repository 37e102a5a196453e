package learning

import (
	"bytes"
	"context"
	"errors"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue/keep"
	"backfield/layout/source"
	"backfield/osc/midi"
	"backfield/osc/presses"
)

func remote(t *testing.T, text string) *presses.Remote {
	t.Helper()
	var p source.Problems
	r := presses.Read(&source.File{Name: "remote.toml", Text: text}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	return r
}

// sender parses bytes and gives each message to a channel that nothing buffers, a second after the one before: no press
// is taken for the bounce of another, and all of them have been taken when it returns.
func sender() (send func(data ...byte), messages chan CableEvent) {
	var cable midi.Cable
	at := time.Date(2026, 9, 12, 20, 0, 0, 0, time.UTC)
	messages = make(chan CableEvent)
	return func(data ...byte) {
		for _, b := range data {
			if m, ok := cable.Read(b); ok {
				at = at.Add(time.Second)
				m.Data = slices.Clone(m.Data)
				messages <- CableEvent{Message: m, At: at}
			}
		}
	}, messages
}

// Presses are asked for one after the other. What a switch sends when it is let go does not count, a switch that is
// taken is refused, and Enter skips.
func TestAsk(t *testing.T) {
	send, messages := sender()
	lines := make(chan string)
	var out bytes.Buffer
	l := Learner{MIDI: messages, Lines: lines, Out: &out, Remote: remote(t, "[press]\nback = [\"note 7\", \"program 2\"]\n")}
	type answer struct {
		rows []keep.PressRow
		err  error
	}
	done := make(chan answer)
	go func() {
		rows, err := l.Ask(t.Context())
		done <- answer{rows, err}
	}()
	send(0xFE, 0x90, 60, 100, 0x80, 60, 0) // active sensing, a note on, its off: go
	lines <- ""                            // back stays
	send(0x90, 60, 90, 0x90, 60, 0)        // go's again
	send(0xB3, 64, 0, 64, 127)             // released, then pressed, by running status: hush
	close(lines)
	send(0xC0, 5) // unhush
	a := <-done
	want := []keep.PressRow{{Key: "go", Message: "note 60 channel 1"}, {Key: "hush", Message: "controller 64 channel 4"},
		{Key: "unhush", Message: "program 5 channel 1"}}
	if a.err != nil || !slices.Equal(a.rows, want) {
		t.Errorf("%v, %v", a.rows, a.err)
	}
	for _, say := range []string{"go (now: nothing): press it", "back (now: note 7, program 2): press it",
		"back stays as it is", "note 60 channel 1 is go already: press another one"} {
		if !strings.Contains(out.String(), say) {
			t.Errorf("it does not say %q:\n%s", say, out.String())
		}
	}
}

// A message that comes at once after a press is of the same switch.
func TestAskBounce(t *testing.T) {
	messages := make(chan CableEvent)
	var out bytes.Buffer
	l := Learner{MIDI: messages, Out: &out, Remote: remote(t, "")}
	done := make(chan []keep.PressRow)
	go func() {
		rows, _ := l.Ask(t.Context())
		done <- rows
	}()
	r, w := io.Pipe()
	raw := Read(r, t.Context().Done())
	go w.Write([]byte{0x90, 1, 9, 0xB0, 2, 127, 0x90, 3, 9, 0x90, 4, 9, 0x90, 5, 9})
	at := time.Now()
	for _, afterMS := range []int{0, 50, 500, 1000, 1500} {
		x := <-raw
		x.At = at.Add(time.Duration(afterMS) * time.Millisecond)
		messages <- x
	}
	if rows := <-done; len(rows) != 4 || rows[1].Message != "note 3 channel 1" {
		t.Errorf("%v\n%s", rows, out.String())
	}
}

// The end of the cable, and Ctrl-C, end the questions without an answer.
func TestAskEnds(t *testing.T) {
	r, w := io.Pipe()
	w.Close()
	l := Learner{MIDI: Read(r, t.Context().Done()), Out: io.Discard, Remote: remote(t, "")}
	if _, err := l.Ask(t.Context()); err == nil || !strings.Contains(err.Error(), "the cable has ended") {
		t.Errorf("%v", err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	l = Learner{MIDI: make(chan CableEvent), Out: io.Discard, Remote: remote(t, "")}
	if _, err := l.Ask(ctx); !errors.Is(err, errStopped) {
		t.Errorf("%v", err)
	}
}

func TestYes(t *testing.T) {
	for typed, want := range map[string]bool{"yes": true, "what\ny": true, "no": false, "": false, "maybe": false} {
		lines := make(chan string, 4)
		for _, x := range strings.Split(typed, "\n") {
			lines <- x
		}
		close(lines)
		l := Learner{Lines: lines, Out: io.Discard}
		if got := l.Yes(t.Context(), "Write it?"); got != want {
			t.Errorf("%q: %t", typed, got)
		}
	}
}

// Each message is printed with its command, and a time that runs once a second.
func TestWatch(t *testing.T) {
	send, messages := sender()
	r := remote(t, "midi = \"x\"\n[press]\ngo = \"note 60\"\n[time]\nfrom = \"time code\"\nrate = \"25\"\n")
	var out bytes.Buffer
	ended := make(chan error)
	go func() { ended <- Watch(t.Context(), messages, &out, r) }()
	send(0x92, 60, 100, 61, 100, 60, 0, 0xF0, 0x7F, 0x7F, 1, 1, 0x21, 2, 3, 4, 0xF7)
	for _, piece := range []byte{0x04, 0x10, 0x23, 0x30, 0x42, 0x50, 0x61, 0x72} { // 01:02:03:04, 25 frames a second
		send(0xF1, piece)
	}
	send(0xF2, 16, 0, 0xFA)
	messages <- CableEvent{Err: errors.New("ended")}
	if err := <-ended; err == nil {
		t.Error("no error at the end of the cable")
	}
	for _, want := range []string{"note 60 on, velocity 100, channel 3  gives go", "note 61 on, velocity 100, channel 3  gives nothing",
		"note 60 off, channel 3", "time code at 01:02:03:04, 25 frames a second", "time code 01:02:03:", "MIDI clock at quarter note 5.00"} {
		if !regexp.MustCompile(`(?m)^\d\d:\d\d:\d\d\.\d{3}  ` + regexp.QuoteMeta(want)).MatchString(out.String()) {
			t.Errorf("it does not print %q:\n%s", want, out.String())
		}
	}
	out.Reset()
	Print(&out, r)
	if out.String() != "note 60                  go\nMIDI comes from x\nthe run goes by time code\nmovement 1 begins at 01:00:00:00\n" {
		t.Errorf("it prints\n%s", out.String())
	}
}
