package standby_test

import (
	"bytes"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/journal"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/standby"
	"backfield/osc/virtual"
	"backfield/osc/wire"
)

var failures = flag.Int("failures", 40, "how many seeded failures TestFailures plays")

const mixerText = `
to = "127.0.0.1:9000"
rate = 2000
channels = 24
[mute]
address = "/m/{channel}"
[level]
address = "/l/{channel}"
off = -120
max = 10
[delay]
address = "/d/{channel}"
max = 500
[pan]
address = "/p/{channel}"
`

var start = time.Unix(1_800_000_000, 0)

// talks is what a mixer may say.
var talks = []struct {
	text string
	echo bool
}{
	{"[echo]\n", true},
	{"[echo]\n[query]\naddress = \"{address}\"\n", true},
	{"[query]\naddress = \"{address}\"\n", false},
	{"", false},
	{"repeat = false\n[echo]\n[query]\naddress = \"{address}\"\n", true},
}

func readMixer(t testing.TB, more string) *mixer.Mixer {
	t.Helper()
	var p source.Problems
	top, tables := "", more
	if rest, ok := strings.CutPrefix(more, "repeat = false\n"); ok {
		top, tables = "repeat = false\n", rest
	}
	d := mixer.Read(&source.File{Name: "mixer.toml", Text: top + mixerText + tables}, &p)
	if p.Errors() > 0 {
		t.Fatal(p.All())
	}
	return d
}

// timeline counts two counts a second, in one movement.
type timeline struct{}

func (timeline) Find(string) (float64, error) { return 0, fmt.Errorf("no count") }

func (timeline) At(timeS float64) run.ScoreMoment {
	return run.ScoreMoment{Movement: 1, Count: 1 + 2*timeS}
}

func (timeline) Counts(fromS, toS float64) float64 { return 2 * (toS - fromS) }

// show has a horn line that opens, moves and fades: cues to press, automatic cues between them, and extra messages.
func show(r *rand.Rand) *cue.Show {
	s := &cue.Show{Title: "failures"}
	at := 0.0
	for i := range 24 {
		c := cue.Snapshot{ID: fmt.Sprint("q", i), Movement: 1, TimeS: at, FadeS: float64(r.IntN(4)) / 2}
		c.Auto = i > 0 && r.IntN(2) == 0
		at += 0.5 + 2*r.Float64()
		for n := 1; n <= 16; n++ {
			ch := cue.Channel{
				Channel: n, Player: fmt.Sprint("Tpt ", n), Kind: cue.Worn, LevelDB: cue.Silent,
				Pan: float64(r.IntN(201)-100) / 100, DelayMS: float64(r.IntN(500)) / 10,
			}
			if r.IntN(3) > 0 {
				ch.Open, ch.Role, ch.LevelDB = true, "feature", cue.Level(r.IntN(30)-24)
			}
			if n == 16 { // a fixed mic
				ch.Kind, ch.Pan, ch.DelayMS = cue.Fixed, 0.25, 0
			}
			c.Channels = append(c.Channels, ch)
		}
		c.Also = []cue.Extra{{Address: fmt.Sprint("/fx/", i), Types: "i", Args: []any{float64(i)}}}
		s.Cues = append(s.Cues, c)
	}
	return s
}

// delivery is a line on its way, or the news that the link is up or down.
type delivery struct {
	at   time.Time
	line standby.PairLine
	cut  bool
	up   bool
}

// laptop is one of the two: its machine, its engine while it has one, and the network to and from it.
type laptop struct {
	name    string
	machine *standby.Laptop
	ear     *standby.Ear
	engine  *run.Engine
	skew    time.Duration // of its clock
	dead    bool
	frozen  bool
	out     *virtual.FaultyLink // to the mixer
	back    *virtual.FaultyLink
	in      []delivery // lines to this laptop
	lost    bool       // lines to it go nowhere
	entries []journal.Entry
	extras  int
	sent    int // value messages
	begun   time.Time
}

