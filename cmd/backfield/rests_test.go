package main

import (
	"cmp"
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/run"
	"backfield/osc/run/simulate"
	"backfield/osc/virtual"
)

// demoTempos are those of the demo's movements by count from 1, its ramps in steps of a count.
var demoTempos = []struct {
	counts int
	bpm    func(count int) float64
	pauses string
}{
	{220, stepped(132, [3]float64{65, 152, 16}, [3]float64{125, 160, 0}, [3]float64{213, 138, 8}), "{ at = 104, pause = 1.5 }"},
	{132, stepped(66, [3]float64{53, 74, 8}, [3]float64{113, 70, 0}, [3]float64{125, 54, 8}), "{ at = 112, pause = 1.2 }"},
	{232, stepped(168, [3]float64{189, 184, 16}), "{ at = 112, pause = 1 }"},
}

// stepped is a tempo that changes at counts, over some counts.
func stepped(bpm float64, changes ...[3]float64) func(int) float64 {
	return func(count int) float64 {
		now := bpm
		for _, c := range changes {
			at, to, over := c[0], c[1], c[2]
			switch n := float64(count); {
			case n >= at+over:
				now = to
			case n >= at:
				now += (to - now) * (n - at + 0.5) / over
			}
		}
		return now
	}
}

// phrased is MusicXML in 4/4 in which everybody plays quarter notes, and of every so many counts rests the last: each
// player two counts later than the one before.
func phrased(players []string, counts int, bpm func(int) float64, every, rest int) string {
	var b strings.Builder
	b.WriteString(`<score-partwise version="4.0"><part-list>`)
	for i, name := range players {
		fmt.Fprintf(&b, `<score-part id="P%d"><part-name>%s</part-name></score-part>`, i, name)
	}
	b.WriteString("</part-list>")
	for i := range players {
		fmt.Fprintf(&b, `<part id="P%d">`, i)
		for n := range counts {
			if n%4 == 0 {
				fmt.Fprintf(&b, `<measure number="%d">`, n/4+1)
			}
			if n == 0 {
				b.WriteString("<attributes><divisions>1</divisions><time><beats>4</beats><beat-type>4</beat-type></time></attributes>")
			}
			if i == 0 {
				fmt.Fprintf(&b, `<sound tempo="%g"/>`, bpm(n+1))
			}
			what := "<pitch><step>C</step><octave>5</octave></pitch>"
			if (n+2*i)%every >= every-rest {
				what = "<rest/>"
			}
			fmt.Fprintf(&b, "<note>%s<duration>1</duration></note>", what)
			if n%4 == 3 {
				b.WriteString("</measure>")
			}
		}
		b.WriteString("</part>")
	}
	return b.String() + "</score-partwise>"
}

// wearers are those who wear a pack at some time, in the order of the lines.
func wearers(s *show.Loaded) (names []string) {
	for _, line := range s.Lines.List {
		for _, w := range line.Wears {
			if !slices.Contains(names, w.Player) {
				names = append(names, w.Player)
			}
		}
	}
	return names
}

var aTempo = regexp.MustCompile(`(?s)tempo  = \[.*?\n\]`)

// demoWithMusic is the demo on a mixer that clicks, with its tempo from music that is phrased, and with or without the
// knowledge of who plays which part.
func demoWithMusic(t *testing.T, players []string, every, rest int, known bool) *show.Loaded {
	t.Helper()
	dir := copied(t, harbor)
	fewerSeats(t, dir, 10, 27)
	replace(t, filepath.Join(dir, "mixer.toml"), `moves   = "glide"`, `moves   = "closed"`)
	file := filepath.Join(dir, "show.toml")
	text, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	m := 0
	out := aTempo.ReplaceAllStringFunc(string(text), func(string) string {
		d := demoTempos[m]
		m++
		name := fmt.Sprintf("m%d.musicxml", m)
		if err := os.WriteFile(filepath.Join(dir, name), []byte(phrased(players, d.counts, d.bpm, every, rest)), 0o600); err != nil {
			t.Fatal(err)
		}
		return fmt.Sprintf("tempo = { music = %q, pauses = [%s] }", name, d.pauses)
	})
	if known {
		var list strings.Builder
		for _, name := range players {
			fmt.Fprintf(&list, "%q = [%q]\n", name, name)
		}
		out = strings.Replace(out, "[[movement]]", "[music.parts]\n"+list.String()+"\n[[movement]]", 1)
	}
	if err := os.WriteFile(file, []byte(out), 0o600); err != nil {
		t.Fatal(err)
	}
	return loaded(t, file)
}

