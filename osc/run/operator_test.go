package run_test

import (
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/journal"
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
			x.Waypoint, x.FadeS = true, 0
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
	due := func(s cue.Snapshot) bool { return (s.Waypoint || s.Auto) && s.TimeS <= showS }
	for o.step+1 < len(o.show.Cues) && due(o.show.Cues[o.step+1]) {
		o.step++
	}
}

// press is a command, and whether it is to be taken.
func (o *operator) press(r *rand.Rand, ceilingDB func(int) float64, manualAt []string) (line string, taken bool) {
	name := []string{"A", "B", "C", "D", "pit", "1", "3", "11"}[r.IntN(8)]
	number := o.wears(name)
	out := o.out(number)
	switch r.IntN(13) {
	case 0, 1, 2:
		for i := o.step + 1; i < len(o.show.Cues); i++ {
			if !o.show.Cues[i].Waypoint && !o.show.Cues[i].Auto {
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
		for o.step--; o.step >= 0 && o.show.Cues[o.step].Waypoint; o.step-- {
		}
		return "back", true
	case 4:
		o.remember()
		o.step = r.IntN(len(o.show.Cues))
		return "jump " + o.show.Cues[o.step].ID, true
	case 5:
		taken, o.hush = !o.hush || true, true
		return "hush", taken
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
			taken = len(o.held)+len(manualAt) > 0
			clear(o.held)
			return "release all", taken
		}
		_, taken = o.held[out]
		taken = taken || slices.Contains(manualAt, fmt.Sprint(out)) || slices.Contains(manualAt, fmt.Sprint(number))
		delete(o.held, out)
		return "release " + name, taken
	case 10:
		spare := 20 + r.IntN(4)
		line = fmt.Sprintf("swap %s to %d", name, spare)
		for dead, other := range o.spares {
			if other == spare && dead != number {
				return line, false
			}
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
	o.nudges[player] += dB
	return fmt.Sprintf("nudge %s %+g", name, dB), true
}

// along takes a hold from one channel to another.
func (o *operator) along(from, to int) {
	if c, ok := o.held[from]; ok {
		delete(o.held, from)
		c.Channel = to
		o.held[to] = c
	}
}

// manualAt is the channels that are manual at some mixer.
func manualAt(mixers ...run.MixerView) (numbers []string) {
	for _, mixer := range mixers {
		for _, text := range mixer.Manual {
			_, number, _ := strings.Cut(text, "(channel ")
			number, _, _ = strings.Cut(number, ")")
			numbers = append(numbers, number)
		}
	}
	return numbers
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
		used: map[int]bool{},
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
			line, fine := o.press(r, d.CeilingDB, manualAt(w.Engine.View(w.Now).Mixers...))
			done = append(done, line)
			if _, err := w.Do(line); (err == nil) != fine {
				return restarts, taken, fmt.Errorf("%s: %v, and it is to be taken: %v", strings.Join(done, ", "), err, fine)
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
			mixers[r.IntN(2)].Reboot(w.Now)
			w.Run(15 * time.Second)
			// If it lost only a value or two, the channels are taken as manual.
			for _, number := range manualAt(w.Engine.View(w.Now).Mixers...) {
				if slices.Contains(manualAt(w.Engine.View(w.Now).Mixers...), number) {
					done = append(done, "release "+number)
					if _, err := w.Do("release " + number); err != nil {
						return restarts, taken, fmt.Errorf("%s: %v", strings.Join(done, ", "), err)
					}
					delete(o.held, o.out(o.wears(number)))
					taken++
				}
			}
			restarts++
		}
		if _, err := w.Settle(30 * time.Second); err != nil {
			return restarts, taken, fmt.Errorf("%s: %v\n%s", strings.Join(done, ", "), err, w.Engine.View(w.Now))
		}
		if more != "" && r.IntN(20) == 0 {
			w.Run(5 * time.Second)
			n, channel := r.IntN(2), []int{1, 2, 3, 4, 11}[r.IntN(5)]
			done = append(done, fmt.Sprintf("(%d moved)", channel))
			if err := w.Move(n, fmt.Sprintf("/p/%d", channel), osc.Float32(0.55)); err != nil {
				return restarts, taken, err
			}
			noticed := func() bool { return slices.Contains(manualAt(w.Engine.View(w.Now).Mixers[n]), fmt.Sprint(channel)) }
			w.Run(8 * time.Second)
			// A round of queries takes 2 s, and on these links one in three is lost with its reply.
			for end := w.Now.Add(30 * time.Second); seed%3 > 0 && !noticed() && w.Now.Before(end); {
				w.Run(time.Second)
			}
			if seed%3 > 0 && !noticed() {
				return restarts, taken, fmt.Errorf("%s: it is not noticed", strings.Join(done, ", "))
			}
			if _, err := w.Settle(30 * time.Second); err != nil {
				return restarts, taken, fmt.Errorf("%s: %v", strings.Join(done, ", "), err)
			}
		}
		o.advance(w.Engine.View(w.Now).ShowS)
		means, shut := o.means(d.CeilingDB)
		for n, m := range mixers {
			var wrong []string
			left := manualAt(w.Engine.View(w.Now).Mixers[n])
			for _, x := range d.Settings(&means) {
				if place, _ := d.Find(x.Message.Address); slices.Contains(left, fmt.Sprint(place.Channel)) {
					continue
				}
				if got, ok := m.Value(x.Message.Address); !ok || got != x.Message.Args[0] {
					wrong = append(wrong, fmt.Sprintf("%s is %v, wanted %v", x.Message.Address, got, x.Message.Args[0]))
				}
			}
			for _, channel := range shut {
				if slices.Contains(left, fmt.Sprint(channel)) {
					continue
				}
				if got, _ := m.Value(fmt.Sprintf("/m/%d", channel)); got != osc.Int32(1) {
					wrong = append(wrong, fmt.Sprintf("channel %d, a spare no longer, is open", channel))
				}
			}
			if len(wrong) > 0 {
				return restarts, taken, fmt.Errorf(
					"%s: mixer %d:\n%s\n%s", strings.Join(done, ", "), n, strings.Join(wrong, "\n"),
					w.Engine.View(w.Now),
				)
			}
		}
	}
	return restarts, taken, nil
}
