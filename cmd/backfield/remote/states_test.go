package remote

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cue"
	cuestep "backfield/cue/step"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// benchNames are who is on the channels of a small show, by channel.
var benchNames = map[int]string{
	1: "Tpt 1", 2: "Tpt 3", 3: "Tpt 6", 4: "Tpt 9", 5: "Tpt 11", 6: "Tpt 15", 7: "Tpt 17", 8: "Tpt 20", 9: "Mello 2",
	10: "Mello 7", 11: "Mello 9", 12: "Mello 11", 13: "Bari 3", 14: "Bari 9", 15: "Bari 12", 16: "Bari 13", 17: "Bari 6",
	18: "Tuba 4", 19: "Tuba 7", 20: "Tuba 12", 41: "field left", 42: "field center", 43: "field right", 45: "pit far left",
	46: "pit left", 47: "pit center left", 48: "pit center right", 49: "pit right", 50: "pit far right",
}

// onBench gives a state its whole bench: the rows, and every other channel closed, as the mixer has confirmed.
func onBench(v run.View) run.View {
	v.Bench = nil
	for _, n := range slices.Sorted(maps.Keys(benchNames)) {
		row := channel(n, benchNames[n], "worn", "", -9, feed.ChannelOK)
		if n > 40 {
			row.Kind = "field"
		}
		row.ShowOpen, row.LevelDB, row.ShowDB = false, cue.Silent, cue.Silent
		for _, r := range v.Rows {
			if r.Own == n {
				row = r
			}
		}
		v.Bench = append(v.Bench, row)
	}
	return v
}

// benchOptions are the options of a page with that bench.
func benchOptions(t *testing.T) ServerOptions {
	_, o := harbor(t)
	o.Channels, o.MixerChannels = slices.Sorted(maps.Keys(benchNames)), 64
	return o
}

// frozen is a run that stays in one state.
type frozen struct{ v run.View }

func (f frozen) DoWithin(run.Command, time.Duration) (string, error) { return "", nil }
func (f frozen) View() (run.View, bool)                              { return f.v, true }

// channel is a channel as the show has it, at the mixer too.
func channel(number int, player, kind, role string, levelDB cue.Level, sign feed.ChannelSign) run.ChannelRow {
	return run.ChannelRow{Channel: number, Own: number, Player: player, Kind: kind, Role: role, MixerChannel: feed.MixerChannel{
		Sign: sign, LevelKnown: true, LevelDB: levelDB, MuteKnown: true, ShowOpen: true, ShowDB: levelDB,
	}}
}

// stateView is a state of a run, what the top of the page says in it, and what else the page says.
type stateView struct {
	top  string
	also []string
	v    run.View
}

