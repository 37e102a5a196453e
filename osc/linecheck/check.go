// Package linecheck is the line check before a show: one pack after the other is opened alone, and someone who listens
// judges it. Like a run's engine it does no I/O: callers give it times, keys and what the mixers say, and it says which
// channel may be open now.
package linecheck

import (
	"errors"
	"fmt"
	"slices"
	"time"

	"backfield/layout/source"
)

// CheckedPack is one pack to check.
type CheckedPack struct {
	Pack    string // as it is labeled; empty for one without a label
	Channel int
	Player  string // who wears it at the start of the show
	Section string
	Later   string // who gets it during the show, and when; empty for nobody
	Where   string // where the player stands at the first set
	Mic     string // where the mic is, as far as the roster says
}

// ID is the pack's name on screens and in the record.
func (p *CheckedPack) ID() string {
	if p.Pack == "" {
		return fmt.Sprintf("channel %d", p.Channel)
	}
	return p.Pack
}

// PackVerdict is what someone heard.
type PackVerdict string

// The results. The empty one is for a pack that nobody has judged.
const (
	Good        PackVerdict = "good"
	NoSound     PackVerdict = "no sound"
	Noise       PackVerdict = "noise"
	WrongPlayer PackVerdict = "wrong player" // somebody else was heard
	Skipped     PackVerdict = "skipped"
)

var results = []PackVerdict{Good, NoSound, Noise, WrongPlayer, Skipped}

// Failed reports whether something is wrong with the pack.
func (r PackVerdict) Failed() bool { return r == NoSound || r == Noise || r == WrongPlayer }

// Finding is what was found about one pack.
type Finding struct {
	Result PackVerdict
	Heard  string // of a wrong player
}

// Phase is how far the pack at hand is.
type Phase string

// The phases.
const (
	Closing Phase = "closing" // everything is to be closed, and a mixer has not confirmed it yet
	Opening Phase = "opening" // the channel is to be open, and a mixer has not confirmed it yet
	Open    Phase = "open"    // it is open, alone
	Held    Phase = "closed"  // everything is closed until the next key
	Done    Phase = "done"    // everything is closed, and no pack is left
)

// Guard is how long after a judgment the next one counts as the same press.
const Guard = 400 * time.Millisecond

// blindWait is how long a mixer that cannot confirm has to close a channel.
const blindWait = 400 * time.Millisecond

// MixerState is what is known of the mixers now. With several it is that of the worst.
type MixerState struct {
	Confirms  bool   // they can confirm
	AllClosed bool   // they have confirmed that every channel of the show is closed
	IsOpen    bool   // they have confirmed that the channel wanted is open and no other one of the show is
	Problem   string // why that cannot be known or is not so; empty for nothing
}

// CheckOptions are the settings of a check.
type CheckOptions struct {
	Names  []string // of everybody who may have a pack, for the wrong player
	Record func(CheckEntry)
}

// Check is one line check. Make one with New.
type Check struct {
	packs     []CheckedPack
	o         CheckOptions
	found     []Finding // by pack
	todo      []bool    // by pack: it is still to be judged
	fixes     []Fix
	batteries map[string]time.Time
	judged    []int // packs in the order in which they were judged, the latest last
	past      []int // packs that were at hand before, for back

	at       int // the pack at hand; len(packs) for none
	phase    Phase
	held     bool      // after close: nothing opens
	since    time.Time // when the phase began
	seq      int       // rises whenever another pack comes to hand
	judgedAt time.Time
	problem  string
}

// New makes a check that goes on from a record: packs that its latest check has judged are not judged again, unless they
// were skipped or have another player or channel by now.
func New(packs []CheckedPack, from Record, o CheckOptions, now time.Time) *Check {
	c := &Check{
		packs: packs, o: o, found: make([]Finding, len(packs)), todo: make([]bool, len(packs)), fixes: from.Fixes(),
		batteries: from.Batteries(), at: len(packs), seq: 1,
	}
	for i := range packs {
		c.todo[i] = true
	}
	for _, e := range from.Judged() {
		i := slices.IndexFunc(packs, func(p CheckedPack) bool {
			return p.ID() == e.Pack && p.Channel == e.Channel && p.Player == e.Player
		})
		if i >= 0 && e.Result != Skipped {
			c.found[i], c.todo[i] = Finding{e.Result, e.Heard}, false
			c.judged = append(c.judged, i)
		}
	}
	c.at = c.next(-1)
	c.enter(Closing, now)
	return c
}

