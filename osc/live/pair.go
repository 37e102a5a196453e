package live

import (
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/journal"
	"backfield/osc/run"
	"backfield/osc/standby"
	"backfield/osc/wire"
)

// PairOptions are how one laptop of two is set up.
type PairOptions struct {
	First     bool          // it begins the show; the other stands by
	Automatic time.Duration // a standby takes over by itself after this long of silence; 0 for never
	Setup     run.ShowSetup
	Run       run.Options                    // what an engine that sends is made with
	Follow    func(journal.Entry)            // takes the entries that the other laptop has written
	Send      func(lines []standby.PairLine) // sends lines to the other laptop; it must not wait
	Waiting   string                         // what a first laptop shows until a standby is connected
}

// Pair is what a Driver needs to be one of two laptops: the machine that decides who sends, an ear for each mixer, and an
// engine that is made again whenever this laptop begins to send. Its methods may be called from any goroutine.
type Pair struct {
	d       *Driver
	o       PairOptions
	machine *standby.Laptop
	ears    []*standby.Ear
	working bool // the driver's engine is the one that sends; else it only shows what the other laptop does
	stale   bool // the other's state has changed since that engine was made
}

// NewPair makes a driver one of two laptops. A first laptop has its engine already; a standby gets one that shows the
// state of the other. It must be called before Run, and before anything is recorded.
func (s *Driver) NewPair(o PairOptions) *Pair {
	// What a recalled scene has the mixer echo says nothing of who sends.
	hears := o.Setup.Mixer.Echo != nil && !o.Run.Recall
	p := &Pair{d: s, o: o, working: o.First}
	p.machine = standby.New(standby.LaptopOptions{
		First: o.First, Echo: hears, Mixers: len(o.Run.To), Automatic: o.Automatic,
	}, time.Now())
	for range o.Run.To {
		p.ears = append(p.ears, standby.NewEar(o.Setup.Mixer, o.First))
	}
	s.pair = p
	return p
}

// Record takes an entry that this laptop has written in its journal. It is called by the engine, which is locked then, or
// before Run.
func (p *Pair) Record(e journal.Entry) { p.machine.Record(e) }

// LinkUp says that the other laptop is connected and admitted.
func (p *Pair) LinkUp() { p.d.withEngine(p.machine.Linked) }

// LinkDown says that it is no longer connected.
func (p *Pair) LinkDown() { p.d.withEngine(p.machine.Cut) }

// Receive takes a line of the other laptop.
func (p *Pair) Receive(line standby.PairLine) {
	p.d.withEngine(func(now time.Time) { p.machine.Receive(line, now) })
}

// Quit says goodbye to the other laptop: this one sends nothing more. The driver must not be used after that.
func (p *Pair) Quit() { p.d.withEngine(func(time.Time) { p.machine.Quit() }) }

// View returns how the two laptops are.
func (p *Pair) View() (v standby.LaptopView) {
	p.d.withEngine(func(now time.Time) { v = p.machine.View(now) })
	return v
}

// AckLaptop is what the operator acknowledges where the other laptop is silent, instead of a channel's name.
const AckLaptop = "laptop"

// pairName is who gives the commands that follow from the other laptop's going silent, for the journal.
const pairName = "the other laptop's end"

// takeOverWait is more than a takeover takes, or the question that it leads to.
const takeOverWait = 1500 * time.Millisecond

// takeOver is the operator's key. It waits for what comes of it.
func (p *Pair) takeOver() (said string, err error) {
	if !p.d.withEngine(p.machine.Press) {
		return "", ErrEnded
	}
	for end := time.Now().Add(takeOverWait); ; time.Sleep(2 * time.Millisecond) {
		v := p.View()
		undecided := v.Mode == standby.Asking || v.Mode == standby.Listening
		switch {
		case undecided && time.Now().Before(end):
		case v.Ask != "" && v.AskPress != "":
			return "", fmt.Errorf("%s; takeover %s", v.Ask, v.AskPress)
		case v.Ask != "":
			return "", errors.New(v.Ask)
		default:
			return "this laptop sends to the mixers now", nil
		}
	}
}

// ReportNotice shows the operator what the laptop at the other end of the link did, or one that was refused there.
func (p *Pair) ReportNotice(text string) {
	p.d.ReportNotice(text)
}

// The methods below are called with the driver locked.

// do carries out a command, if it is not for an engine that sends.
func (p *Pair) do(c run.Command, now time.Time) (said string, done bool, err error) {
	switch {
	case c.Verb == run.TakeOver:
		return "", true, errors.New("only the operator of this laptop can take over")
	case c.Verb == run.Ack && strings.EqualFold(c.Name, AckLaptop):
		if !p.machine.View(now).Alone {
			return "", true, errors.New("no silent laptop is reported: there is nothing to acknowledge")
		}
		p.machine.Acknowledge()
		return "noted: the other laptop is silent", true, nil
	}
	mode := p.machine.View(now).Mode
	if p.working && mode.MaySend() || c.Verb == run.Quit {
		return "", false, nil
	}
	return "", true, fmt.Errorf("%s ignored: this laptop sends nothing; takeover has it send", c)
}