func loaded(t *testing.T, file string) *show.Loaded {
	t.Helper()
	var p source.Problems
	s, err := show.Load(show.Disk{}, file, show.LoadOptions{}, &p)
	if err != nil || s.Result.Show == nil {
		var b strings.Builder
		source.Print(&b, p.All())
		t.Fatalf("%v\n%s", err, b.String())
	}
	return s
}

// A mixer that clicks has more seats in time where the rests are known, by the time in which the wearers play; each
// change is in a rest, as compiled and as sent.
func TestDemoRests(t *testing.T) {
	t.Parallel()
	players := wearers(compiledOnce())
	list := []struct{ every, rest int }{{16, 2}}
	if *figures {
		list = append(list, struct{ every, rest int }{32, 4})
	}
	for _, c := range list {
		before := demoWithMusic(t, players, c.every, c.rest, false)
		after := demoWithMusic(t, players, c.every, c.rest, true)
		lanes := after.Setup.Lanes
		was, is := measurePlayed(before, lanes), measurePlayed(after, lanes)
		inRests, heard := 0, 0
		for _, open := range after.Derivations {
			for _, w := range open {
				x := w.Stretch
				if x == nil || after.Lines.List[w.Line].Fixed != nil || w.From != x.Samples[0].Moment {
					continue
				}
				for k := 1; k < len(x.Samples); k++ {
					if x.SentMS[k] == x.SentMS[k-1] {
						continue
					}
					at := x.Samples[k]
					if _, plays := lanes.Of(x.Name, at.Movement).Playing(at.Elapsed); plays && !at.IsCue && !at.IsWait {
						heard++
					} else {
						inRests++
					}
				}
			}
		}
		sent := asSent(t, after)
		t.Logf("a rest of %d in %d counts: %.1f %% of seats in time before, %.1f after; without an echo %.1f and %.1f; "+
			"%d changes in rests, %d under a note; as sent %d and %d", c.rest, c.every, was.in30, is.in30, was.noEcho,
			is.noEcho, inRests, heard, sent.silent, sent.heard)
		if is.in30 < was.in30+3 || inRests < 100 || heard > 0 || sent.heard > 0 || sent.silent != inRests {
			t.Errorf("a rest of %d in %d counts: see above", c.rest, c.every)
		}
	}
}

// sentMoves is what a mixer got in a run of a show.
type sentMoves struct {
	silent, heard int      // changes of the delay of an open mic: in a rest or muted, and under a note
	first         int      // first notes of players after their mic has opened
	under         []string // those of them that begin before the mic is at its level
}

// firstNote is the first note of a player after their mic has opened, with the level of the mic.
type firstNote struct {
	timeS   float64
	channel *cue.Channel
	cue     string
}

// firstNotes lists them in order of time.
func firstNotes(s *show.Loaded) (list []firstNote) {
	open := map[int]bool{}
	for i := range s.Show.Cues {
		c := &s.Show.Cues[i]
		for j := range c.Channels {
			ch := &c.Channels[j]
			lane := s.Setup.Lanes.Of(ch.Player, c.Movement)
			if i > 0 && ch.Open && !open[ch.Channel] && lane != nil { // the first cue is pressed before the music
				if note, ok := lane.Next(c.Count - 1); ok {
					at := clock.Moment{Movement: c.Movement, Elapsed: note.From}
					list = append(list, firstNote{s.Clock.Seconds(at), ch, c.ID})
				}
			}
			open[ch.Channel] = ch.Open
		}
	}
	slices.SortStableFunc(list, func(a, b firstNote) int { return cmp.Compare(a.timeS, b.timeS) })
	return list
}

