package run_test

import (
	"errors"
	"flag"
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

// model is the plain meaning of an operator's commands: what the mixer should hold is computed from the cue and this
// alone, whatever was sent before.
type model struct {
	show   *cue.Show
	mixer  *mixer.Mixer
	hush   bool
	holds  map[int]cue.Channel
	swaps  map[int]int // a channel's spare
	spent  map[int]bool
	nudges map[string]float64
	manual map[mixer.Control]osc.Arg // what someone moved at the mixer, and where it is now
	scenes bool                      // cues are recalled from the mixer's scenes
}

// enter ends manual on the channels that open. The others keep it, whether they close or not.
func (m *model) enter(before, after []cue.Channel) {
	for _, c := range after {
		if c.Open && !slices.ContainsFunc(before, func(b cue.Channel) bool { return b.Channel == c.Channel && b.Open }) {
			m.follow(c.Channel)
		}
	}
}

// follow ends manual on a channel.
func (m *model) follow(channel int) {
	maps.DeleteFunc(m.manual, func(x mixer.Control, _ osc.Arg) bool { return x.Channel == channel })
}

// stillOpen reports whether a channel that the show has closed is open because someone moved its mute.
func (m *model) stillOpen(c cue.Channel) bool {
	mute, moved := m.manual[mixer.Control{Channel: c.Channel, Param: cue.ParamMute}]
	return moved && !c.Open && mute == osc.Int32(0)
}

func closed(c cue.Channel) cue.Channel {
	c.Open, c.Role, c.LevelDB = false, "", cue.Silent
	return c
}

// channels is what is meant in a step, -1 before the first.
func (m *model) channels(step int) (list []cue.Channel) {
	capped := func(c cue.Channel) cue.Channel {
		c.LevelDB = min(c.LevelDB, cue.Level(m.mixer.CeilingDB(c.Channel)))
		return c
	}
	for _, c := range m.show.Cues[max(step, 0)].Channels {
		if step < 0 || m.hush && c.Kind == cue.Worn {
			c = closed(c)
		}
		if c.Open {
			c.LevelDB += cue.Level(m.nudges[c.Player])
			c = capped(c)
		}
		if spare := m.swaps[c.Channel]; spare > 0 {
			there := c
			there.Channel = spare
			list = append(list, capped(there))
			c = closed(c)
		}
		list = append(list, c)
	}
	for i, c := range list {
		if held, ok := m.holds[c.Channel]; ok && !(m.hush && c.Kind == cue.Worn) {
			list[i] = held
		}
	}
	for n := range m.spent {
		if m.idle(n) {
			list = append(list, cue.Channel{Channel: n, LevelDB: cue.Silent})
		}
	}
	return list
}

// idle reports whether a channel was a spare and is none now.
func (m *model) idle(n int) bool {
	return m.spent[n] && !slices.Contains(slices.Collect(maps.Values(m.swaps)), n)
}

// own is the channel of the show that a name is on in a step: the test's players wear one pack each.
func (m *model) own(name string) int {
	for _, c := range m.show.Cues[0].Channels {
		if c.Player == name {
			return c.Channel
		}
	}
	return 0
}

func (m *model) where(name string) int {
	n := m.own(name)
	if spare := m.swaps[n]; spare > 0 {
		return spare
	}
	return n
}

// wrong compares a mixer with what it should hold.
func (m *model) wrong(step int, sim *virtual.Device, v run.View, loses bool) (list []string) {
	s := cue.Snapshot{Channels: m.channels(step)}
	for i, c := range s.Channels {
		if _, held := m.holds[c.Channel]; !held {
			s.Channels[i] = onItsPath(m.show, step, c, v.ShowS)
		}
	}
	open := map[int]bool{} // which the run leaves whole
	for _, c := range s.Channels {
		open[c.Channel] = m.stillOpen(c)
	}
	for _, x := range m.mixer.Settings(&s) {
		if _, held := m.holds[x.Channel]; held && x.Param == "air" { // it may be held in mid-fade, which no view shows
			continue
		}
		want := x.Message.Args[0]
		moved, manual := m.manual[x.Control]
		if manual {
			want = moved
		} else if open[x.Channel] || m.idle(x.Channel) && x.Param != cue.ParamMute && x.Param != cue.ParamLevel {
			continue
		}
		is, ok := sim.Value(x.Message.Address)
		glides := m.show.Rig.Delay.Moves == cue.Glides && !manual &&
			nearly(m.mixer, x.Control, is, want, 2*len(s.Channels), v.Rate, loses)
		if !ok || !is.Same(want, 1e-6) && !glides {
			list = append(list, fmt.Sprintf("%s is %v, meant is %v (manual %t)", x.Message.Address, is, want, manual))
		}
	}
	return list
}

// someShow is a show by chance, of channels up to 24, and the channels that it leaves for spares.
func someShow(r *rand.Rand) (s *cue.Show, spares []int) {
	numbers := r.Perm(24)
	n := 1 + r.IntN(5)
	for _, i := range numbers[n:min(n+3, len(numbers))] {
		spares = append(spares, i+1)
	}
	s = &cue.Show{Title: "by chance"}
	at := 0.0
	for i := range 2 + r.IntN(6) {
		c := cue.Snapshot{
			ID: fmt.Sprint("q", i), Movement: 1, TimeS: at, FadeS: float64(r.IntN(4)) / 2,
			Auto: i > 0 && r.IntN(16) < 7,
		}
		at += 1 + float64(r.IntN(8))
		for j, k := range numbers[:n] {
			ch := cue.Channel{
				Channel: k + 1, Player: fmt.Sprint("P", j), Kind: cue.Worn, LevelDB: cue.Silent,
				Pan: float64(r.IntN(201)-100) / 100, DelayMS: float64(r.IntN(500)) / 10,
			}
			if j%4 == 3 {
				ch.Kind = cue.Fixed
			}
			if r.IntN(3) > 0 {
				ch.Open, ch.Role, ch.LevelDB = true, "feature", cue.Level(r.IntN(30)-24)
			}
			ch.Params = []cue.ParamValue{
				{Name: "air", Value: float64(r.IntN(100))}, {Name: "cut", Value: float64(r.IntN(2))},
			}
			c.Channels = append(c.Channels, ch)
		}
		if r.IntN(2) == 0 {
			c.Also = []cue.Extra{{Address: fmt.Sprint("/room/", i), Types: "i", Args: []any{float64(i)}}}
		}
		s.Cues = append(s.Cues, c)
	}
	return s, spares
}

// chance is a run by chance beside its model.
type chance struct {
	*simulate.World
	*model
	r      *rand.Rand
	plan   run.ShowSetup
	o      run.Options
	faults virtual.Faults
	sim    *virtual.Device
	spares []int
	state  journal.RunState // the last of the journal
	log    []string
	hurt   []string       // what was taken that never should be
	raws   map[string]int // how often each raw line is to be sent
	rough  bool           // some of them may be lost: the link was cut, or the run killed
	quiet  time.Time
	moving bool // someone is moving something at the mixer
	at     int  // the step that the journal was last in

	delays  map[string]float64 // what the mixer was last sent
	resumed time.Time
}

var talks = []string{"", "[echo]\n", "[query]\naddress = \"{address}\"\n", "[echo]\n[query]\naddress = \"{address}\"\n"}

func newChance(t testing.TB, seed uint64) *chance {
	r := rand.New(rand.NewPCG(seed, 9))
	c := &chance{r: r, raws: map[string]int{}, at: -1, delays: map[string]float64{}}
	s, spares := someShow(r)
	if seed%2 == 1 {
		withPaths(r, s)
	}
	more := "[safety]\nceiling = \"4 dB\"\n" + talks[r.IntN(len(talks))]
	recall := r.IntN(4) == 0
	if recall {
		more += "[store]\naddress = \"/store/{slot}\"\nslots = 10\nsettle = \"200 ms\"\n" +
			"[recall]\naddress = \"/recall/{slot}\"\n"
	}
	d := readMixer(t, ownParams+more)
	if r.IntN(3) == 0 {
		d.Bundle, d.MaxPacket = true, []int{64, 100, 1400}[r.IntN(3)]
	}
	d.Rate = []int{50, 1000, 2000, 20_000, 2_000_000_000}[r.IntN(5)]
	if r.IntN(2) == 0 {
		c.faults = virtual.Faults{Drop: 0.2, Duplicate: 0.1, Delay: 2 * time.Millisecond, Jitter: 5 * time.Millisecond}
	}
	c.plan, c.spares = run.ShowSetup{Show: s, Mixer: d, Time: timeline{}}, spares
	c.model = &model{
		show: s, mixer: d, holds: map[int]cue.Channel{}, swaps: map[int]int{}, spent: map[int]bool{},
		nudges: map[string]float64{}, manual: map[mixer.Control]osc.Arg{}, scenes: recall,
	}
	c.sim = virtual.New(d)
	if recall {
		for i := range s.Cues {
			for _, x := range d.Settings(&s.Cues[i]) {
				c.sim.Handle(start, "store", wire.Encode(x.Message))
			}
			c.sim.Handle(start, "store", wire.Encode(d.Store.Message(d.Store.First+i, "")))
		}
		for _, x := range d.Settings(&cue.Snapshot{Channels: c.channels(-1)}) {
			c.sim.Handle(start, "store", wire.Encode(x.Message))
		}
	}
	c.sim.Changed = c.changed
	c.o = run.Options{To: []string{"mixer"}, Recall: recall, ByClock: r.IntN(5) == 0, Record: func(e journal.Entry) {
		if e.Kind == "step" {
			before := c.channels(c.at)
			c.at = slices.IndexFunc(s.Cues, func(x cue.Snapshot) bool { return x.ID == e.Step })
			c.enter(before, c.channels(c.at))
			if c.scenes && !c.hush && c.at >= 0 { // the scene sets what someone had moved
				clear(c.manual)
			}
		}
		if e.Kind == "step" && e.Step != "" && e.Command != string(run.Back) {
			i := slices.IndexFunc(s.Cues, func(x cue.Snapshot) bool { return x.ID == e.Step })
			for _, x := range s.Cues[i].Also {
				c.raws[x.Address]++
			}
		}
		if e.State != nil {
			back, _, err := journal.Read(strings.NewReader(string(e.Line())))
			if err != nil {
				t.Fatal(err)
			}
			c.state = *back[0].State
		}
	}}
	now := start.Add(time.Minute)
	c.World = simulate.New(run.New(c.plan, c.o, now), now, c.faults, seed, c.sim)
	c.note(
		"show of %d cues and %d channels; recall %t, by clock %t, rate %d, bundles %t of %d, faults %v, %q",
		len(s.Cues), len(s.Cues[0].Channels), recall, c.o.ByClock, d.Rate, d.Bundle, d.MaxPacket, c.faults, more,
	)
	return c
}

func (c *chance) note(format string, args ...any) {
	at := time.Duration(0)
	if c.World != nil {
		at = c.Now.Sub(start)
	}
	c.log = append(c.log, fmt.Sprintf("%10v ", at)+fmt.Sprintf(format, args...))
}

// changed holds each value that the mixer takes to what must never be.
func (c *chance) changed(m osc.Message) {
	place, ok := c.mixer.Find(m.Address)
	if !ok || c.World == nil {
		return
	}
	if v, isNumber := m.Args[0].Number(); place.Param == cue.ParamLevel && isNumber && v > 4+1e-6 {
		c.hurt = append(c.hurt, fmt.Sprintf("%s is over the ceiling", m))
	}
	c.noteDelay(place, m)
	if _, moved := c.manual[place]; place.Param != cue.ParamMute || m.Args[0] != osc.Int32(0) || moved || c.moving ||
		c.faults != (virtual.Faults{}) {
		return
	}
	_, isHeld := c.holds[place.Channel]
	worn := false
	for _, x := range c.channels(0) {
		worn = worn || x.Channel == place.Channel && x.Kind == cue.Worn
	}
	switch {
	case c.hush && worn && c.Now.After(c.quiet):
		c.hurt = append(c.hurt, fmt.Sprintf("%v %s opens under hush", c.Now.Sub(start), m))
	case c.swaps[place.Channel] > 0 && !isHeld && !c.o.Recall && c.Now.After(c.quiet):
		c.hurt = append(c.hurt, fmt.Sprintf("%v %s opens a dead pack", c.Now.Sub(start), m))
	case c.idle(place.Channel) && !c.o.Recall && c.Now.After(c.quiet):
		c.hurt = append(c.hurt, fmt.Sprintf("%v %s opens what is no longer a spare", c.Now.Sub(start), m))
	}
}

// noteDelay holds a delay that glides to its steps while it can be heard. A mixer that takes few messages gets longer ones,
// a scene sets all at once, and a resumed run knows no better than its clock.
func (c *chance) noteDelay(place mixer.Control, m osc.Message) {
	if place.Param != cue.ParamDelay {
		return
	}
	v, _ := m.Args[0].Number()
	was, known := c.delays[m.Address]
	c.delays[m.Address] = v
	mute, _ := c.sim.Value(c.mixer.Address(mixer.Control{Channel: place.Channel, Param: cue.ParamMute}))
	level, _ := c.sim.Value(c.mixer.Address(mixer.Control{Channel: place.Channel, Param: cue.ParamLevel}))
	heard := known && mute == osc.Int32(0) && level != osc.Float32(-120)
	if heard && math.Abs(v-was) > mostOpenStep && c.show.Rig.Delay.Moves == cue.Glides && !c.o.Recall &&
		c.mixer.Rate >= 2000 && c.faults == (virtual.Faults{}) && c.Now.Sub(c.resumed) > 500*time.Millisecond {
		c.hurt = append(c.hurt, fmt.Sprintf("%v %s moves from %g to %g ms at once", c.Now.Sub(start), m.Address, was, v))
	}
}

func (c *chance) step() int {
	id := c.Engine.State().Step
	return slices.IndexFunc(c.show.Cues, func(s cue.Snapshot) bool { return s.ID == id })
}

func (c *chance) pick() string {
	list := c.show.Cues[0].Channels
	return list[c.r.IntN(len(list))].Player
}

// now is a channel as it is at this instant: what is meant, with the level on its way.
func (c *chance) now(n int) cue.Channel {
	for _, x := range c.channels(c.step()) {
		if x.Channel != n {
			continue
		}
		if dB, open := c.Engine.View(c.Now).Open[n]; open {
			x.LevelDB = cue.Level(dB)
		}
		return x
	}
	return cue.Channel{}
}

func (c *chance) moveHold(from, to int) {
	h, ok := c.holds[from]
	delete(c.holds, from)
	delete(c.holds, to)
	if ok {
		h.Channel = to
		c.holds[to] = h
	}
}

// act does one thing by chance.
func (c *chance) act() {
	name := c.pick()
	line, then := "", func() {}
	switch c.r.IntN(20) {
	case 0, 1, 2, 3:
		line = "go"
	case 4:
		line = "back"
	case 5, 6:
		line = "jump " + c.show.Cues[c.r.IntN(len(c.show.Cues))].ID
	case 7:
		line, then = "hush", func() {
			c.hush = true
			for _, x := range c.channels(0) {
				if x.Kind == cue.Worn {
					c.follow(x.Channel)
				}
			}
		}
	case 8, 9:
		line, then = "unhush", func() { c.hush = false }
	case 10:
		n := c.where(name)
		line = "hold " + name
		was := c.now(n)
		then = func() {
			was = c.now(n) // automatic steps that were due go first
			glides := c.show.Rig.Delay.Moves == cue.Glides
			for _, held := range c.Engine.State().Holds {
				if held.Channel == n && held.Open && (!was.Open || glides) { // it fades out, or is on its path
					was = held
				}
			}
			c.holds[n] = was
		}
	case 11, 12:
		n := c.where(name)
		line, then = "release "+name, func() { delete(c.holds, n); c.follow(n) }
	case 13:
		own, was, spare := c.own(name), c.where(name), c.spares[c.r.IntN(len(c.spares))]
		line, then = fmt.Sprintf("swap %s to %d", name, spare), func() {
			c.swaps[own], c.spent[spare] = spare, true
			c.moveHold(was, spare)
			c.follow(was)
			c.follow(spare)
		}
		if was == spare {
			line = ""
		}
	case 14:
		own, was := c.own(name), c.where(name)
		line, then = fmt.Sprintf("swap %s back", name), func() {
			delete(c.swaps, own)
			c.moveHold(was, own)
			c.follow(was)
			c.follow(own)
		}
	case 15:
		dB := float64(c.r.IntN(17)-8) / 2
		line, then = fmt.Sprintf("nudge %s %+g", name, dB), func() {
			given, _ := nudgeGiven(c.show, c.at, name, c.nudges[name], dB, func(channel int) float64 {
				if spare := c.swaps[channel]; spare > 0 {
					return min(c.mixer.CeilingDB(channel), c.mixer.CeilingDB(spare))
				}
				return c.mixer.CeilingDB(channel)
			})
			c.nudges[name] += given
		}
	case 16:
		line = []string{"start", "stop"}[c.r.IntN(2)]
	case 17:
		c.note("the link is cut")
		c.rough = true
		pulled, off := c.r.IntN(2) == 0, time.Duration(c.r.IntN(3000))*time.Millisecond
		if off > time.Second && c.mixer.Query == nil { // it may have been off: manual ends
			off += time.Second
			clear(c.manual)
		}
		if pulled {
			c.Engine.LinkDown(0, errors.New("pulled"), c.Now)
			c.Run(off)
			c.Engine.LinkUp(0, c.Now)
			return
		}
		c.Mixers[0].Cut = errors.New("no way")
		c.Run(off)
		c.Mixers[0].Cut = nil
		return
	case 18:
		c.resume()
		return
	case 19:
		c.moveByHand(name)
		return
	}
	if line == "" {
		return
	}
	if said, err := c.Do(line); err != nil {
		c.note("%s: REFUSED %v", line, err)
	} else {
		before := c.channels(c.at)
		then()
		c.enter(before, c.channels(c.at))
		c.note("%s: %s", line, said)
		c.quiet = c.Now
	}
}

// resume goes on from the journal, as after a kill.
func (c *chance) resume() {
	e, err := run.Resume(c.plan, c.o, c.state, c.Now)
	if err != nil {
		c.hurt = append(c.hurt, err.Error())
		return
	}
	c.note("killed and resumed")
	c.resumed = c.Now
	c.rough = true
	c.World = simulate.New(e, c.Now, c.faults, c.r.Uint64(), c.sim)
	c.quiet = c.Now
}

// moveByHand moves a fader, a mute or a pan at the mixer, if the run can notice that.
func (c *chance) moveByHand(name string) {
	if !c.mixer.CanConfirm() || c.faults != (virtual.Faults{}) {
		return
	}
	if _, err := c.Settle(time.Minute); err != nil {
		return
	}
	still := c.step()
	c.Run(3 * time.Second)
	if c.step() != still || !c.Engine.Settled() { // what was just sent is sent again
		return
	}
	x := mixer.Control{Channel: c.where(name), Param: []string{cue.ParamLevel, cue.ParamMute, cue.ParamPan}[c.r.IntN(3)]}
	for _, now := range c.channels(c.step()) {
		if now.Channel == x.Channel && c.stillOpen(now) { // the run leaves it whole
			x.Param = cue.ParamMute
		}
	}
	if x.Param == cue.ParamPan && c.show.Rig.Delay.Moves == cue.Glides { // its path sets it again
		x.Param = cue.ParamLevel
	}
	address := c.mixer.Address(x)
	arg := osc.Float32(-33.25)
	switch is, _ := c.sim.Value(address); {
	case x.Param == cue.ParamPan:
		arg = osc.Float32(0.5055)
	case x.Param == cue.ParamMute:
		v, _ := c.mixer.Value(x.Param, is)
		arg = osc.Int32(1 - int32(v))
	}
	c.moving = true
	if err := c.Move(0, address, arg); err != nil {
		c.hurt = append(c.hurt, err.Error())
	}
	c.moving = false
	c.note("someone moves %s to %v", address, arg)
	before := c.step()
	c.Run(3 * time.Second)
	seen := slices.ContainsFunc(c.Engine.State().Manual, func(m journal.ManualChannel) bool {
		return m.Channel == x.Channel && m.Param == x.Param
	})
	if seen {
		c.manual[x] = arg
	} else if c.step() == before {
		c.hurt = append(c.hurt, fmt.Sprintf("the move of %s was not seen: %s", address, glance.Status(c.Engine.View(c.Now))))
	}
}

// play does as many things and compares in between; it returns what is wrong, or nothing.
func (c *chance) play(things int) []string {
	for range things {
		c.act()
		switch c.r.IntN(4) {
		case 0: // at once
		case 1:
			c.Run(time.Duration(c.r.IntN(100)) * time.Millisecond)
		default:
			c.Run(time.Duration(c.r.IntN(2500)) * time.Millisecond)
		}
		if c.r.IntN(3) == 0 {
			if _, err := c.Settle(2 * time.Minute); err != nil {
				return append(c.hurt, err.Error(), glance.Status(c.Engine.View(c.Now)))
			}
			before := c.step()
			if !c.mixer.CanConfirm() { // without confirmation, the repeats must have gone around
				wait := time.Second
				if c.faults.Drop > 0 { // ten rounds or so, of 10 / rate a value
					wait = 200 * max(
						10*time.Second/time.Duration(c.mixer.Rate), 5*time.Millisecond,
					) * time.Duration(
						1+len(c.channels(0))/4,
					)
				}
				c.Run(wait)
				if _, err := c.Settle(2 * time.Minute); err != nil {
					return append(c.hurt, err.Error())
				}
			}
			c.Run(20 * time.Millisecond)
			if _, err := c.Settle(2 * time.Minute); err != nil {
				return append(c.hurt, err.Error())
			}
			bad := c.wrong(c.step(), c.sim, c.Engine.View(c.Now), c.faults.Drop > 0)
			if !c.Engine.Settled() || c.step() != before { // a step went in the last instant
				bad = nil
			}
			bad = append(bad, c.wrongRaws()...)
			if c.hurt = append(c.hurt, bad...); len(c.hurt) > 0 {
				return append(c.hurt, glance.Status(c.Engine.View(c.Now)))
			}
		}
	}
	return c.hurt
}

var chances = flag.Int("random", 60, "how many seeded runs TestRandomCommands plays")

// wrongRaws compares how often the raw lines came with how often their cues went: never more often, and no less.
func (c *chance) wrongRaws() (list []string) {
	came := map[string]int{}
	for _, u := range c.sim.State().Unknown {
		came[u.Address] = u.Count
	}
	for address, n := range c.raws {
		if got := came[address]; c.faults == (virtual.Faults{}) && (got > n || got < n && !c.rough) {
			list = append(list, fmt.Sprintf("%s came %d times, meant %d", address, got, n))
		}
	}
	return list
}

// Whatever an operator does in whatever order, over whatever link, killed and resumed in between: once the run reports
// that it is settled, the mixer holds what the model says. The model was written independently of TestOperator's, and
// the mixers differ too: some take few messages a second, some cannot confirm, some take bundles, some runs go by the
// clock.
func TestRandomCommands(t *testing.T) {
	runs := *chances
	if testing.Short() {
		runs = min(runs, 8)
	}
	for seed := range uint64(runs) {
		c := newChance(t, seed)
		if bad := c.play(40); len(bad) > 0 {
			t.Errorf(
				"seed %d, step %d, holds %v, swaps %v, nudges %v, hush %t, manual %v:\n%s\n%s", seed, c.step(),
				slices.Sorted(maps.Keys(c.holds)), c.swaps, c.nudges, c.hush, c.manual, strings.Join(bad, "\n"),
				strings.Join(c.log, "\n"),
			)
			if t.Failed() {
				return
			}
		}
	}
}