// turn does what is due between the two laptops. Lines go out before anything goes to a mixer, so that the other laptop
// knows of a cue before the mixers do.
func (p *Pair) turn(now time.Time) {
	p.machine.Advance(now)
	if p.working && p.d.engine.Contested() {
		p.machine.OtherWriter(now)
	}
	p.change(now)
	p.show(now)
	if lines := p.machine.Take(now); len(lines) > 0 {
		p.o.Send(lines)
	}
	for _, e := range p.machine.Entries() {
		p.stale = p.stale || e.State != nil
		p.o.Follow(e)
	}
	if p.machine.Beacon(now) {
		for i, ear := range p.ears {
			if m, ok := ear.Beacon(now); ok {
				p.send(i, []osc.Message{m}, now)
			}
		}
	}
	if silent := p.machine.Probe(now); len(silent) > 0 {
		id := p.machine.State().Step
		in := max(slices.IndexFunc(p.o.Setup.Show.Cues, func(c cue.Snapshot) bool { return c.ID == id }), 0)
		for _, i := range silent {
			p.send(i, p.ears[i].Probe(p.o.Setup.Show.Cues, in), now)
		}
	}
}

// mixersSeen is what the mixers have said to the laptop that sends, for the screen of the other.
type mixersSeen struct {
	Rows   []run.ChannelRow `json:"rows"`
	Bench  []run.ChannelRow `json:"bench"`
	Mixers []run.MixerView  `json:"mixers"`
}

// show tells the other laptop what the mixers have said to this one.
func (p *Pair) show(now time.Time) {
	if !p.working || !p.machine.ScreenDue(now) {
		return
	}
	v := p.d.engine.View(now)
	text, err := json.Marshal(mixersSeen{v.Rows, v.Bench, v.Mixers})
	if err != nil {
		panic(fmt.Sprintf("live: a view that JSON cannot hold: %v", err)) // the page gets it as JSON, too
	}
	p.machine.Show(text, now)
}

// seen puts what the mixers have said to the laptop that sends into the view of the one that stands by. Where that is
// not known, the view says of no value that a mixer has confirmed it.
func (p *Pair) seen(v *run.View, now time.Time) {
	v.Mixers = []run.MixerView{} // this laptop does not hear them
	text, ok := p.machine.Shown(now)
	if !ok {
		return
	}
	var s mixersSeen
	if err := json.Unmarshal(text, &s); err != nil {
		return
	}
	v.Rows, v.Bench, v.Pair.Mixers = s.Rows, s.Bench, s.Mixers
}

// change makes the engine that sends, or takes it away.
func (p *Pair) change(now time.Time) {
	sends := p.machine.Sends(now)
	switch {
	case sends && !p.working:
		if err := p.newEngine(p.sending(), now); err != nil {
			p.machine.Quit()
			p.d.engine.ReportProblem(fmt.Sprintf("this laptop cannot take over: %v", err), now)
			return
		}
		p.working = true
	case p.working && p.machine.GivenUp():
		p.working = false
		if err := p.newEngine(p.shows(), now); err != nil {
			p.d.engine.ReportProblem(err.Error(), now)
		}
	}
	if !sends {
		return
	}
	if again, fought := p.machine.Regained(); again {
		if fought { // what the other laptop sent looks like a channel that was moved; an error says that there is none
			p.d.engine.Do(run.Command{Verb: run.Release, Name: "all", From: pairName}, now)
		}
		p.d.engine.Do(run.Command{Verb: run.Resend, From: pairName}, now) // it cannot fail
	}
}

// newEngine makes the driver's engine again, out of the state that both laptops know.
func (p *Pair) newEngine(o run.Options, now time.Time) error {
	e, err := run.Resume(p.o.Setup, o, p.machine.State(), now)
	if err != nil {
		return err
	}
	p.d.engine, p.d.lines, p.stale = e, nil, false
	return nil
}

// sending is what an engine is made with that sends: at once to the mixers whose link is open.
func (p *Pair) sending() run.Options {
	o := p.o.Run
	for i, link := range p.d.links {
		if link != nil {
			o.Up = append(o.Up, i)
		}
	}
	return o
}

// refresh brings the engine of a laptop that only shows what the other one does up to date.
func (p *Pair) refresh(now time.Time) {
	if p.working {
		return
	}
	if p.stale {
		p.stale = false
		if err := p.newEngine(p.shows(), now); err != nil {
			text := "the other laptop is in a state that this show does not have: " + err.Error()
			p.d.engine.ReportProblem(text, now)
		}
	}
	p.d.engine.Advance(now)
}

// shows is what an engine is made with that only shows what the other laptop does.
func (p *Pair) shows() run.Options { return run.Options{To: p.o.Run.To, ByClock: p.o.Run.ByClock} }

func (p *Pair) view(now time.Time) *run.PairView {
	v, waits := p.machine.View(now), false
	if p.o.First && !v.Partner {
		v.Headline, waits = p.o.Waiting, true
	}
	return &run.PairView{
		Sends: v.Mode.MaySend(), Headline: v.Headline, Press: v.Press, Gone: v.Gone,
		Ask: v.Ask, AskPress: v.AskPress,
		Term: v.Term, Entries: v.Entries, Missing: v.Missing, Alone: v.Alone, Yielded: v.Yielded, Waits: waits,
	}
}

// sends reports whether the driver's engine may send to the mixers now.
func (p *Pair) sends(now time.Time) bool { return p.machine.Sends(now) && p.working }

// heard takes a message of a mixer, and reports whether the engine is to hear it, too.
func (p *Pair) heard(i int, m osc.Message, now time.Time) bool {
	address := ""
	foreign, own := p.ears[i].Heard(m, now)
	if foreign {
		address = m.Address
	}
	p.machine.Heard(i, address, own, now)
	return p.sends(now)
}

// send sends messages of the pair's own to a mixer: they set nothing that it does not hold.
func (p *Pair) send(i int, list []osc.Message, now time.Time) {
	link := p.d.links[i]
	if link == nil || len(list) == 0 {
		return
	}
	var packets [][]byte
	for _, m := range list {
		p.ears[i].Sent(m, now)
		packets = append(packets, wire.Encode(m))
	}
	link.WriteAll(packets) // the next one shows whether the link is broken
}