// Left is how many packs are still to be judged.
func (c *Check) Left() (n int) {
	for _, left := range c.todo {
		if left {
			n++
		}
	}
	return n
}

// Judged is how many packs have been judged, those of an earlier start too.
func (c *Check) Judged() int { return len(c.packs) - c.Left() }

// Want is the channel that may be open now, alone; 0 for none.
func (c *Check) Want() int {
	if c.phase == Opening || c.phase == Open {
		return c.packs[c.at].Channel
	}
	return 0
}

// Settled reports whether the next key can be given: nothing is on the way, and the guard is over.
func (c *Check) Settled(now time.Time) bool {
	return (c.phase == Open || c.phase == Held || c.phase == Done) && now.Sub(c.judgedAt) >= Guard
}

func (c *Check) enter(p Phase, now time.Time) { c.phase, c.since = p, now }

// See takes what the mixers say, and goes on if it was waited for. A channel opens only once all are known to be closed.
func (c *Check) See(m MixerState, now time.Time) {
	c.problem = m.Problem
	waited := !m.Confirms && m.Problem == "" && now.Sub(c.since) >= blindWait
	switch {
	case c.phase == Closing && (m.AllClosed || waited) && c.at == len(c.packs):
		c.enter(Done, now)
	case c.phase == Closing && (m.AllClosed || waited) && c.held:
		c.enter(Held, now)
	case c.phase == Closing && (m.AllClosed || waited):
		c.enter(Opening, now)
	case c.phase == Opening && (m.IsOpen || waited):
		c.enter(Open, now)
	case c.phase == Open && m.Confirms && !m.IsOpen: // someone muted it, or the mixer has restarted
		c.enter(Opening, now)
	}
}

// CheckKey is what someone can press.
type CheckKey string

// The keys.
const (
	KeyGood      CheckKey = "good"
	KeyNoSound   CheckKey = "no sound"
	KeyNoise     CheckKey = "noise"
	KeyWrong     CheckKey = "wrong" // with who was heard
	KeySkip      CheckKey = "skip"
	KeyBack      CheckKey = "back"
	KeyClose     CheckKey = "close" // at once
	KeyOpen      CheckKey = "open"  // after close
	KeyAgain     CheckKey = "again" // go through those that are not good
	KeyBatteries CheckKey = "fresh" // the pack at hand has fresh batteries
)

// CheckPress is a key that someone pressed.
type CheckPress struct {
	Key CheckKey
	Who string // for KeyWrong
	Seq int    // what the screen showed, as in View; 0 skips this check
	By  string // the page that it was pressed on; empty for the terminal
}

// Press takes a key and returns the answer. After an error nothing has changed.
func (c *Check) Press(p CheckPress, now time.Time) (said string, err error) {
	if p.Seq != 0 && p.Seq != c.seq && p.Key != KeyClose {
		return "", errors.New("ignored: another pack is open by now; look again, then press again")
	}
	switch p.Key {
	case KeyGood, KeyNoSound, KeyNoise, KeyWrong, KeySkip:
		return c.judge(p, now)
	case KeyBack:
		return c.back(now)
	case KeyClose:
		c.held = true
		c.enter(Closing, now)
		return "closing every mic; open goes on", nil
	case KeyOpen:
		if !c.held {
			return "", errors.New("open is for after close: nothing was closed")
		}
		c.held = false
		c.enter(Closing, now)
		return "opening again", nil
	case KeyAgain:
		return c.again(now)
	case KeyBatteries:
		if c.at == len(c.packs) {
			return "", errNoPack
		}
		pack := c.packs[c.at]
		c.batteries[pack.ID()] = now
		c.record(CheckEntry{At: now, Kind: KindBatteries, Pack: pack.ID(), Channel: pack.Channel, By: p.By})
		return "noted: fresh batteries in " + pack.ID(), nil
	}
	return "", fmt.Errorf("no key %q", p.Key)
}

var errNoPack = errors.New("no pack is open: again goes through those that are not good, back to the last one")