// asSent plays a show at its mixer, every go in time.
func asSent(t *testing.T, s *show.Loaded) (f sentMoves) {
	t.Helper()
	start := time.Unix(1_700_000_000, 0)
	m := virtual.New(s.Mixer)
	plan := run.ShowSetup{Show: s.Show, Mixer: s.Mixer, Time: show.Timeline{Clock: s.Clock}}
	w := simulate.New(run.New(plan, run.Options{To: []string{"mixer"}}, start), start, virtual.Faults{}, 1, m)
	began, last := start.Add(time.Second), map[string]float64{}
	value := func(channel int, param string) float64 {
		arg, _ := m.Value(s.Mixer.Address(mixer.Control{Channel: channel, Param: param}))
		v, _ := s.Mixer.Value(param, arg)
		return v
	}
	m.Changed = func(x osc.Message) {
		place, _ := s.Mixer.Find(x.Address)
		if place.Param != cue.ParamDelay {
			return
		}
		v, _ := s.Mixer.Value(place.Param, x.Args[0])
		was, known := last[x.Address]
		last[x.Address] = v
		now, ok := s.Show.Find(w.Engine.View(w.Now).Step)
		if !known || v == was || !ok {
			return
		}
		i := slices.IndexFunc(now.Channels, func(c cue.Channel) bool { return c.Channel == place.Channel })
		at := s.Clock.At(w.Now.Sub(began).Seconds())
		if lane := s.Setup.Lanes.Of(now.Channels[i].Player, at.Movement); lane != nil && now.Channels[i].Open {
			_, plays := lane.Playing(at.Elapsed)
			if plays && value(place.Channel, cue.ParamMute) == 0 {
				f.heard++
			} else {
				f.silent++
			}
		}
	}
	w.Run(time.Second)
	notes := firstNotes(s)
	until := func(timeS float64) { w.Run(max(0, began.Add(time.Duration(timeS*1e9)).Sub(w.Now))) }
	for i := range s.Show.Cues {
		c := &s.Show.Cues[i]
		for ; len(notes) > 0 && notes[0].timeS < c.TimeS; notes = notes[1:] {
			f.hear(notes[0], until, value)
		}
		if until(c.TimeS); c.Auto {
			continue
		}
		if _, err := w.Do("go"); err != nil {
			t.Fatalf("cue %s: %v", c.ID, err)
		}
	}
	for _, n := range notes {
		f.hear(n, until, value)
	}
	until(s.Show.EndS)
	return f
}

// hear looks at the mixer when a first note begins.
func (f *sentMoves) hear(n firstNote, until func(float64), value func(int, string) float64) {
	until(n.timeS)
	dB := value(n.channel.Channel, cue.ParamLevel)
	if f.first++; value(n.channel.Channel, cue.ParamMute) != 0 || dB < float64(n.channel.LevelDB)-1 {
		f.under = append(f.under, fmt.Sprintf("%s in cue %s at %.2f s: %.1f dB, not %.1f", n.channel.Player, n.cue, n.timeS,
			dB, n.channel.LevelDB))
	}
}

// With the cues that suggest proposes for music that is not ours, every mic is at its level when its player's first note
// begins.
func TestFirstNotesAsSent(t *testing.T) {
	t.Parallel()
	dir := copied(t, "../../testdata/octet")
	file := filepath.Join(dir, "show.toml")
	for _, verb := range [][]string{{"parts", dir, "--yes"}, {"suggest", dir, "--cues", "--apply", "--yes"}} {
		if code, _, talk := runIn(t, verb...); code != 0 {
			t.Fatalf("%v: %d %s", verb, code, talk)
		}
	}
	sent := asSent(t, loaded(t, file))
	t.Logf("%d first notes; %d changes of an open mic's delay, %d under a note", sent.first, sent.silent+sent.heard, sent.heard)
	if len(sent.under) > 0 || sent.heard > 0 || sent.first < 20 {
		t.Errorf("%d first notes, %d changes under a note; under a fade: %s", sent.first, sent.heard,
			strings.Join(sent.under, "; "))
	}
	replace(t, file, "open_early = 1\n", "")
	if sent := asSent(t, loaded(t, file)); len(sent.under) == 0 {
		t.Error("without open_early no first note is under a fade, which cannot be")
	}
}
