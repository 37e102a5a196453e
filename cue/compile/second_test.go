package compile

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"sync/atomic"
	"testing"

	"backfield/cue"
	"backfield/cue/timeline"
)

// The files second*_test.go compute every number of a show a second time, from the formulas alone and as plainly as can
// be: no table, no shortcut, nothing shared with the compiler but its input and its output. Random shows are compiled
// both ways and must agree. Paths and knots are those of cue/plain. This one holds the comparison, second_show_test.go the random shows.

type spot struct{ x, y, z float64 } // meters

func (a spot) to(b spot) float64 {
	return math.Sqrt((a.x-b.x)*(a.x-b.x) + (a.y-b.y)*(a.y-b.y) + (a.z-b.z)*(a.z-b.z))
}

type plainTempo struct{ at, bpm, over, pause float64 } // bpm 0: none is written

type plainMovement struct {
	wait  float64
	tempo []plainTempo
}

type plainSet struct {
	label        string
	movement     int // from 1
	counts, hold float64
}

// plainMic is a player who wears one, or a fixed one.
type plainMic struct {
	name, group  string // section, or kind
	channel      int
	fixed        bool
	height, trim float64
	policy       string
	dots         [][2]float64 // in steps, by set
	at           spot         // of a fixed mic
	pan, delay   *float64     // of a fixed mic, set in the rig
}

type plainStack struct {
	name               string
	at                 spot
	written            bool // whether left and right are
	left, right        float64
	trim, delay        float64 // dB, ms
	zone               int
	sub                bool
	amplitude, delaySI float64
}

type plainBlock struct {
	fx, fy, fz, fwidth float64
	bx, by, bz, bwidth float64
	rows, seats        int
	spacing            float64 // instead of seats
	weight             float64
}

type plainSeat struct {
	at     spot
	weight float64
}

type plainRole struct {
	name   string
	level  float64
	policy string
}

type plainCue struct {
	id, at   string
	movement int
	elapsed  float64 // counts since the downbeat
	role     map[string]string
	opened   [][2]string // role and name as they are written: a group begins with @
	nudges   map[string]float64
	policy   string
}

type plainShow struct {
	seed      int64
	movements []plainMovement
	sets      []plainSet
	mics      []plainMic
	always    string // role of the fixed mics that are always open, "" for none

	grid28              bool
	air, latency        float64 // degC, ms
	zones               bool
	mostZones           int // stacks that carry one player
	ref                 spot
	refWeight           float64
	blocks              []plainBlock
	surveyed            []plainSeat
	stacks              []plainStack
	roles               []plainRole
	policy              string
	lead, window, width float64
	free, standFit      bool
	makeFrom, makeMost  float64

	cues  []plainCue
	law   string
	mixer timeline.MixerSpec
}

// TestSecondOpinion compiles random shows both ways. A show that fails is found again by its seed.
func TestSecondOpinion(t *testing.T) {
	shows := 300
	if testing.Short() {
		shows = 40
	}
	var snapshots, channels, knots, near atomic.Int64
	t.Run("seed", func(t *testing.T) {
		for seed := 1; seed <= shows; seed++ {
			t.Run(fmt.Sprint(seed), func(t *testing.T) {
				t.Parallel()
				s := randomShow(int64(seed))
				r, p := s.compile()
				if r.Show == nil {
					t.Fatalf("does not compile:\n%s", said(p))
				}
				want := s.work()
				for i := range max(len(r.Show.Cues), len(want)) {
					if i >= len(r.Show.Cues) || i >= len(want) {
						t.Fatalf("%d snapshots, want %d:\n%s", len(r.Show.Cues), len(want), timesOf(r.Show, want))
					}
					got := &r.Show.Cues[i]
					w := want[i]
					if got.ID != w.id || got.Movement != w.movement || math.Abs(got.Count-w.count) > 1e-6 ||
						math.Abs(got.TimeS-w.time) > 2e-6 {
						t.Fatalf("snapshot %s %d:%g at %g s, want %s %d:%g at %g s\n%s", got.ID, got.Movement,
							got.Count, got.TimeS, w.id, w.movement, w.count, w.time, timesOf(r.Show, want))
					}
					snapshots.Add(1)
					for _, ch := range got.Channels {
						mine := w.channels[ch.Channel]
						if ch.Open != mine.open {
							t.Errorf("cue %s channel %d: open %v", got.ID, ch.Channel, ch.Open)
							continue
						}
						if ch.Open {
							channels.Add(1)
							knots.Add(int64(len(ch.Glide)))
						} else {
							mine = s.waiting(want, i, ch.Channel)
						}
						text, edge := mine.differs(ch)
						if edge {
							near.Add(1)
						}
						if text != "" {
							t.Errorf("cue %s channel %d: %s", got.ID, ch.Channel, text)
						}
					}
				}
			})
		}
	})
	t.Logf("%d snapshots, %d open channels, %d knots, %d on the edge of a step", snapshots.Load(), channels.Load(),
		knots.Load(), near.Load())
	if knots.Load() < snapshots.Load() {
		t.Errorf("only %d knots: nobody moves", knots.Load())
	}
	if n := near.Load(); n > int64(shows/100+1) {
		t.Errorf("%d values differ because they lie on the edge of a step: too many to be chance", n)
	}
}

