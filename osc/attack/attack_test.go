// Package attack plays attackers against a run, each from its seeds: a mixer whose echoes are stale or late, one that lies,
// a second sender, unknown clients at the port for commands, torn and hostile journals, and signals. Whatever they do, there
// must be no mic open that the show closes and nobody moved, nothing called confirmed that the mixer does not have, no
// footswitch locked out, no panic, and no memory without a limit. How many seeds are played does not depend on how fast the
// computer is. CI plays more of them (-more 3), and a night is
//
//	go test ./osc/attack -attack 10m -timeout 3h
//
// A failure names its seed; -seed plays that one alone.
package attack

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/feed"
	"backfield/osc/glance"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

var (
	attackFor = flag.Duration("attack", 0, "how long each attacker goes on, instead of a number of seeds")
	more      = flag.Uint64("more", 1, "play so many times the seeds")
	onlySeed  = flag.Uint64("seed", 0, "play this seed alone")
)

// seeds plays an attacker from seeds 1 to count, or with -attack until its time is over.
func seeds(t *testing.T, count uint64, play func(seed uint64) error) {
	t.Helper()
	first, last := uint64(1), count**more
	switch {
	case *onlySeed > 0:
		first, last = *onlySeed, *onlySeed
	case testing.Short():
		last = max(1, last/5)
	}
	began, seed := time.Now(), first
	for ; seed <= last || *attackFor > 0 && time.Since(began) < *attackFor; seed++ {
		if err := play(seed); err != nil {
			t.Fatalf("seed %d: %v", seed, err)
		}
	}
	t.Logf("%d seeds", seed-first)
}

const (
	channels = 12
	tick     = 5 * time.Millisecond
)

const mixerText = `
channels = 16
rate = 500
[mute]
address = "/in/{channel}/mute"
[level]
address = "/in/{channel}/level"
scale = { table = [[-70, 0], [0, 0.8], [6, 1]] }
[pan]
address = "/in/{channel}/pan"
[delay]
address = "/in/{channel}/delay"
max = 500
[echo]
`

const query = `
[query]
address = "{address}"
`

func readMixer(text string) *mixer.Mixer {
	var p source.Problems
	m := mixer.Read(&source.File{Name: "mixer.toml", Text: text}, &p)
	if p.Errors() > 0 {
		panic(p.All())
	}
	return m
}

// randomShow is a show of cues that open and close channels.
func randomShow(r *rand.Rand) *cue.Show {
	s := &cue.Show{Title: "Attacked"}
	for i := range 6 + r.IntN(6) {
		snapshot := cue.Snapshot{ID: fmt.Sprint(i + 1), TimeS: 10 * float64(i+1)}
		for n := 1; n <= channels; n++ {
			c := cue.Channel{Channel: n, Player: fmt.Sprintf("Horn %d", n), Kind: cue.Worn, LevelDB: cue.Silent,
				DelayMS: float64(r.IntN(400)), Pan: float64(r.IntN(3) - 1)}
			if r.IntN(2) == 0 {
				c.Open, c.Role, c.LevelDB = true, "feature", cue.Level(-r.IntN(12))
			}
			snapshot.Channels = append(snapshot.Channels, c)
		}
		s.Cues = append(s.Cues, snapshot)
	}
	return s
}

// flight is a packet that arrives at its time.
type flight struct {
	at     time.Time
	packet []byte
}

// arena is a run and its mixer in virtual time. The attacker stands between the two.
type arena struct {
	random *rand.Rand
	now    time.Time
	show   *cue.Show
	mixer  *mixer.Mixer
	engine *run.Engine
	device *virtual.Device
	toRun  []flight
	step   int           // the cue, -1 before the first
	late   time.Duration // how long something wrong may last

	delay  func() time.Duration         // of a packet to the run
	meddle func(m osc.Message) []byte   // what the run hears instead of a message; nil for the message
	each   func()                       // called at every tick
	older  map[string]osc.Message       // what the mixer said of an address a while ago
	bad    map[int]time.Time            // since when a channel is open that the show closes
	lied   map[string]time.Time         // since when a row that is called OK is not so
	sent   func(t []feed.Outgoing) bool // whether packets of the run reach the mixer; nil: all do
	others func(packet []byte)          // called with what the mixer sends to another program; may be nil
}

var nan = math.NaN()

var start = time.Unix(1_700_000_000, 0)

func newArena(seed uint64) *arena { return newArenaWith(seed, mixerText+query) }

// newArenaWith is an arena with another mixer.
func newArenaWith(seed uint64, text string) *arena {
	a := &arena{random: rand.New(rand.NewPCG(seed, 14)), now: start, step: -1, late: late, mixer: readMixer(text), older: map[string]osc.Message{},
		bad: map[int]time.Time{}, lied: map[string]time.Time{}}
	a.show = randomShow(a.random)
	a.engine = run.New(run.ShowSetup{Show: a.show, Mixer: a.mixer}, run.Options{To: []string{"mixer"}}, a.now)
	a.engine.LinkUp(0, a.now)
	a.device = virtual.New(a.mixer)
	a.delay = func() time.Duration { return time.Millisecond }
	return a
}