// world is the two laptops, the mixer and what is between them, in a time of its own.
type world struct {
	t       testing.TB
	r       *rand.Rand
	now     time.Time
	plan    run.ShowSetup
	d       *mixer.Mixer
	echo    bool
	sim     *virtual.Device
	both    [2]*laptop
	linkUp  bool
	linkMS  int
	log     []string
	bad     []string
	twoFrom time.Time // since when both send; zero for not
	twoMost time.Duration
	doubles bool // packets may arrive twice
	late    bool // whether something that is lost on its way excuses extras that are missing
}

func (w *world) note(format string, args ...any) {
	w.log = append(w.log, fmt.Sprintf("%8.3f ", w.now.Sub(start).Seconds())+fmt.Sprintf(format, args...))
}

func (w *world) wrong(format string, args ...any) {
	w.note("WRONG: "+format, args...)
	w.bad = append(w.bad, fmt.Sprintf(format, args...))
}

func (l *laptop) clock(now time.Time) time.Time { return now.Add(l.skew) }

func newWorld(t testing.TB, seed uint64, automatic time.Duration) *world {
	r := rand.New(rand.NewPCG(seed, 14))
	talk := talks[r.IntN(len(talks))]
	d := readMixer(t, talk.text)
	w := &world{t: t, r: r, now: start, d: d, echo: talk.echo, sim: virtual.New(d), linkMS: 1 + r.IntN(8)}
	w.plan = run.ShowSetup{Show: show(r), Mixer: d, Time: timeline{}}
	faults := virtual.Faults{Delay: 2 * time.Millisecond, Jitter: 2 * time.Millisecond}
	if r.IntN(3) == 0 && d.Repeat {
		faults.Drop, w.late = 0.03, true
	}
	if r.IntN(4) == 0 && d.Repeat {
		faults.Duplicate, w.doubles = 0.1, true
	}
	for i, name := range []string{"laptop 1", "laptop 2"} {
		l := &laptop{name: name, ear: standby.NewEar(d, i == 0)}
		l.out, l.back = virtual.NewFaultyLink(faults, seed<<3+uint64(i)), virtual.NewFaultyLink(faults, seed<<3+uint64(i)+4)
		if i == 1 {
			l.skew = []time.Duration{0, time.Minute, -time.Minute, 250 * time.Millisecond}[r.IntN(4)]
		}
		o := standby.LaptopOptions{First: i == 0, Echo: talk.echo, Mixers: 1}
		if i == 1 {
			o.Automatic = automatic
		}
		l.machine = standby.New(o, l.clock(w.now))
		w.both[i] = l
	}
	w.note("mixer %q, faults %v, clock of laptop 2 off by %v", talk.text, faults, w.both[1].skew)
	w.both[0].engine = run.New(w.plan, w.options(w.both[0]), w.now)
	w.both[0].engine.LinkUp(0, w.now)
	w.connect()
	return w
}

func (w *world) options(l *laptop) run.Options {
	return run.Options{To: []string{"mixer"}, Record: func(e journal.Entry) {
		l.entries = append(l.entries, e)
		if e.Kind == "problem" {
			w.note("%s: %s", l.name, e.Text)
		}
		if strings.Contains(e.Text, "MISSED") {
			w.wrong("%s", e.Text)
		}
		l.machine.Record(e)
	}}
}

func (w *world) linkDelay() time.Duration { return time.Duration(w.linkMS) * time.Millisecond }

// connect opens the link, as far as the laptops live.
func (w *world) connect() {
	w.linkUp = true
	for _, l := range w.both {
		l.in = append(l.in, delivery{at: w.now.Add(w.linkDelay()), up: true})
	}
}

// cut is the link noticed to be down by a laptop after some time.
func (w *world) cut(l *laptop, after time.Duration) {
	l.in = append(l.in, delivery{at: w.now.Add(after), cut: true})
}

// does reports whether a laptop does anything at all.
func (l *laptop) does() bool { return !l.dead && !l.frozen }

// work does all that is due at this instant.
func (w *world) work() {
	for i, l := range w.both {
		if l.does() {
			w.receive(l)
			w.hear(l)
			w.act(l, w.both[1-i])
		}
	}
	for _, l := range w.both {
		for _, packet := range l.out.Deliver(w.now) {
			for _, r := range w.sim.Handle(w.now, l.name, packet) {
				for _, to := range w.both {
					if to.name == r.To && !to.dead {
						to.back.Send(w.now, r.Packet)
					}
				}
			}
		}
	}
	w.judge()
}