// stateViews are states that an operator must recognize at a glance.
func stateViews() map[string]stateView {
	calm := func() run.View {
		v := run.View{
			Title: "Harbor Lights", Step: "6", Name: "trumpets on the arcs", Running: true, Rate: 1, BPM: 132, ShowS: 26.8,
			Now: run.ScoreMoment{Movement: 1, Count: 60, Set: "4", BPM: 132}, WaitCounts: 16,
			Next:   &run.NextCue{ID: "7", At: "set 5", Name: "low brass, wing to wing", Counts: 9, InS: 4.1},
			Mixers: []run.MixerView{{To: "udp://127.0.0.1:9000", Up: true, Confirms: true, ReplyAgoS: 0.2}},
		}
		v.Next.Opens, v.Next.Stops = []string{"Bari 3", "Tuba 4"}, []int{1, 2}
		for i, n := range []int{1, 3, 6, 9, 11, 15, 17, 20} {
			v.Rows = append(v.Rows, channel(i+1, fmt.Sprintf("Tpt %d", n), "worn", "feature", -1.5, feed.ChannelOK))
		}
		for i, n := range []int{2, 7, 9, 11} {
			v.Rows = append(v.Rows, channel(i+9, fmt.Sprintf("Mello %d", n), "worn", "support", -9, feed.ChannelOK))
		}
		v.Rows = append(v.Rows, channel(41, "field left", "field", "ambient", -15, feed.ChannelOK))
		return v
	}
	list := map[string]stateView{}
	put := func(name, top string, v run.View, also ...string) { list[name] = stateView{top, also, onBench(v)} }
	put("calm", "", calm())
	quiet, near := calm(), calm()
	quiet.Ring = &run.FeedbackView{WantedDB: 6}
	put("no mic near feedback", "", quiet)
	near.Ring = &run.FeedbackView{WantedDB: 6, MarginDB: 2.7, TakeDB: 5, First: []string{"field left", "Tpt 3"}}
	put("near feedback", "", near,
		"NEAR FEEDBACK field left: 4 dB too close, about 2 dB left, give or take 5; then Tpt 3")
	unwatched := calm()
	unwatched.Ring = &run.FeedbackView{Unwatched: "venue.toml:5:49: 74 dBA says nothing; read again"}
	put("feedback not watched", "", unwatched, "FEEDBACK NOT WATCHED: venue.toml:5:49: 74 dBA says nothing; read again")
	silent := calm()
	silent.Mixers[0].NoReply, silent.Mixers[0].ReplyAgoS = true, 12
	for i := range silent.Rows {
		silent.Rows[i].Sign = feed.ChannelWaiting
	}
	put("silent", "NO REPLY FROM MIXER for 12 s: check power and cable", silent, "sent once a mixer hears it")
	manual := calm()
	manual.Rows[1].Sign, manual.Rows[1].LevelDB = feed.ChannelManual, -31
	manual.Rows[9].Sign, manual.Rows[9].Muted = feed.ChannelMuted, true
	still := channel(14, "Bari 9", "worn", "", -9, feed.ChannelStillOpen)
	still.ShowOpen = false
	manual.Rows = append(manual.Rows, still)
	manual.Running = false
	put("manual", "3 MANUAL: ch 2 down, ch 10 muted, ch 14 still open", manual, "MUTE", "−31.0", "1:60")
	changed := calm() // what was moved at the mixer closes or opens next: the alarm and the sign both have room
	changed.Next.Stops, changed.Next.Starts = []int{1, 2, 10, 15}, []string{"Bari 9", "Mello 11"}
	for _, i := range []int{0, 1, 9} {
		changed.Rows[i].Sign, changed.Rows[i].Muted = feed.ChannelMuted, true
	}
	late := channel(14, "Bari 9", "worn", "", -9, feed.ChannelStillOpen)
	late.ShowOpen, late.NudgeDB = false, -1
	changed.Rows = append(changed.Rows, late)
	put("manual, changed next", "4 MANUAL", changed, "MUTE", "OPEN")
	hushed := calm()
	hushed.Hush, hushed.Rows = true, hushed.Rows[12:]
	intent := hushed.Next.Summary
	hushed.Next.Intent, hushed.Next.Summary = &intent, run.NextCue{}.Summary
	put("hushed", "HUSHED: all worn mics closed", hushed, "after unhush")
	open := hushed
	worn := channel(2, "Tpt 3", "worn", "", -9, feed.ChannelStillOpen)
	worn.ShowOpen = false
	open.Rows = append([]run.ChannelRow{worn}, open.Rows...)
	put("hushed, not closed", "HUSHED, BUT 1 CHANNEL STILL OPEN: ch 2 Tpt 3", open)
	wait := calm()
	wait.Next.Counts, wait.Next.InS, wait.Now.Count = 5e-7, 7.3, 59.999999 // between two movements
	put("wait", "", wait, "8 s", "in 7.3 s", "count 1:60")
	overdue := calm()
	overdue.Next.Counts = -2.2
	put("overdue", "OVERDUE by 2 counts. GO starts cue 7", overdue)
	full := calm()
	full.Step, full.Name = "17A", "trumpets on the arcs, walking out to the wings and back again before the last chord"
	full.Next.ID, full.Next.At, full.Next.Name = "104B", "set 14A + 12", "low brass, wing to wing, then collapsing to the wedge, everybody on the move until the release"
	full.Next.Opens, full.Next.Closes = nil, nil
	for n := 1; n <= 20; n++ {
		if n <= 12 {
			full.Next.Closes = append(full.Next.Closes, benchNames[n])
		} else {
			full.Next.Opens = append(full.Next.Opens, benchNames[n])
		}
	}
	full.Next.Levels = []string{"field left -15 to -12 dB", "field center -15 to -12 dB", "field right -15 to -12 dB", "pit left -6 to -3 dB"}
	full.Next.Handovers = []cuestep.Handover{{Channel: 8, From: "Tpt 20", To: "Tpt 13", Text: "channel 8 goes from Tpt 20 to Tpt 13, 0 to -3 dB"}}
	full.Next.Moves, full.Next.Glides, full.Next.Also = 12, 20, []string{"/room/2/mute i 1"}
	full.NextAuto = &run.NextCue{ID: "17A.1", At: "1:64", Counts: 4, InS: 1.8}
	full.Ticks = []run.Tick{{ID: "17A.1", Counts: 4}}
	full.Rows[1].Held, full.Rows[1].NudgeDB = true, -2
	full.Rows[2].Channel, full.Rows[2].NudgeDB = 33, 1.5
	full.Swaps, full.Holds, full.Nudges = []string{"Tpt 6 to channel 33"}, []string{"Tpt 3 (channel 2)"}, []string{"Tpt 3 -2 dB"}
	put("full", "", full, "H −2 dB", "S +1.5 dB", "auto 17A.1")
	named := overdue // two letters short of what a timeline's end has room for, and one count late
	named.Step, named.Next = "OpenerHit1", &run.NextCue{ID: "CloserEnd2", At: "set 7", Name: "all", Counts: -1.2}
	put("named", "OVERDUE by 1 count", named, "count late: cue CloserEnd2 at set 7")
	soon := calm()
	soon.Next.Counts, soon.Next.InS = 2.6, 1.2
	put("soon", "", soon)
	stopped := calm()
	stopped.Running, stopped.Stopped, stopped.Mixers[0].ReplyAgoS = false, "where the journal ends", 1234
	put("stopped", "", stopped, "clock stopped")
	last := calm()
	last.Next, last.WaitCounts = nil, 0
	put("the end", "", last, "end of show")
	busy := calm()
	busy.Mixers[0].Unconfirmed = 67
	for i := range busy.Rows {
		busy.Rows[i].Fading, busy.Rows[i].LevelDB = true, -31.5
	}
	busy.Now.Movement, busy.Now.Count, busy.Now.Set, busy.ShowS = 12, 1234, "14A", 3725.4
	busy.Next.Counts = 1234
	put("busy", "Mixer waiting for 67 values", busy, "1234")
	everything := hushed
	everything.Mixers = silent.Mixers
	everything.Next = overdue.Next
	everything.Problem, everything.ProblemAgoS = "cannot write the journal /home/show/nights/tonight.journal: no space left on the disk", 4
	everything.Notice, everything.NoticeAgoS = "192.168.1.77 tried a wrong key for the page", 9
	put("everything", "NO REPLY FROM MIXER for 12 s: check power and cable", everything)
	standby := calm()
	standby.Pair = &run.PairView{
		Headline: "STANDBY: this laptop sends nothing. Laptop 1 alive, 0.2 s ago", Term: 4,
		Mixers: standby.Mixers,
	}
	put("standby", "STANDBY: this laptop sends nothing", standby)
	gone := calm()
	gone.Pair = &run.PairView{Headline: "LAPTOP 1 IS GONE for 12 s. This is laptop 2", Press: "takes over", Gone: true, Term: 4}
	gone.Mixers, gone.Rows = nil, silent.Rows
	put("gone", "LAPTOP 1 IS GONE for 12 s. This is laptop 2. Tap Take over twice", gone, "nobody is known to send it")
	asked := gone
	asked.Pair = &run.PairView{
		Headline: "LAPTOP 1 IS GONE for 12 s", Gone: true, Term: 4,
		Ask: "NOT TAKEN OVER: laptop 1 may still send. Switch it off", AskPress: "then takes over",
	}
	put("asked", "NOT TAKEN OVER: laptop 1 may still send. Switch it off. Tap Take over twice", asked)
	takenOver := overdue
	takenOver.Pair = &run.PairView{Sends: true, Alone: true, Headline: "THIS LAPTOP SENDS NOW: laptop 1 is silent for 7 s"}
	put("takenover", "OVERDUE by 2 counts. GO starts cue 7 · NO STANDBY", takenOver)
	return list
}