// judge takes a judgment about the pack at hand and goes on to the next one.
func (c *Check) judge(p CheckPress, now time.Time) (said string, err error) {
	result := map[CheckKey]PackVerdict{KeyGood: Good, KeyNoSound: NoSound, KeyNoise: Noise, KeyWrong: WrongPlayer,
		KeySkip: Skipped}[p.Key]
	switch {
	case c.at == len(c.packs):
		return "", errNoPack
	case !c.judgedAt.IsZero() && now.Sub(c.judgedAt) < Guard:
		return "", fmt.Errorf("%s ignored (pressed twice within %d ms)", p.Key, Guard.Milliseconds())
	case result != Skipped && c.held:
		return "", fmt.Errorf("%s ignored: every mic is closed; open goes on", p.Key)
	case result != Skipped && c.phase != Open:
		return "", fmt.Errorf("%s ignored: %s is not open yet%s", p.Key, c.packs[c.at].ID(), c.because())
	}
	heard := ""
	if result == WrongPlayer {
		if heard, err = c.Who(p.Who); err != nil {
			return "", err
		}
	}
	i, pack := c.at, c.packs[c.at]
	c.found[i], c.todo[i], c.judgedAt = Finding{result, heard}, false, now
	c.judged = append(slices.DeleteFunc(c.judged, func(x int) bool { return x == i }), i)
	c.record(CheckEntry{At: now, Kind: KindJudged, Pack: pack.ID(), Channel: pack.Channel, Player: pack.Player,
		Section: pack.Section, Result: result, Heard: heard, By: p.By})
	said = fmt.Sprintf("%s, %s: %s", pack.ID(), pack.Player, result)
	if heard != "" {
		said += ", " + heard + " was heard"
	}
	for _, more := range []string{c.swapWords(i), c.contradiction(i), c.outdated(i)} {
		if more != "" {
			said += ". " + more
		}
	}
	c.move(c.next(i), now)
	return said, nil
}

// because is the mixer's problem, for the end of a sentence.
func (c *Check) because() string {
	if c.problem == "" {
		return ""
	}
	return ": " + c.problem
}

// contradiction says that a good pack's player was heard in another pack too.
func (c *Check) contradiction(i int) string {
	for j := range c.packs {
		if c.found[i].Result == Good && c.found[j].Result == WrongPlayer && c.found[j].Heard == c.packs[i].Player {
			return fmt.Sprintf("%s was heard in %s too: check who wears that one", c.packs[i].Player, c.packs[j].ID())
		}
	}
	return ""
}

// outdated says that a pack is good and tonight.toml still says otherwise.
func (c *Check) outdated(i int) string {
	for _, f := range c.fixes {
		if c.found[i].Result == Good && slices.Contains(f.Packs, c.packs[i].Pack) {
			return fmt.Sprintf("tonight.toml still has it under %q: take it out there", f.Kind)
		}
	}
	return ""
}

// next is the first pack after one that is still to be judged, or else the first of all; len(packs) if none is left.
func (c *Check) next(after int) int {
	for n := range c.packs {
		if i := (after + 1 + n) % len(c.packs); c.todo[i] {
			return i
		}
	}
	return len(c.packs)
}

// move brings another pack to hand. What is open closes first.
func (c *Check) move(to int, now time.Time) {
	if c.at < len(c.packs) {
		c.past = append(c.past, c.at)
	}
	c.bring(to, now)
}

func (c *Check) bring(to int, now time.Time) {
	c.at = to
	c.seq++
	c.enter(Closing, now)
}

// back brings the last pack to hand again, to judge it once more.
func (c *Check) back(now time.Time) (string, error) {
	to := c.at - 1
	if n := len(c.past); n > 0 {
		to, c.past = c.past[n-1], c.past[:n-1]
	}
	if to < 0 {
		return "", errors.New("this is the first pack: there is none to go back to")
	}
	c.bring(to, now)
	return "back to " + c.packs[to].ID(), nil
}

// again goes through the packs that are not good and that no fix answers.
func (c *Check) again(now time.Time) (string, error) {
	n := 0
	for i, f := range c.found {
		if f.Result != Good && !c.fixed(i) {
			c.todo[i] = true
			n++
		}
	}
	if n == 0 {
		return "", errors.New("every pack is good or fixed for tonight")
	}
	c.move(c.next(-1), now)
	return "again: " + source.Count(float64(n), "pack"), nil
}

// Fixed notes that a fix is written to tonight.toml.
func (c *Check) Fixed(f Fix, by string, now time.Time) {
	c.fixes = append(c.fixes, f)
	c.record(CheckEntry{At: now, Kind: KindFixed, Fix: &f, By: by})
}

func (c *Check) record(e CheckEntry) {
	if c.o.Record != nil {
		c.o.Record(e)
	}
}