func (w *world) receive(l *laptop) {
	now := l.clock(w.now)
	for len(l.in) > 0 && !l.in[0].at.After(w.now) {
		x := l.in[0]
		l.in = l.in[1:]
		switch {
		case x.up:
			l.machine.Linked(now)
		case x.cut:
			l.machine.Cut(now)
		default:
			l.machine.Receive(x.line, now)
		}
	}
}

func (w *world) hear(l *laptop) {
	now := l.clock(w.now)
	for _, packet := range l.back.Deliver(w.now) {
		list, err := wire.Decode(packet)
		if err != nil {
			w.t.Fatal(err)
		}
		for _, m := range list {
			address := ""
			foreign, own := l.ear.Heard(m, now)
			if foreign {
				address = m.Address
			}
			l.machine.Heard(0, address, own, now)
			if l.engine != nil && l.machine.Sends(now) {
				l.engine.Heard(0, m, now)
			}
		}
	}
}

// holds reports whether a laptop keeps its engine: it sends, or may do so again in a moment.
func holds(v standby.LaptopView, was bool) bool {
	switch v.Mode {
	case standby.Sending:
		return true
	case standby.Pausing, standby.Checking, standby.Listening:
		return was
	}
	return false
}

func (w *world) act(l, other *laptop) {
	now := l.clock(w.now)
	l.machine.Advance(now)
	if l.engine != nil && l.engine.Contested() {
		l.machine.OtherWriter(now)
	}
	sends := l.machine.Sends(now)
	keeps := holds(l.machine.View(now), l.engine != nil)
	switch {
	case sends && l.engine == nil:
		w.begin(l, now)
	case !keeps && l.engine != nil:
		w.note("%s: %s %s", l.name, l.machine.View(now).Headline, l.machine.View(now).Ask)
		l.engine = nil
	}
	if again, fought := l.machine.Regained(); again {
		w.note("%s: the other has gone silent; it did send: %t", l.name, fought)
		if fought {
			l.engine.Do(run.Command{Verb: run.Release, Name: "all"}, now) // an error says that there was none
		}
		l.engine.Do(run.Command{Verb: run.Resend}, now)
	}
	if sends {
		l.engine.Advance(now)
		for _, m := range l.engine.Take(0, now) {
			w.send(l, m.OSC(), now)
			if m.Row >= 0 {
				l.sent++
			}
		}
		l.engine.Sent(0, now)
		if m, ok := l.ear.Beacon(now); ok && l.machine.Beacon(now) {
			w.send(l, m, now)
		}
	}
	if len(l.machine.Probe(now)) > 0 {
		step := max(w.stepOf(l.machine.State().Step), 0)
		for _, m := range l.ear.Probe(w.plan.Show.Cues, step) {
			w.send(l, m, now)
		}
	}
	l.entries = append(l.entries, l.machine.Entries()...)
	for _, line := range l.machine.Take(now) {
		if w.linkUp && !other.lost && !other.dead {
			at := w.now.Add(w.linkDelay())
			if n := len(other.in); n > 0 && other.in[n-1].at.After(at) {
				at = other.in[n-1].at
			}
			in := standby.NewReader(bytes.NewReader(line.Bytes()))
			in.Admitted()
			came, err := in.Next()
			if err != nil {
				w.t.Fatal(err)
			}
			other.in = append(other.in, delivery{at: at, line: came})
		}
	}
}

func (w *world) send(l *laptop, m osc.Message, now time.Time) {
	l.ear.Sent(m, now)
	if strings.HasPrefix(m.Address, "/fx/") {
		l.extras++
	}
	l.out.Send(w.now, wire.Encode(m))
}

// begin makes the engine of a laptop that begins to send.
func (w *world) begin(l *laptop, now time.Time) {
	o := w.options(l)
	o.Up = []int{0}
	e, err := run.Resume(w.plan, o, l.machine.State(), now)
	if err != nil {
		w.wrong("%s: %v", l.name, err)
		return
	}
	l.engine, l.begun = e, w.now
	w.note("%s sends, term %d, cue %q", l.name, l.machine.View(now).Term, e.State().Step)
}

