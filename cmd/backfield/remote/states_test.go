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

// stateViews are states that an operator must recognize at a glance, and what the top of the page says in each.
func stateViews() map[string]struct {
	top string
	v   run.View
} {
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
	list := map[string]struct {
		top string
		v   run.View
	}{}
	put := func(name, top string, v run.View) {
		list[name] = struct {
			top string
			v   run.View
		}{top, v}
	}
	put("calm", "", calm())
	silent := calm()
	silent.Mixers[0].NoReply, silent.Mixers[0].ReplyAgoS = true, 12
	for i := range silent.Rows {
		silent.Rows[i].Sign = feed.ChannelWaiting
	}
	put("silent", "NO REPLY FROM MIXER for 12 s: check power and cable", silent)
	manual := calm()
	manual.Rows[1].Sign, manual.Rows[1].LevelDB = feed.ChannelManual, -31
	manual.Rows[9].Sign, manual.Rows[9].Muted = feed.ChannelMuted, true
	still := channel(14, "Bari 9", "worn", "", -9, feed.ChannelStillOpen)
	still.ShowOpen = false
	manual.Rows = append(manual.Rows, still)
	put("manual", "3 MANUAL: ch 2 down, ch 10 muted, ch 14 still open", manual)
	hushed := calm()
	hushed.Hush, hushed.Rows = true, hushed.Rows[12:]
	put("hushed", "HUSHED: all worn mics closed. unhush opens them again", hushed)
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
	gone.Pair = &run.PairView{Headline: "LAPTOP 1 IS GONE for 12 s: press t twice on laptop 2 to take over", Gone: true, Term: 4}
	gone.Mixers, gone.Rows = nil, silent.Rows
	put("gone", "LAPTOP 1 IS GONE for 12 s: press t twice on laptop 2", gone)
	return list
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
				"calm": "−1.5", "silent": "−1.5?", "manual": "STILL OPEN (show closed)", "hushed": "field left", "overdue": "−1.5",
				"standby": "−1.5", "gone": "−1.5?",
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
			if shut := browser.Eval[bool](p.Tab, `document.getElementById("go").disabled`); shut != (s.v.Pair != nil) {
				t.Errorf("%s: go is disabled: %t", name, shut)
			}
			if got := p.Faults(); got != "" {
				t.Errorf("in the browser: %q", got)
			}
		}
	}
}