// recorder is a run that stays in one state and notes what it is told.
type recorder struct {
	frozen
	told chan run.Command
}

func (r recorder) DoWithin(c run.Command, _ time.Duration) (string, error) {
	r.told <- c
	return "", nil
}

// A laptop that stands by is taken over to by two taps on the page. One tap does nothing, and neither does Space. A channel
// is released, held, swapped and nudged behind the touch of its tile, with the player that the panel shows.
func TestBrowserTapsTwice(t *testing.T) {
	t.Parallel()
	first := browser.Open(t, 1024, 768)
	o, states := benchOptions(t), stateViews()
	told := func(c <-chan run.Command) string {
		select {
		case c := <-c:
			return c.String()
		case <-time.After(5 * time.Second):
			return "nothing"
		}
	}
	st := recorder{frozen{states["gone"].v}, make(chan run.Command, 10)}
	p := serve(t, st, o).open(t, first.NewDevice(1024, 768))
	p.reads("cue", "6 ")
	p.Key(" ")
	p.said("Space does nothing")
	p.Click("#go")
	p.said("Press again to take over: this laptop sends to the mixers")
	time.Sleep(bounced)
	if len(st.told) != 0 {
		t.Errorf("one tap did %v", <-st.told)
	}
	got := ""
	for tries := 0; got == "" && tries < 10; tries++ { // on a busy machine a second tap can be too late, and a first one
		p.Click("#go")
		select {
		case c := <-st.told:
			got = c.String()
		case <-time.After(500 * time.Millisecond):
		}
	}
	if got != "takeover" {
		t.Errorf("two taps did %q; the page says %q", got, p.text("said"))
	}
	st = recorder{frozen{states["manual"].v}, make(chan run.Command, 10)}
	q := serve(t, st, o).open(t, first.NewDevice(390, 844))
	q.reads("cue", "6 ")
	q.Click(".tile[data-channel='14']")
	q.reads("panel", "closes it")
	for button, want := range map[int]string{1: "release 14", 2: "hold 14", 4: "nudge 14 -1", 5: "nudge 14 +1"} {
		q.Click(fmt.Sprintf("#panel button:nth-of-type(%d)", button))
		if got := told(st.told); got != want {
			t.Errorf("button %d did %q, want %q", button, got, want)
		}
		time.Sleep(time.Second / maxCommandsPerS)
	}
	q.Click("#panel button:nth-of-type(3)")
	q.reads("panel", "ch 21")
	q.Click("#panel button:nth-of-type(5)") // more
	q.reads("panel", "ch 25")
	q.Click("#panel button:nth-of-type(1)")
	if got := told(st.told); got != "swap 14 to 25" {
		t.Errorf("a spare did %q", got)
	}
	q.Click("#panel button:nth-of-type(6)")
	q.Await("document.getElementById('panel').hidden", 5*time.Second)
	if len(st.told) != 0 {
		t.Errorf("done did %v", <-st.told)
	}
	for _, x := range []*tablet{p, q} {
		if got := x.Faults(); got != "" {
			t.Errorf("in the browser: %q", got)
		}
	}
}