func (w *world) stepOf(id string) int {
	return slices.IndexFunc(w.plan.Show.Cues, func(s cue.Snapshot) bool { return s.ID == id })
}

// judge notes how long both laptops send.
func (w *world) judge() {
	two := true
	for _, l := range w.both {
		two = two && l.does() && l.machine.Sends(l.clock(w.now))
	}
	switch {
	case two && w.twoFrom.IsZero():
		w.twoFrom = w.now
	case two:
		w.twoMost = max(w.twoMost, w.now.Sub(w.twoFrom))
	case !w.twoFrom.IsZero():
		w.note("both sent for %v", w.now.Sub(w.twoFrom))
		w.twoFrom = time.Time{}
	}
}

// run lets time pass.
func (w *world) run(d time.Duration) {
	end := w.now.Add(d)
	for {
		w.work()
		next := w.now.Add(20 * time.Millisecond)
		sooner := func(at time.Time, ok bool) {
			if ok && at.Before(next) {
				next = at
			}
		}
		for _, l := range w.both {
			sooner(l.out.Next())
			if !l.does() {
				continue
			}
			now := l.clock(w.now)
			sooner(l.machine.Next(now).Add(-l.skew), true)
			if l.engine != nil && l.machine.Sends(now) {
				at, _ := l.engine.Next(now)
				sooner(at.Add(-l.skew), true)
			}
			sooner(l.back.Next())
			if len(l.in) > 0 {
				sooner(l.in[0].at, true)
			}
		}
		if !next.After(w.now) {
			next = w.now.Add(50 * time.Microsecond)
		}
		if next.After(end) {
			w.now = end
			return
		}
		w.now = next
	}
}

// sender is the laptop that sends, nil for none.
func (w *world) sender() *laptop {
	for _, l := range w.both {
		if l.does() && l.engine != nil && l.machine.Sends(l.clock(w.now)) {
			return l
		}
	}
	return nil
}

// goOn presses go on a laptop, if it sends.
func (w *world) goOn(l *laptop) {
	if now := l.clock(w.now); l.does() && l.engine != nil && l.machine.Sends(now) {
		said, err := l.engine.Do(run.Command{Verb: run.Go}, now)
		w.note("%s: go: %s %v", l.name, said, err)
	}
}

// step is the cue that a laptop would go on with.
func (w *world) step(l *laptop) string {
	now := l.clock(w.now)
	if l.engine != nil {
		l.engine.Advance(now)
		return l.engine.State().Step
	}
	return ""
}

// should is the cue that the run is in, if it went on from what a laptop has written down.
func (w *world) should(l *laptop) string {
	var last journal.RunState
	for _, e := range l.entries {
		if e.State != nil {
			last = *e.State
		}
	}
	e, err := run.Resume(w.plan, run.Options{To: []string{"mixer"}}, last, l.clock(w.now))
	if err != nil {
		w.wrong("%v", err)
		return ""
	}
	return e.State().Step
}

// kinds of failures.
const (
	kill = iota
	freeze
	cable
	halfOut  // lines to laptop 2 are lost
	halfBack // lines to laptop 1 are lost
	none
	freezeCable // both at once
	failureKinds
)

var kindNames = []string{"killed", "frozen", "cable out", "half-open, to laptop 2", "half-open, to laptop 1", "no failure",
	"frozen, and cable out"}

// fail makes something happen to laptop 1 or to the link; heal undoes it.
func (w *world) fail(kind int) {
	w.note("FAILURE: %s", kindNames[kind])
	first, second := w.both[0], w.both[1]
	switch kind {
	case kill:
		first.dead = true
		if w.r.IntN(2) == 0 { // the system closes the connection; else it has lost its power
			w.cut(second, w.linkDelay())
		}
	case freeze:
		first.frozen = true
	case freezeCable:
		first.frozen, w.linkUp = true, false
	case cable:
		w.linkUp = false
		if w.r.IntN(2) == 0 { // the port sees it at once; else nobody does
			w.cut(first, 2*time.Millisecond)
			w.cut(second, 2*time.Millisecond)
		}
	case halfOut:
		second.lost = true
	case halfBack:
		first.lost = true
	}
}

