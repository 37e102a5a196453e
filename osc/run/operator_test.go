package run_test

import (
	"errors"
	"flag"
	"fmt"
	"maps"
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

var operatorRuns = flag.Int("operator", 40, "how many seeded runs TestOperator plays, of 60 commands each")

// TestOperator gives random commands in any order: go, back, jump, hush, hold, swap, nudge and what undoes them. Now
// and then it kills the run and resumes it from the journal, cuts a link for a while, restarts a mixer, or moves a
// value at one. After each it compares what two mixers hold with a plain model: the snapshot and a list of the
// operator's changes. By seed the links are bad and the mixers confirm, or neither; cues are recalled from the mixers'
// scenes; the show clock runs.
func TestOperator(t *testing.T) {
	runs := *operatorRuns
	if testing.Short() {
		runs = min(runs, 8)
	}
	restarts, taken := 0, 0
	for seed := range uint64(runs) {
		n, manual, err := playOperator(t, seed)
		restarts, taken = restarts+n, taken+manual
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	}
	t.Logf("%d restarts, after which %d channels were taken as manual", restarts, taken)
}

// handShow is a show of 8 cues at random: 4 players, of whom two change channels half way, and a fixed mic.
func handShow(r *rand.Rand) *cue.Show {
	s := &cue.Show{Title: "t"}
	for n := range 8 {
		x := cue.Snapshot{
			ID: fmt.Sprint(n + 1), At: fmt.Sprintf("1:%d", 8*n+1), Movement: 1, Count: float64(8*n + 1),
			TimeS: float64(4 * n), FadeS: float64(r.IntN(3)),
		}
		if n > 0 && r.IntN(4) == 0 {
			x.Auto, x.FadeS = true, 0
		} else if n > 0 && r.IntN(6) == 0 {
			x.Auto = true
		}
		for i, player := range []string{"A", "B", "C", "D", "pit"} {
			number := i + 1
			if n >= 4 && i < 2 { // they trade packs
				number = 2 - i
			}
			if player == "pit" {
				number = 11
			}
			c := channel(
				number, player, float64(r.IntN(20)-15), r.IntN(2) == 0, float64(r.IntN(21)-10)/10,
				float64(r.IntN(80)),
			)
			c.Params = []cue.ParamValue{{Name: "air", Value: float64(r.IntN(30))}, {Name: "cut", Value: float64(r.IntN(2))}}
			x.Channels = append(x.Channels, c)
		}
		slices.SortFunc(x.Channels, func(a, b cue.Channel) int { return a.Channel - b.Channel })
		s.Cues = append(s.Cues, x)
	}
	return s
}

// operator is all that the commands so far come to.
type operator struct {
	show   *cue.Show
	step   int
	past   []int
	hush   bool
	held   map[int]cue.Channel // by the channel that comes out
	spares map[int]int         // by the dead channel
	nudges map[string]float64
	used   map[int]bool // every channel that was ever a spare
	moved  [2]moves     // at each mixer
	scenes bool         // cues are recalled from the mixers' scenes, which set what someone moved
}

// moves are the parameters that someone has moved at a mixer and that the run leaves alone, and what they are now.
type moves map[mixer.Control]osc.Arg

// left ends manual on a channel at both mixers.
func (o *operator) left(channel int) {
	for _, m := range o.moved {
		maps.DeleteFunc(m, func(x mixer.Control, _ osc.Arg) bool { return x.Channel == channel })
	}
}

// isManual reports whether anything on a channel is manual at either mixer.
func (o *operator) isManual(channel int) bool {
	for _, m := range o.moved {
		for x := range m {
			if x.Channel == channel {
				return true
			}
		}
	}
	return false
}

// isManualAt reports whether anything is manual at a mixer.
func (o *operator) isManualAt(n int) bool { return len(o.moved[n]) > 0 }

// stillOpen reports whether a channel is closed in the show and open at a mixer, because someone moved its mute.
func (o *operator) stillOpen(n, channel int) bool {
	mute, moved := o.moved[n][mixer.Control{Channel: channel, Param: cue.ParamMute}]
	return moved && mute == osc.Int32(0) && !o.openNow()[channel]
}

// openNow lists the channels that are to be open.
func (o *operator) openNow() map[int]bool {
	open := map[int]bool{}
	means, _ := o.means(func(int) float64 { return 0 })
	for _, c := range means.Channels {
		open[c.Channel] = c.Open
	}
	return open
}

// opened ends manual on each channel that was not open before and is now, and everywhere when a scene was recalled.
func (o *operator) opened(before map[int]bool, from int) {
	if o.scenes && !o.hush && o.step != from && o.step >= 0 {
		clear(o.moved[0])
		clear(o.moved[1])
	}
	for channel, open := range o.openNow() {
		if open && !before[channel] {
			o.left(channel)
		}
	}
}

// means is what the mixer is to hold: the channels, and those that are closed and nothing else is known of.
func (o *operator) means(ceilingDB func(int) float64) (s cue.Snapshot, shut []int) {
	shutter := func(c cue.Channel) cue.Channel { c.Open, c.Role, c.LevelDB = false, "", cue.Silent; return c }
	for _, c := range o.show.Cues[max(o.step, 0)].Channels {
		if o.step < 0 || o.hush && c.Kind == cue.Worn {
			c = shutter(c)
		}
		if c.Open {
			c.LevelDB = min(c.LevelDB+cue.Level(o.nudges[c.Player]), cue.Level(ceilingDB(c.Channel)))
		}
		if spare := o.spares[c.Channel]; spare > 0 {
			s.Channels = append(s.Channels, shutter(c))
			if c.Channel = spare; c.Open {
				c.LevelDB = min(c.LevelDB, cue.Level(ceilingDB(spare)))
			}
		}
		if held, ok := o.held[c.Channel]; ok && !(o.hush && c.Kind == cue.Worn) {
			c = held
		}
		s.Channels = append(s.Channels, c)
	}
	for n := range o.used {
		if !slices.ContainsFunc(s.Channels, func(c cue.Channel) bool { return c.Channel == n }) {
			shut = append(shut, n)
		}
	}
	return s, shut
}

// wears is the channel of a player: of this step, or else the next, or else the one before. A number is itself.
func (o *operator) wears(name string) int {
	for _, c := range o.show.Cues[max(o.step, 0)].Channels {
		if c.Player == name {
			return c.Channel
		}
	}
	n := 0
	fmt.Sscan(name, &n)
	return n
}

func (o *operator) out(channel int) int {
	if spare := o.spares[channel]; spare > 0 {
		return spare
	}
	return channel
}

func (o *operator) remember() {
	if o.past = append(o.past, o.step); len(o.past) > 8 {
		o.past = o.past[1:]
	}
}

// advance takes the automatic steps up to an instant of the show.
func (o *operator) advance(showS float64) {
	due := func(s cue.Snapshot) bool { return s.Auto && s.TimeS <= showS }
	for o.step+1 < len(o.show.Cues) && due(o.show.Cues[o.step+1]) {
		before, from := o.openNow(), o.step
		o.step++
		o.opened(before, from)
	}
}

// press is a command, and whether it is to be taken.
func (o *operator) press(r *rand.Rand, ceilingDB func(int) float64) (line string, taken bool) {
	before, from := o.openNow(), o.step
	line, taken = o.command(r, ceilingDB)
	if strings.HasPrefix(line, "jump") || strings.HasPrefix(line, "back") { // also to where the run is
		from = -1
	}
	o.opened(before, from)
	return line, taken
}

func (o *operator) command(r *rand.Rand, ceilingDB func(int) float64) (line string, taken bool) {
	name := []string{"A", "B", "C", "D", "pit", "1", "3", "11"}[r.IntN(8)]
	number := o.wears(name)
	out := o.out(number)
	switch r.IntN(13) {
	case 0, 1, 2:
		for i := o.step + 1; i < len(o.show.Cues); i++ {
			if !o.show.Cues[i].Auto {
				o.remember()
				o.step = i
				return "go", true
			}
		}
		return "go", false
	case 3:
		if o.step < 0 {
			return "back", false
		}
		if n := len(o.past); n > 0 {
			o.step, o.past = o.past[n-1], o.past[:n-1]
			return "back", true
		}
		o.step--
		return "back", true
	case 4:
		o.remember()
		o.step = r.IntN(len(o.show.Cues))
		return "jump " + o.show.Cues[o.step].ID, true
	case 5:
		o.hush = true
		for _, c := range o.show.Cues[0].Channels {
			if c.Kind == cue.Worn {
				o.left(c.Channel)
			}
		}
		for spare := range o.used {
			o.left(spare)
		}
		return "hush", true
	case 6, 7:
		o.hush = false
		return "unhush", true
	case 8:
		means, _ := o.means(ceilingDB)
		for _, c := range means.Channels {
			if c.Channel == out {
				o.held[out] = c
			}
		}
		return "hold " + name, true
	case 9:
		if r.IntN(4) == 0 {
			taken = len(o.held)+len(o.moved[0])+len(o.moved[1]) > 0
			clear(o.held)
			clear(o.moved[0])
			clear(o.moved[1])
			return "release all", taken
		}
		_, taken = o.held[out]
		taken = taken || o.isManual(out) || o.isManual(number)
		delete(o.held, out)
		o.left(out)
		o.left(number)
		return "release " + name, taken
	case 10:
		spare := 20 + r.IntN(4)
		line = fmt.Sprintf("swap %s to %d", name, spare)
		for dead, other := range o.spares {
			if other == spare && dead != number {
				return line, false
			}
		}
		if out != spare {
			o.left(out)
			o.left(spare)
		}
		o.along(out, spare)
		o.spares[number] = spare
		o.used[spare] = true
		return line, true
	case 11:
		line = "swap " + name + " back"
		if o.spares[number] == 0 {
			return line, false
		}
		o.left(out)
		o.left(number)
		o.along(out, number)
		delete(o.spares, number)
		return line, true
	}
	dB := float64(r.IntN(13) - 6)
	if dB == 0 {
		return "nudge " + name + " 0", false
	}
	player := name
	for _, c := range o.show.Cues[max(o.step, 0)].Channels {
		if c.Channel == number {
			player = c.Player
		}
	}
	given, taken := nudgeGiven(o.show, o.step, player, o.nudges[player], dB, func(channel int) float64 {
		if spare := o.spares[channel]; spare > 0 {
			return min(ceilingDB(channel), ceilingDB(spare))
		}
		return ceilingDB(channel)
	})
	o.nudges[player] += given
	return fmt.Sprintf("nudge %s %+g", name, dB), taken
}

// along takes a hold from one channel to another.
func (o *operator) along(from, to int) {
	if c, ok := o.held[from]; ok {
		delete(o.held, from)
		c.Channel = to
		o.held[to] = c
	}
}

// manualNow is what a run leaves alone at a mixer.
func manualNow(e *run.Engine, mixerNumber int) map[mixer.Control]bool {
	list := map[mixer.Control]bool{}
	for _, m := range e.State().Manual {
		if m.Mixer == mixerNumber {
			list[mixer.Control{Channel: m.Channel, Param: m.Param, Zone: m.Zone}] = true
		}
	}
	return list
}

// somethingMoves picks what someone at a mixer moves, and to which value: one that no cue has, or the other way of a mute.
func somethingMoves(r *rand.Rand, m *virtual.Device, d *mixer.Mixer) (x mixer.Control, arg osc.Arg) {
	x = mixer.Control{Channel: []int{1, 2, 3, 4, 11}[r.IntN(5)]}
	switch r.IntN(3) {
	case 0:
		x.Param = cue.ParamPan
		return x, osc.Float32(0.55)
	case 1:
		x.Param = cue.ParamLevel
		return x, osc.Float32(-33.5)
	}
	x.Param = cue.ParamMute
	if is, _ := m.Value(d.Address(x)); is == osc.Int32(0) {
		return x, osc.Int32(1)
	}
	return x, osc.Int32(0)
}

// playOperator plays one run. It returns how often a mixer restarted, and how many channels were taken as manual then.
func playOperator(t *testing.T, seed uint64) (restarts, taken int, err error) {
	r := rand.New(rand.NewPCG(seed, 1))
	more, faults := "", virtual.Faults{}
	if seed%2 == 1 {
		more = "[echo]\n[query]\naddress = \"{address}\"\n"
		faults = virtual.Faults{
			Drop: 0.2, Duplicate: 0.1, Reorder: 0.1, Delay: 2 * time.Millisecond, Jitter: 8 * time.Millisecond,
		}
	}
	if seed%4 == 3 {
		more += "[store]\naddress = \"/s/{slot}\"\nslots = 10\nsettle = \"200 ms\"\n[recall]\naddress = \"/r/{slot}\"\n"
	}
	d := readMixer(
		t, ownParams+more+"[safety]\nceiling = \"3 dB\"\n[[safety.channel]]\nchannel = 21\nceiling = \"-8 dB\"\n",
	)
	plan := run.ShowSetup{Show: handShow(r), Mixer: d, Time: timeline{}}
	if seed%5 < 2 {
		withPaths(r, plan.Show)
	}
	var file strings.Builder
	options := run.Options{To: []string{"one", "two"}, Record: func(e journal.Entry) { file.Write(e.Line()) }}
	mixers := []*virtual.Device{virtual.New(d), virtual.New(d)}
	if options.Recall = d.Recall != nil; options.Recall {
		for _, m := range mixers {
			for i := range plan.Show.Cues {
				for _, x := range d.Settings(&plan.Show.Cues[i]) {
					m.Handle(start, "store", wire.Encode(x.Message))
				}
				m.Handle(start, "store", wire.Encode(d.Store.Message(d.Store.First+i, "")))
			}
			m.Wake()
		}
	}
	w := simulate.New(run.New(plan, options, start), start, faults, seed, mixers...)
	o := operator{
		show: plan.Show, step: -1, held: map[int]cue.Channel{}, spares: map[int]int{}, nudges: map[string]float64{},
		used: map[int]bool{}, moved: [2]moves{{}, {}}, scenes: options.Recall,
	}
	var done []string
	for range 60 {
		if r.IntN(12) == 0 {
			entries, _, err := journal.Read(strings.NewReader(file.String()))
			if err != nil {
				return restarts, taken, err
			}
			state, _ := journal.Last(entries)
			e, err := run.Resume(plan, options, state, w.Now)
			if err != nil {
				return restarts, taken, err
			}
			w = simulate.New(e, w.Now, faults, seed, mixers...)
			done = append(done, "killed and resumed")
		} else {
			far := &w.Mixers[r.IntN(2)]
			w.Run(500 * time.Millisecond)
			if r.IntN(8) == 0 {
				far.Cut = errors.New("link down")
				done = append(done, "(one link cut meanwhile)")
				w.Run(300 * time.Millisecond)
			}
			o.advance(w.Engine.View(w.Now).ShowS)
			line, fine := o.press(r, d.CeilingDB)
			done = append(done, line)
			if _, err := w.Do(line); (err == nil) != fine {
				return restarts, taken, fmt.Errorf("%s: %v, and it is to be taken: %v", strings.Join(done, ", "), err, fine)
			}
			for _, c := range w.Engine.State().Holds { // in the middle of an automatic cue's fade, which the model does not know
				if held, ok := o.held[c.Channel]; ok && (seed%3 == 0 || seed%5 < 2) && strings.HasPrefix(line, "hold ") {
					if held.LevelDB, held.Params = c.LevelDB, c.Params; c.Open != held.Open || seed%5 < 2 { // it fades out, or is on its path
						held = c
					}
					o.held[c.Channel] = held
				}
			}
			if seed%3 > 0 { // nothing is automatic
				w.Do("stop")
			}
			if far.Cut != nil {
				w.Run(time.Second)
				far.Cut = nil
				w.Run(2 * time.Second) // before it counts as up again
			}
		}
		if more != "" && r.IntN(20) == 0 {
			done = append(done, "(a mixer restarts)")
			n := r.IntN(2)
			mixers[n].Reboot(w.Now)
			w.Run(15 * time.Second)
			o.advance(w.Engine.View(w.Now).ShowS)
			if len(o.moved[n]) == 0 || len(manualNow(w.Engine, n)) == 0 {
				clear(o.moved[n])
			}
			// If it lost only a value or two, they are taken as manual.
			for x := range manualNow(w.Engine, n) {
				if !o.isManual(x.Channel) {
					taken++
				}
				o.moved[n][x] = osc.Arg{}
			}
			if o.isManualAt(n) {
				done = append(done, "release all")
				if _, err := w.Do("release all"); err != nil {
					return restarts, taken, fmt.Errorf("%s: %v", strings.Join(done, ", "), err)
				}
				clear(o.held)
				clear(o.moved[0])
				clear(o.moved[1])
			}
			restarts++
		}
		if _, err := w.Settle(30 * time.Second); err != nil {
			return restarts, taken, fmt.Errorf("%s: %v\n%s", strings.Join(done, ", "), err, glance.Status(w.Engine.View(w.Now)))
		}
		if more != "" && seed%3 > 0 && r.IntN(6) == 0 {
			w.Run(5 * time.Second)
			n := r.IntN(2)
			x, arg := somethingMoves(r, mixers[n], d)
			if o.stillOpen(n, x.Channel) && x.Param != cue.ParamMute { // the run leaves it whole
				x.Param, arg = cue.ParamMute, osc.Int32(1)
			}
			done = append(done, fmt.Sprintf("(%s moves to %v at %d)", d.Address(x), arg, n))
			if err := w.Move(n, d.Address(x), arg); err != nil {
				return restarts, taken, err
			}
			// A round of queries takes 2 s, and on these links one in three is lost with its reply.
			noticed := func() bool { return manualNow(w.Engine, n)[x] }
			for end := w.Now.Add(60 * time.Second); !noticed() && w.Now.Before(end); {
				w.Run(time.Second)
			}
			if !noticed() {
				return restarts, taken, fmt.Errorf("%s: it is not noticed", strings.Join(done, ", "))
			}
			w.Run(20 * time.Second) // what moved before is heard of again
			o.moved[n][x] = arg
			if _, err := w.Settle(30 * time.Second); err != nil {
				return restarts, taken, fmt.Errorf("%s: %v", strings.Join(done, ", "), err)
			}
		}
		o.advance(w.Engine.View(w.Now).ShowS)
		means, shut := o.means(d.CeilingDB)
		for n, m := range mixers {
			var wrong []string
			moved := o.moved[n]
			for x := range manualNow(w.Engine, n) {
				if _, is := moved[x]; !is {
					wrong = append(wrong, fmt.Sprintf("%s is taken as manual", d.Address(x)))
				}
			}
			for x := range moved {
				if !manualNow(w.Engine, n)[x] {
					wrong = append(wrong, fmt.Sprintf("%s is no longer manual", d.Address(x)))
				}
			}
			for _, c := range means.Channels {
				if _, held := o.held[c.Channel]; !held {
					c = onItsPath(plan.Show, o.step, c, w.Engine.View(w.Now).ShowS)
				}
				stillOpen := o.stillOpen(n, c.Channel)
				for _, x := range d.Settings(&cue.Snapshot{Channels: []cue.Channel{c}}) {
					want := x.Message.Args[0]
					arg, manual := moved[x.Control]
					switch {
					case stillOpen && !manual: // the run leaves it
						continue
					case manual:
						want = arg
					}
					got, ok := m.Value(x.Message.Address)
					glides := seed%5 < 2 && !manual && nearly(d, x.Control, got, want, 20, w.Engine.View(w.Now).Rate, faults.Drop > 0)
					if !ok || got != want && !glides {
						wrong = append(wrong, fmt.Sprintf("%s is %v, wanted %v", x.Message.Address, got, want))
					}
				}
			}
			for _, channel := range shut {
				if got, _ := m.Value(fmt.Sprintf("/m/%d", channel)); got != osc.Int32(1) {
					wrong = append(wrong, fmt.Sprintf("channel %d, a spare no longer, is open", channel))
				}
			}
			if len(wrong) > 0 {
				return restarts, taken, fmt.Errorf(
					"%s: mixer %d:\n%s\n%s", strings.Join(done, ", "), n, strings.Join(wrong, "\n"),
					glance.Status(w.Engine.View(w.Now)),
				)
			}
		}
	}
	return restarts, taken, nil
}