// waiting is a closed channel: its pan, delay and sends are those that it needs next, or had last.
func (s *plainShow) waiting(pieces []plainPiece, at, channel int) plainChannel {
	w := plainChannel{sends: map[int]float64{}, sendEdge: map[int]float64{}}
	if s.zones {
		for _, k := range s.heard() {
			w.sends[k.zone] = math.Inf(-1)
		}
	}
	for i := range pieces {
		if o := pieces[i].channels[channel]; o.open {
			if w = o; i > at {
				break
			}
		}
	}
	w.open, w.bends = false, nil
	w.level, w.levelEdge = math.Inf(-1), 1
	return w
}

func timesOf(show *cue.Show, want []plainPiece) string {
	var b strings.Builder
	for _, c := range show.Cues {
		fmt.Fprintf(&b, " %s %d:%g", c.ID, c.Movement, c.Count)
	}
	b.WriteString("\nwant")
	for _, w := range want {
		fmt.Fprintf(&b, " %s %d:%g", w.id, w.movement, w.count)
	}
	return b.String()
}

// differs says what in a channel is not as computed here. edge: only because a value lies where rounding turns over,
// after which what follows from it cannot be compared.
func (w plainChannel) differs(got cue.Channel) (text string, edge bool) {
	const same, turn = 1e-6, 1e-7
	var list []string
	off := func(name string, got, want, margin float64) {
		switch {
		case math.Abs(got-want) <= same || got == want:
		case margin <= turn:
			edge = true
		default:
			list = append(list, fmt.Sprintf("%s %v, want %v", name, got, want))
		}
	}
	off("level", float64(got.LevelDB), w.level, w.levelEdge)
	off("pan", got.Pan, w.pan, w.panEdge)
	if edge {
		return strings.Join(list, "; "), true
	}
	off("delay", got.DelayMS, w.delay, w.delayEdge)
	if len(got.Sends) != len(w.sends) {
		list = append(list, fmt.Sprintf("%d sends, want %d", len(got.Sends), len(w.sends)))
	}
	for _, k := range got.Sends {
		want, ok := w.sends[k.Zone]
		if !ok {
			list = append(list, fmt.Sprintf("a send to zone %d", k.Zone))
		}
		off(fmt.Sprint("send ", k.Zone), float64(k.LevelDB), want, w.sendEdge[k.Zone])
	}
	if edge {
		return strings.Join(list, "; "), true
	}
	if got.Fit != nil && !math.IsNaN(w.served) && math.Abs(got.Fit.Served-w.served) > 1e-4/2+1e-7 {
		list = append(list, fmt.Sprintf("in time %v, want %v", got.Fit.Served, w.served))
	}
	if text := w.differsAfter(got.Glide); text != "" {
		list = append(list, text)
	}
	return strings.Join(list, "; "), edge
}

// differsAfter compares the knots between a cue and the next. None are written where nothing moves.
func (w plainChannel) differsAfter(got []cue.Knot) string {
	if len(got) == 0 {
		for _, b := range w.bends {
			if math.Abs(b.delay-w.bendDelay) > 1e-6 || math.Abs(b.pan-w.bendPan) > 1e-6 ||
				math.Abs(b.level-w.levelRaw) > w.levelStep {
				return fmt.Sprintf("no knots, want %v from %v ms, %v on", w.bends, w.bendDelay, w.bendPan)
			}
		}
		return ""
	}
	same := len(got) == len(w.bends)
	for i := 0; same && i < len(got); i++ {
		k, b := got[i], w.bends[i]
		pan := k.Pan
		if k.Place != nil {
			pan = *k.Place
		}
		same = k.Movement == b.at.movement && math.Abs(k.Count-b.at.elapsed-1) < 1e-5 &&
			math.Abs(k.DelayMS-b.delay) < 1e-5 && math.Abs(pan-b.pan) < 1e-5
		if k.LevelDB != nil {
			same = same && math.Abs(float64(*k.LevelDB)-b.level) < 0.5001*w.levelStep
		}
	}
	if !same {
		text, _ := json.Marshal(got)
		return fmt.Sprintf("knots %s, want %v", text, w.bends)
	}
	return ""
}