func (w *world) heal(kind int) {
	w.note("healed: %s", kindNames[kind])
	first, second := w.both[0], w.both[1]
	switch kind {
	case freeze:
		w.thaw()
	case freezeCable:
		w.thaw()
		w.run(2 * time.Second)
		first.in, second.in = nil, nil
		w.cut(first, 0)
		w.cut(second, 0)
		w.connect()
	case cable, halfOut, halfBack:
		first.lost, second.lost = false, false
		first.in, second.in = nil, nil
		w.cut(first, 0)
		w.cut(second, 0)
		w.connect()
	}
}

// thaw has laptop 1 go on: it may send one packet before it looks at the link or at its clock, and no more.
func (w *world) thaw() {
	first, second := w.both[0], w.both[1]
	first.frozen = false
	before := first.sent
	w.act(first, second)
	w.run(50 * time.Millisecond)
	if took := second.machine.Sends(second.clock(w.now)); took && first.sent > before+1 {
		w.wrong("laptop 1 sends %d packets after it was frozen", first.sent-before)
	}
}

// play has one failure happen in the middle of a show, and returns what went wrong.
func play(t testing.TB, seed uint64) *world {
	r := rand.New(rand.NewPCG(seed, 15))
	automatic := time.Duration(0)
	if r.IntN(3) == 0 {
		automatic = 2 * time.Second
	}
	w := newWorld(t, seed, automatic)
	first := w.both[0]
	w.run(2 * time.Second)
	for range 1 + r.IntN(5) {
		w.goOn(first)
		w.run(time.Duration(450+r.IntN(2000)) * time.Millisecond)
	}
	kind := r.IntN(failureKinds)
	if r.IntN(3) == 0 { // in the middle of a fade, or of a cue's messages
		w.goOn(first)
		w.run(time.Duration(r.IntN(100)) * time.Millisecond)
	}
	knows := slices.Clone(first.entries)
	w.fail(kind)
	if kind >= cable && r.IntN(2) == 0 { // laptop 1 goes on, and laptop 2 may not see it
		w.run(time.Duration(100+r.IntN(900)) * time.Millisecond)
		w.goOn(first)
	}
	confirmed := w.take(kind, automatic, r)
	w.compare(kind, knows)
	for range r.IntN(3) {
		w.run(time.Duration(450+r.IntN(1000)) * time.Millisecond)
		if l := w.sender(); l != nil {
			w.goOn(l)
		}
	}
	if kind != kill && kind != none {
		w.heal(kind)
		w.run(2 * time.Second)
	}
	const flight = 60 * time.Millisecond
	if w.twoMost > flight && !confirmed {
		w.wrong("both sent for %v", w.twoMost)
	}
	w.settle(kind)
	return w
}

// take is the operator of laptop 2, who takes over; they confirm where they are asked to. It reports whether they had
// to.
func (w *world) take(kind int, automatic time.Duration, r *rand.Rand) (confirmed bool) {
	second := w.both[1]
	sends := func() bool { return second.machine.Sends(second.clock(w.now)) }
	view := func() standby.LaptopView { return second.machine.View(second.clock(w.now)) }
	if automatic > 0 && kind != none && r.IntN(2) == 0 {
		w.run(automatic + time.Second)
		dead := kind == kill || kind == freeze || kind == freezeCable
		switch {
		case sends() && !w.echo:
			w.wrong("an automatic takeover, and no mixer echoes")
		case sends() && !dead:
			w.wrong("an automatic takeover from a laptop that sends")
		case !sends() && dead && w.echo && !w.late:
			w.wrong("no automatic takeover")
		}
		if sends() {
			return false
		}
	}
	w.run(time.Duration(r.IntN(1500)) * time.Millisecond)
	pressed := w.now
	w.note("laptop 2: press")
	second.machine.Press(second.clock(w.now))
	for !sends() && view().Ask == "" && w.now.Sub(pressed) < 3*time.Second {
		w.run(5 * time.Millisecond)
	}
	if took := w.now.Sub(pressed); took > time.Second {
		w.wrong("neither taken over nor asked again after %v", took)
	}
	if sends() {
		return false
	}
	if kind == none {
		w.wrong("asked again, and nothing has failed: %s", view().Ask)
	}
	w.note("laptop 2 asks: %s", view().Ask)
	w.run(600*time.Millisecond + time.Duration(r.IntN(2000))*time.Millisecond)
	if sends() {
		return false
	}
	w.note("laptop 2: press to confirm")
	second.machine.Press(second.clock(w.now))
	w.run(5 * time.Millisecond)
	if !sends() && view().Mode == standby.Watching {
		w.wrong("confirmed, and not taken over: %s", view().Headline)
	}
	return true
}