// TestBrowserStates looks at what the page says of the mixer in each state.
func TestBrowserStates(t *testing.T) {
	t.Parallel()
	p := showing(t, inChromium{browser.Open(t, 1024, 768)}, benchOptions(t))
	tiles := map[string]string{
		"calm": "−1.5", "silent": "−1.5 ?", "manual": "OPEN", "hushed": "hushed", "hushed, not closed": "OPEN", "wait": "−1.5",
		"standby": "−1.5", "gone": "−1.5 ?",
	}
	for name, s := range stateViews() {
		p.put(s.v)
		if got := p.tablet.text("alarms"); !strings.HasPrefix(got, cmp.Or(s.top, got)) || s.top == "" && len(s.v.Mixers) > 0 && s.v.Ring == nil && !strings.HasPrefix(got, "Mixer OK") {
			t.Errorf("%s: the top of the page reads %q, want %q", name, got, s.top)
		}
		if got := p.tablet.text("bench"); !strings.Contains(got, tiles[name]) {
			t.Errorf("%s: %q is not in %q", name, tiles[name], got)
		}
		strip := "GO"
		if name == "the end" {
			strip = "END"
		}
		if s.v.Pair != nil && !s.v.Pair.Sends {
			strip = "Take over"
		}
		if got := p.tablet.text("goword"); !strings.EqualFold(got, strip) || browser.Eval[bool](p.tablet.Tab, `document.getElementById("go").disabled`) {
			t.Errorf("%s: the strip reads %q, or is off", name, got)
		}
		if got := strings.ReplaceAll(p.tablet.text("from"), "\n", ""); s.v.Next != nil && got != s.v.Step {
			t.Errorf("%s: the timeline begins at %q", name, got)
		}
		body := browser.Eval[string](p.tablet.Tab, "document.body.innerText")
		for _, word := range s.also {
			if !strings.Contains(body, word) {
				t.Errorf("%s: %q is not in %q", name, word, body)
			}
		}
	}
	p.answers()
	p.namesOneMic()
	if got := p.Faults(); got != "" {
		t.Errorf("in the browser: %q", got)
	}
}

