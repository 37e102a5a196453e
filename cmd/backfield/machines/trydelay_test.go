package machines

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"backfield/layout/source"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// note is what a link was given, and when.
type note struct {
	at     time.Duration
	packet []byte
}

// notes is a link that keeps what it is given.
type notes struct {
	wire.Link
	start time.Time
	list  []note
	fails error
}

func (l *notes) Write(packet []byte) error {
	l.list = append(l.list, note{time.Since(l.start), packet})
	return l.fails
}

func tryMixer(t *testing.T) *mixer.Mixer {
	t.Helper()
	var p source.Problems
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: `[mute]
address = "/m/{channel}"
[level]
address = "/l/{channel}"
off = -120
[delay]
address = "/d/{channel}"
unit = "s"
max = 0.1
`}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	return d
}

// A try sends the delay of its channel and nothing else, jumps that are far apart, then glides of 8 ms/s 50 times a
// second, and ends where it began.
func TestTryDelay(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		link, d := &notes{start: time.Now()}, tryMixer(t)
		var out strings.Builder
		if err := TryDelay(t.Context(), link, d, 7, &out); err != nil {
			t.Fatal(err)
		}
		var last float64
		jumps, glides := 0, 0
		for i, n := range link.list {
			messages, err := wire.Decode(n.packet)
			if err != nil || len(messages) != 1 || messages[0].Address != "/d/7" {
				t.Fatalf("it sends %v, %v", messages, err)
			}
			ms, _ := d.Value("delay", messages[0].Args[0])
			if ms < 20 || ms > TryMaxMS() {
				t.Errorf("a delay of %g ms", ms)
			}
			if i > 0 {
				switch gap := n.at - link.list[i-1].at; {
				case math.Abs(ms-last) > 2 && gap == 1500*time.Millisecond:
					jumps++
				case math.Abs(ms-last) < 0.2001 && (gap == 20*time.Millisecond || gap == 1500*time.Millisecond):
					glides++
				default:
					t.Errorf("from %g to %g ms after %v", last, ms, gap)
				}
			}
			last = ms
		}
		if jumps != 6 || glides != 200 || last != 20 {
			t.Errorf("%d jumps, %d steps of glides, it ends at %g ms", jumps, glides, last)
		}
		lines := strings.Split(out.String(), "\n")
		if len(lines) != 13 || lines[1] != "jump to 30.3 ms" || lines[7] != "glide to 28 ms in a second" ||
			lines[11] != "end: channel 7 has a delay of 20 ms; set what it had before" {
			t.Errorf("it says\n%s", out.String())
		}
	})
}

// A try that is stopped says where it leaves the delay; one that cannot send ends with the reason.
func TestTryDelayEndsEarly(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, cancel := context.WithTimeout(t.Context(), 4*time.Second)
		defer cancel()
		link := &notes{start: time.Now()}
		var out strings.Builder
		if err := TryDelay(ctx, link, tryMixer(t), 7, &out); err != nil || len(link.list) != 3 ||
			!strings.HasSuffix(out.String(), "end: channel 7 has a delay of 23.7 ms; set what it had before\n") {
			t.Errorf("%v, %d messages, %q", err, len(link.list), out.String())
		}
		link.fails = errors.New("no network")
		if err := TryDelay(t.Context(), link, tryMixer(t), 7, &out); !errors.Is(err, link.fails) {
			t.Errorf("the error is %v", err)
		}
	})
}
