package console

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"backfield/cue"
	"backfield/cue/step"
	"backfield/osc/feed"
	"backfield/osc/run"
)

func FuzzPicture(f *testing.F) {
	f.Add(uint64(1), 80, 24, "Tpt 3")
	f.Add(uint64(2), 1, 1, "\x1b[31m red")
	f.Add(uint64(3), 60, 16, "東京\u0301\u200d👩‍👩‍👧")
	f.Add(uint64(4), 19, 3, "a\nb\tc\xff")
	f.Add(uint64(5), -1, 300, "")
	f.Fuzz(func(t *testing.T, seed uint64, w, h int, text string) {
		w, h = w%400, h%200
		if len(text) > 200 {
			text = text[:200]
		}
		v, s := randomView(rand.New(rand.NewPCG(seed, 1)), text)
		checkPicture(t, Picture(v, s, w, h), w, h)
	})
}

func TestRandomPictures(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	for range 800 {
		v, s := randomView(r, "Ünïcode 東京 \x1b]0;x\a"[:r.IntN(12)])
		w, h := r.IntN(220)-2, r.IntN(70)-2
		if checkPicture(t, Picture(v, s, w, h), w, h); t.Failed() {
			t.Fatalf("%d x %d: %+v %+v", w, h, v, s)
		}
	}
}

// randomView is any view and state, with a text in places.
func randomView(r *rand.Rand, text string) (run.View, ScreenState) {
	word := func() string {
		switch r.IntN(5) {
		case 0:
			return ""
		case 1:
			return text
		case 2:
			return strings.Repeat("word ", r.IntN(60))
		}
		return fmt.Sprintf("Tpt %d", r.IntN(100))
	}
	words := func() (list []string) {
		for range r.IntN(8) {
			list = append(list, word())
		}
		return list
	}
	number := func() float64 {
		switch r.IntN(12) {
		case 0:
			return math.NaN()
		case 1:
			return math.Inf(1 - 2*r.IntN(2))
		case 2:
			return 0
		case 3:
			return r.NormFloat64() * 1e9
		}
		return r.NormFloat64() * 40
	}
	next := func() *run.NextCue {
		if r.IntN(4) == 0 {
			return nil
		}
		return &run.NextCue{
			ID: word(), At: word(), Name: word(), Counts: number(), InS: number(), Auto: r.IntN(2) == 0,
			Summary: step.Summary{
				Opens: words(), Closes: words(), Switches: words(), Levels: words(), Settings: words(), Moves: r.IntN(30),
				Also: words(),
			},
		}
	}
	yes := func() bool { return r.IntN(2) == 0 }
	v := run.View{
		Title: word(), Step: word(), Name: word(),
		Now:   run.ScoreMoment{Movement: r.IntN(9), Count: number(), Set: word(), BPM: number()},
		ShowS: number(), Running: yes(), Rate: number(), BPM: number(), Hush: yes(), Next: next(), NextAuto: next(),
		WaitCounts: number(), Holds: words(), Swaps: words(), Nudges: words(), Problem: word(), ProblemAgoS: number(),
	}
	signs := []feed.ChannelSign{feed.ChannelOK, feed.ChannelSent, feed.ChannelWaiting, feed.ChannelManual,
		feed.ChannelMuted, feed.ChannelStillOpen, "another"}
	for range r.IntN(70) {
		v.Rows = append(v.Rows, run.ChannelRow{
			Channel: r.IntN(999), Player: word(), Role: word(), Kind: word(), Mixer: word(), MixerChannel: feed.MixerChannel{
				Sign: signs[r.IntN(len(signs))], LevelKnown: yes(), LevelDB: cue.Level(number()), MuteKnown: yes(), Muted: yes(),
				ShowOpen: yes(), ShowDB: cue.Level(number()), Fading: yes(), Moved: words(), Acked: yes(),
			},
		})
	}
	for range r.IntN(6) {
		v.Mixers = append(v.Mixers, run.MixerView{
			To: word(), Up: yes(), Reason: word(), Waiting: yes(), Confirms: yes(), Unconfirmed: r.IntN(99),
			ReplyAgoS: number(), NoReply: yes(), Restarted: yes(), Contested: yes(), Manual: words(),
		})
	}
	for range r.IntN(4) {
		v.Ticks = append(v.Ticks, run.Tick{ID: word(), Counts: number()})
	}
	s := ScreenState{Said: word(), Wrong: yes(), Typing: yes(), Typed: word(), ViewAgeS: number()}
	if yes() {
		s.Sheet = words()
	}
	if yes() {
		s.Armed = run.Back
	}
	return v, s
}
