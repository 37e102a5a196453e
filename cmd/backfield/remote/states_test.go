package remote

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/browser"
	"backfield/cue"
	"backfield/osc/feed"
	"backfield/osc/run"
)

// frozen is a run that stays in one state.
type frozen struct{ v run.View }

func (f frozen) DoWithin(run.Command, time.Duration) (string, error) { return "", nil }
func (f frozen) View() (run.View, bool)                              { return f.v, true }

// channel is a channel as the show has it, at the mixer too.
func channel(number int, player, kind, role string, levelDB cue.Level, sign feed.ChannelSign) run.ChannelRow {
	return run.ChannelRow{Channel: number, Player: player, Kind: kind, Role: role, MixerChannel: feed.MixerChannel{
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
	put := func(name, top string, v run.View, also ...string) { list[name] = stateView{top, also, v} }
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
	put("manual", "3 MANUAL: ch 2 down, ch 10 muted, ch 14 still open. Tap a row below twice to release it", manual,
		"tap twice: release closes it", "tap twice: release opens it", "tap twice: release sets −1.5 dB",
		"clock stopped: start runs it", "count 1:60", "more below")
	hushed := calm()
	hushed.Hush, hushed.Rows = true, hushed.Rows[12:]
	intent := hushed.Next.Summary
	hushed.Next.Intent, hushed.Next.Summary = &intent, run.NextCue{}.Summary
	put("hushed", "HUSHED: all worn mics closed. unhush opens them again", hushed, "after unhush: ○ opensBari\u00a03, Tuba\u00a04")
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
	put("overdue", "OVERDUE by 2 counts: press GO for cue 7", overdue)
	standby := calm()
	standby.Pair = &run.PairView{
		Headline: "STANDBY: this laptop sends nothing. Laptop 1 alive, 0.2 s ago", Term: 4,
		Mixers: standby.Mixers,
	}
	put("standby", "STANDBY: this laptop sends nothing", standby)
	gone := calm()
	gone.Pair = &run.PairView{Headline: "LAPTOP 1 IS GONE for 12 s. This is laptop 2: t t takes over", Gone: true, Term: 4}
	gone.Mixers, gone.Rows = nil, silent.Rows
	put("gone", "LAPTOP 1 IS GONE for 12 s. This is laptop 2: tap Take over twice", gone, "nobody is known to send it")
	asked := gone
	asked.Pair = &run.PairView{
		Headline: "LAPTOP 1 IS GONE for 12 s", Gone: true, Term: 4,
		Ask: "NOT TAKEN OVER: laptop 1 may still send. Switch it off, then t t",
	}
	put("asked", "NOT TAKEN OVER: laptop 1 may still send. Switch it off, then tap Take over twice", asked)
	takenOver := overdue
	takenOver.Pair = &run.PairView{Sends: true, Alone: true, Headline: "THIS LAPTOP SENDS NOW: laptop 1 is silent for 7 s"}
	put("takenover", "THIS LAPTOP SENDS NOW: laptop 1 is silent for 7 s", takenOver)
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

// A laptop that stands by is taken over to, and a channel that someone moved is released, by two taps on the page. One tap
// does nothing, and neither does Space.
func TestBrowserTapsTwice(t *testing.T) {
	t.Parallel()
	first := browser.Open(t, 1024, 768)
	_, o := harbor(t)
	states := stateViews()
	for name, x := range map[string]struct{ tap, armed, want string }{
		"gone":   {"#go", "take over: this laptop sends to the mixers", "takeover"},
		"manual": {"#mics [data-channel='14']", "release channel 14: closes it", "release 14"},
	} {
		st := recorder{frozen{states[name].v}, make(chan run.Command, 10)}
		p := serve(t, st, o).open(t, first.NewDevice(1024, 768))
		p.reads("cue", "6 ")
		if name == "gone" {
			p.Key(" ")
			p.reads("said", "Space does nothing")
		}
		p.Click(x.tap)
		p.reads("said", "Press again to "+x.armed)
		time.Sleep(bounced)
		if len(st.told) != 0 {
			t.Errorf("%s: one tap did %v", name, <-st.told)
		}
		told := ""
		for tries := 0; told == "" && tries < 10; tries++ { // on a busy machine a second tap can be too late, and a first one
			p.Click(x.tap)
			select {
			case c := <-st.told:
				told = c.String()
			case <-time.After(500 * time.Millisecond):
			}
		}
		if told != x.want {
			t.Errorf("%s: two taps did %q, want %q; the page says %q", name, told, x.want, p.text("said"))
		}
		if got := p.Faults(); got != "" {
			t.Errorf("in the browser: %q", got)
		}
	}
}

// boxes is where everything is that is tapped.
func (p *tablet) boxes() string {
	return browser.Eval[string](p.Tab, `[...document.querySelectorAll("button, input, #show")].map(e => {
		const b = e.getBoundingClientRect();
		return (e.id || e.textContent) + " " + [b.left, b.top, b.width, b.height].map(Math.round).join(" ");
	}).join("\n")`)
}

// TestBrowserStates looks at what the page says of the mixer in each state, on a tablet and a phone.
func TestBrowserStates(t *testing.T) {
	t.Parallel()
	first := browser.Open(t, 1024, 768)
	_, o := harbor(t)
	boxes := map[string]string{}
	for name, s := range stateViews() {
		f := serve(t, frozen{s.v}, o)
		for kind, size := range map[string][2]int{"tablet": {1024, 768}, "phone": {390, 844}} {
			p := f.open(t, first.NewDevice(size[0], size[1]))
			p.reads("cue", "6 ")
			if p.reads("alarms", s.top); s.top == "" && p.text("alarms") != "" {
				t.Errorf("%s: the top of the page reads %q", name, p.text("alarms"))
			}
			mics := p.text("mics")
			want := map[string]string{
				"calm": "−1.5", "silent": "−1.5?", "manual": "STILL OPEN (show closed)", "hushed": "field left", "hushed, not closed": "STILL OPEN",
				"wait": "−1.5", "overdue": "−1.5",
				"standby": "−1.5", "gone": "−1.5?", "asked": "−1.5?", "takenover": "−1.5",
			}[name]
			if !strings.Contains(mics, want) {
				t.Errorf("%s: %q is not in %q", name, want, mics)
			}
			if p.shot("state-" + name + "-" + kind); boxes[kind] == "" {
				boxes[kind] = p.boxes()
			}
			if got := p.boxes(); got != boxes[kind] { // a finger is on its way to where it saw the button
				t.Errorf("%s, %s: what is tapped has moved:\n%s\nin another state:\n%s", name, kind, got, boxes[kind])
			}
			strip := "go"
			if s.v.Pair != nil && !s.v.Pair.Sends {
				strip = "take over"
			}
			if got := p.text("goword"); got != strip || browser.Eval[bool](p.Tab, `document.getElementById("go").disabled`) {
				t.Errorf("%s: the strip reads %q, or is off", name, got)
			}
			if body := browser.Eval[string](p.Tab, "document.body.innerText"); strings.Contains(body, "every worn mic is closed") {
				t.Errorf("%s, %s: the page says for itself that the mics are closed", name, kind)
			}
			for _, word := range s.also {
				if body := browser.Eval[string](p.Tab, "document.body.innerText"); !strings.Contains(body, word) {
					t.Errorf("%s, %s: %q is not in %q", name, kind, word, body)
				}
			}
			if got := p.Faults(); got != "" {
				t.Errorf("in the browser: %q", got)
			}
		}
	}
}