// compare holds the cue that laptop 2 took over in to the one that laptop 1 was in, as far as it could be known.
func (w *world) compare(kind int, knows []journal.Entry) {
	first, second := w.both[0], w.both[1]
	if second.engine == nil {
		return
	}
	if kind == cable || kind == halfOut || kind == freezeCable { // what was pressed since did not come
		first.entries = knows
	}
	if kind == none || kind == halfBack {
		first.entries = append(first.entries, first.machine.Entries()...)
	}
	var got, want string
	for range 4 { // the two clocks are known to some milliseconds
		if got, want = w.step(second), w.should(first); got == want || second.engine == nil {
			return
		}
		w.run(5 * time.Millisecond)
	}
	w.wrong("laptop 2 is in cue %q, and laptop 1 was in %q", got, want)
}

// settle has one laptop send in the end, by its operator's key where both have stopped, and holds the mixer to its cue.
func (w *world) settle(kind int) {
	for range 3 {
		w.run(3 * time.Second)
		if w.sender() != nil {
			break
		}
		second := w.both[1]
		w.note("nobody sends; laptop 2: press (%s)", second.machine.View(second.clock(w.now)).Ask)
		second.machine.Press(second.clock(w.now))
	}
	if !w.twoFrom.IsZero() {
		w.wrong("both send in the end")
		return
	}
	l := w.sender()
	if l == nil {
		w.wrong("nobody sends in the end")
		return
	}
	now := l.clock(w.now)
	if _, err := l.engine.Do(run.Command{Verb: run.Stop}, now); err != nil {
		w.wrong("%v", err)
	}
	for range 100 {
		if w.run(200 * time.Millisecond); l.engine == nil || l.engine.Settled() {
			break
		}
	}
	w.run(3 * time.Second)
	if l.engine == nil {
		w.wrong("%s has gone silent", l.name)
		return
	}
	step := w.stepOf(l.engine.State().Step)
	s := w.plan.Show.Cues[max(step, 0)]
	wrong := 0
	for _, x := range w.d.Settings(&s) {
		if v, ok := w.sim.Value(x.Message.Address); step >= 0 && (!ok || !v.Same(x.Message.Args[0], 1e-6)) {
			if wrong++; wrong == 1 {
				w.wrong("%s is %v, cue %s means %v", x.Message.Address, v, s.ID, x.Message.Args[0])
			}
		}
	}
	if wrong > 1 {
		w.wrong("and %d more", wrong-1)
	}
	for _, u := range w.sim.State().Unknown {
		if u.Count > 1 && !w.doubles && (kind == kill || kind == freeze || kind == none) {
			w.wrong("%s came %d times", u.Address, u.Count)
		}
	}
}

// Whatever happens to laptop 1 or to the link, laptop 2 takes over within a second of the key, in the cue in which
// laptop 1 was; the two never send at once for longer than a packet takes, unless nothing can show it and the operator
// has confirmed.
func TestFailures(t *testing.T) {
	n := *failures
	if testing.Short() {
		n = min(n, 10)
	}
	for seed := range uint64(n) {
		if w := play(t, seed); len(w.bad) > 0 {
			t.Errorf("seed %d:\n%s\n%s", seed, strings.Join(w.bad, "\n"), strings.Join(w.log, "\n"))
		}
		if t.Failed() {
			return
		}
	}
}