// jump goes to a cue.
func (a *arena) jump(step int) error {
	c, err := run.Parse("jump " + a.show.Cues[step].ID)
	if err == nil {
		_, err = a.engine.Do(c, a.now)
	}
	a.step = step
	clear(a.bad) // the mixer may not have it yet
	clear(a.lied)
	return err
}

// play lets time pass. The error is for the first moment at which something is so that must not be.
func (a *arena) play(d time.Duration) error {
	for end := a.now.Add(d); a.now.Before(end); a.now = a.now.Add(tick) {
		if a.each != nil {
			a.each()
		}
		a.exchange()
		if err := a.check(); err != nil {
			return fmt.Errorf("at %v, cue %d: %w", a.now.Sub(start), a.step+1, err)
		}
	}
	return nil
}

// exchange has the run and the mixer send what they have to.
func (a *arena) exchange() {
	a.engine.Advance(a.now)
	if out := a.engine.Take(0, a.now); len(out) > 0 {
		if a.sent == nil || a.sent(out) {
			for _, o := range out {
				a.reply(a.device.Handle(a.now, "run", wire.Encode(o.OSC())))
			}
		}
		a.engine.Sent(0, a.now)
	}
	a.toRun = slices.DeleteFunc(a.toRun, func(f flight) bool {
		if f.at.After(a.now) {
			return false
		}
		a.hear(f.packet)
		return true
	})
}

func (a *arena) hear(packet []byte) {
	list, err := wire.Decode(packet)
	if err != nil {
		return
	}
	for _, m := range list {
		a.engine.Heard(0, m, a.now)
	}
}

// reply puts what the mixer sends on its way to the run, as the attacker leaves it.
func (a *arena) reply(replies []virtual.Reply) {
	for _, r := range replies {
		if r.To != "run" {
			if a.others != nil {
				a.others(r.Packet)
			}
			continue
		}
		packet := r.Packet
		if list, err := wire.Decode(packet); err == nil && len(list) == 1 {
			if a.meddle != nil {
				if other := a.meddle(list[0]); other != nil {
					packet = other
				}
			}
			if a.random.IntN(20) == 0 {
				a.older[list[0].Address] = list[0]
			}
		}
		a.toRun = append(a.toRun, flight{a.now.Add(a.delay()), packet})
	}
}

// late is how long something wrong may last after a cue: the mixer has to be reached, asked, and believed.
const late = 4 * time.Second

// check finds a mic that is open and that the show has closed, and a row that is called OK and is not.
func (a *arena) check() error {
	if a.now.UnixMilli()%100 != 0 {
		return nil
	}
	for n := 1; n <= channels; n++ {
		closed := a.step < 0 || !a.show.Cues[a.step].Channels[n-1].Open
		mute, _ := a.device.Value(fmt.Sprintf("/in/%d/mute", n))
		if v, _ := mute.Number(); closed && v == 0 {
			if since := first(a.bad, n, a.now); a.now.Sub(since) > a.late {
				return fmt.Errorf("channel %d is open for %v, and the show has it closed\n%s", n, a.now.Sub(since), a.rows())
			}
			continue
		}
		delete(a.bad, n)
	}
	for _, row := range a.engine.View(a.now).Rows {
		if key := fmt.Sprintf("%d", row.Channel); row.Sign == feed.ChannelOK && !row.Fading && !a.holds(row.Channel) {
			if since := first(a.lied, key, a.now); a.now.Sub(since) > a.late {
				return fmt.Errorf("channel %d is called OK for %v, and is not\n%s", row.Channel, a.now.Sub(since), a.rows())
			}
		} else {
			delete(a.lied, key)
		}
	}
	return nil
}

// first is when a key was first noted.
func first[K comparable](seen map[K]time.Time, key K, now time.Time) time.Time {
	if at, known := seen[key]; known {
		return at
	}
	seen[key] = now
	return now
}

// holds reports whether the mixer has what the show wants of a channel.
func (a *arena) holds(channel int) bool {
	s := cue.Snapshot{}
	if a.step >= 0 {
		s.Channels = []cue.Channel{a.show.Cues[a.step].Channels[channel-1]}
	}
	for _, x := range a.mixer.Settings(&s) {
		if x.Param != cue.ParamMute && x.Param != cue.ParamLevel {
			continue
		}
		if v, ok := a.device.Value(x.Message.Address); !ok || !v.Same(x.Message.Args[0], 1e-6) {
			return false
		}
	}
	return true
}

// rows are what the run shows, for a failure.
func (a *arena) rows() (text string) {
	v := a.engine.View(a.now)
	for _, row := range v.Rows {
		text += "  " + glance.Line(row) + "\n"
	}
	return text + "  " + v.Problem
}

// cues plays through the show, a cue every few seconds, and back and forth.
func (a *arena) cues() error {
	for range 5 {
		if err := a.jump(a.random.IntN(len(a.show.Cues))); err != nil {
			return err
		}
		if err := a.play(time.Duration(3+a.random.IntN(18)) * time.Second); err != nil {
			return err
		}
	}
	return a.play(late + 2*time.Second)
}