// answers looks at the heading of a panel: it names its own channel, whatever was answered to another.
func (p *shown) answers() {
	p.t.Helper()
	head := func(script, want string) {
		p.t.Helper()
		got := browser.Eval[string](p.tablet.Tab, "("+script+"), document.querySelector('#panel h3').innerText")
		if !strings.HasPrefix(got, want) {
			p.t.Errorf("after %s the panel's heading reads %q, want %q", script, got, want)
		}
	}
	p.put(stateViews()["manual"].v)
	head(`openPanel("4")`, "4 Tpt 9 mixer")
	head(`say("Tpt 9: -1 dB", false, place("nudge", "4"))`, "4 Tpt 9: -1 dB")
	head(`openPanel("9")`, "9 Mello 2 mixer")
	head(`say("Tpt 9: -1 dB", false, place("nudge", "4"))`, "9 Mello 2 mixer") // it comes late
	head(`say("channel 9 is taken", true, place("nudge", "9"))`, "9 Mello 2: channel 9 is taken")
	head(`closePanel(), openPanel("9")`, "9 Mello 2 mixer")
	browser.Eval[bool](p.tablet.Tab, `(() => {
		const real = window.fetch
		window.fetch = async () => { window.fetch = real; return new Response("", { status: 409 }) }
		give("jump", { name: "7" })
		return true
	})()`)
	p.tablet.said("jump refused, and the reason was lost: look at the cue, then try again")
	browser.Eval[bool](p.tablet.Tab, `closePanel(), true`)
	p.as([2]int{1024, 768}, "sun")
	lines := browser.Eval[int](p.tablet.Tab, `(() => {
		say("jump banana: no cue and so on, for four lines", true, "jump", "no cue, set or count banana")
		const r = document.createRange()
		r.selectNodeContents(document.getElementById("said"))
		return new Set([...r.getClientRects()].map(b => Math.round(b.top))).size
	})()`)
	if lines != 1 {
		p.t.Errorf("a short refusal takes %d lines", lines)
	}
}

// namesOneMic looks at the short names: each stands for one mic, and for one section.
func (p *shown) namesOneMic() {
	p.t.Helper()
	for name, want := range map[string]string{
		"Tpt 11": "Tpt 11|Tp 11|Tp11|ch 7|ch7", "Tuba 12": "Tuba 12|Tub 12|Tu 12|Tu12|ch 7|ch7",
		"Mello 11": "Mello 11|Mel 11|M 11|M11|ch 7|ch7", "field center": "field center|field C|fld C|fldC|ch 7|ch7",
		"pit far left": "pit far left|pit FL|pt FL|ptFL|ch 7|ch7",
	} {
		if got := browser.Eval[string](p.tablet.Tab, fmt.Sprintf(`shortNames(%q, 7).join("|")`, name)); got != want {
			p.t.Errorf("%s is shortened to %s, want %s", name, got, want)
		}
	}
	// What two mics would be shortened to, neither is.
	got := browser.Eval[string](p.tablet.Tab, `(() => {
		const was = picture
		picture = { tiles: ["pit left", "pit low", "Alto 1", "Alto 2", "Altohorn 1"].map(player => ({ player })) }
		const said = ["pit low", "Alto 1", "Altohorn 1"].map(s => shortNames(s, 7).join("|")).join("; ")
		picture = was
		return said
	})()`)
	if want := "pit low|ch 7|ch7; Alto 1|ch 7|ch7; Altohorn 1|Altoh 1|Altoh1|ch 7|ch7"; got != want {
		p.t.Errorf("the names are shortened to %s, want %s", got, want)
	}
}
