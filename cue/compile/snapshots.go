package compile

import (
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout"
)

// header is what all cues of a compiled show have in common.
func header(s *work.CompileSetup, c *clock.Clock) *cue.Show {
	show := &cue.Show{
		Format: cue.Format, Title: s.Score.Title, Venue: s.Rig.Name,
		AirC: tidy(s.Rig.AirC), SoundMPS: tidy(s.System.SpeedMPS), EndS: tidy(c.Seconds(c.End())),
		Rig: cue.UsedRig{
			LatencyMS: tidy(s.Rig.LatencyS * 1000),
			WiredMS:   other(s.Rig.WiredS, s.Rig.LatencyS), LineMS: other(s.Rig.LineS, s.Rig.LatencyS),
			Reference: place(s.Rig.Reference),
			Delay: cue.Settings{
				Policy: s.Score.Policy.Or(s.DefaultPolicy().Name), LeadMS: s.Score.LeadMS, WindowMS: s.Score.WindowMS,
				Feed: s.Feed(), PanBy: s.PanBy(), Seats: s.Seats,
				PanLaw: s.System.Law.String(), PanWidth: s.Score.PanWidth,
				Moves: s.Mixer.Moves, SlewMSPS: s.Score.SlewMSPS, MarginMS: s.Score.MarginMS,
			},
		},
	}
	if !s.Score.Free {
		box := s.Score.BoxMS
		show.Rig.Delay.BoxMS = &box
	}
	for _, d := range s.Mixer.Params {
		show.Params = append(show.Params, d.MixerParam)
	}
	for _, k := range s.Rig.MainStacks() {
		show.Rig.Stacks = append(show.Rig.Stacks, cue.UsedStack{
			Name: k.Name, Location: place(k.At), Left: k.Left, Right: k.Right, TrimDB: k.TrimDB,
			DelayMS: tidy(k.DelayS * 1000), Zone: k.Zone,
		})
	}
	return show
}

// snapshots makes the snapshot of every cue. A closed line gets the pan and delay that it needs next, so that they
// move while nobody hears it; after its last opening it keeps them.
func snapshots(
	s *work.CompileSetup, c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue, works [][]*work.Derivation,
) []cue.Snapshot {
	next := make([]*work.Derivation, len(lines.List)) // what each line needs next, seen from cue i
	for _, open := range works {
		for _, w := range open {
			next[w.Line] = w
		}
	}
	list := make([]cue.Snapshot, len(cues))
	for i := len(cues) - 1; i >= 0; i-- {
		open := make([]*work.Derivation, len(lines.List))
		for _, w := range works[i] {
			next[w.Line], open[w.Line] = w, w
		}
		from, to := cues[i].At, c.End()
		if i+1 < len(cues) {
			to = cues[i+1].At
		}
		list[i] = snapshot(c, &cues[i])
		for l := range lines.List {
			list[i].Channels = append(list[i].Channels, channel(s, lines, &lines.List[l], from, to, open[l], next[l]))
		}
	}
	openEarly(s, c, lines, cues, works, list)
	return list
}

// openEarly says in the snapshot of each cue what the next one opens before its count.
func openEarly(
	s *work.CompileSetup, c *clock.Clock, lines *timeline.Lines, cues []timeline.TimedCue, works [][]*work.Derivation,
	list []cue.Snapshot,
) {
	for i := 1; i < len(cues); i++ {
		at := cues[i].At
		for _, x := range timeline.EarlyMics(s.Files, c, lines, cues, i) {
			n := slices.IndexFunc(works[i], func(w *work.Derivation) bool { return w.Line == x.Line })
			if n < 0 || x.TimeS >= c.Seconds(at)-1e-9 {
				continue // it opens with the cue
			}
			w := works[i][n]
			list[i-1].Channels[x.Line].Early = &cue.EarlyOpening{
				Movement: at.Movement, Count: tidy(x.Count), TimeS: tidy(x.TimeS),
				Player: w.Name, Role: w.Role, LevelDB: cue.Level(w.Level.DB), FadeS: tidy(x.FadeS),
			}
		}
	}
}

// snapshot is a cue's snapshot without its channels.
func snapshot(c *clock.Clock, x *timeline.TimedCue) cue.Snapshot {
	q, at := x.Cue, x.At
	now := cue.Snapshot{
		ID: q.ID.V, At: q.At.V, Name: q.Name.V,
		Movement: at.Movement, Count: tidy(at.Count()), Set: c.Set(at), TimeS: tidy(c.Seconds(at)),
		Auto: q.Auto, FadeCounts: q.FadeCounts, FadeS: tidy(c.Span(at, q.FadeCounts)), Also: extras(q.Also),
	}
	if out := q.FadeOut; out != nil && *out != q.FadeCounts {
		now.FadeOut = &cue.FadeTime{Counts: *out, S: tidy(c.Span(at, *out))}
	}
	return now
}

// channel is the state of one line from one moment to another: open, with its numbers, or closed, with the numbers that
// it needs next. open and next may be nil.
func channel(
	s *work.CompileSetup, lines *timeline.Lines, l *timeline.Line, from, to clock.Moment, open, next *work.Derivation,
) cue.Channel {
	x := cue.Channel{Channel: l.Channel, Kind: cue.Worn, LevelDB: cue.Silent, Notes: []string{}}
	x.Params = work.Values(&s.Mixer, next)
	switch {
	case next != nil:
		x.Pan, x.DelayMS, x.Sends = next.Pan.Value, next.Delay.MS, next.Pan.Sends
		if ms := next.Stretch.SceneMS; ms != x.DelayMS {
			x.SceneMS = &ms
		}
		if s.Rig.Zones {
			at := tidy(next.Pan.Place)
			x.Place = &at
		}
	case s.Rig.Zones:
		x.Sends = work.Sends(s.Rig, s.Mixer.Send, make([]float64, len(s.Rig.MainStacks())))
	}
	if l.Fixed != nil {
		x.Kind, x.Player = cue.Fixed, l.Fixed.Name
	} else if h := l.Holder(from); h != nil {
		x.Player = h.Player
	}
	start, _ := lines.Where(l, from)
	end, ok := lines.Where(l, to)
	if h := l.Holder(to); !ok || l.Fixed == nil && h.Player != x.Player {
		end = start // another wears it by then
	}
	if open != nil {
		x.Open, x.Role, x.LevelDB, x.Glide = true, open.Role, cue.Level(open.Level.DB), open.Glide
		x.Notes = append(x.Notes, open.Notes...)
		x.Fit = fit(open)
		start, end = open.Place.Start, open.Place.End
	}
	x.Location, x.End = place(start), place(end)
	return x
}

func fit(w *work.Derivation) *cue.SeatFit {
	f := w.Fit
	if f == nil {
		return nil
	}
	share := func(v float64) float64 { return math.Round(v*1e4) / 1e4 }
	ms := func(v float64) float64 { return math.Round(v*100) / 100 }
	x := &cue.SeatFit{
		Served: share(f.Served), InTime: share(f.Inside), Early: share(f.Early), Late: share(f.Late),
		Echo: share(f.Echo), NoEcho: share(f.NoEcho), WorstEarlyMS: ms(f.WorstEarlyMS), WorstLateMS: ms(f.WorstLateMS),
		MedianMS: ms(f.MedianMS),
	}
	if w.BoxMS != nil {
		x.BoxLateMS = &[2]float64{ms(w.BoxMS[0]), ms(w.BoxMS[1])}
	}
	return x
}

// extras are the extra messages of a cue.
func extras(list []score.Raw) []cue.Extra {
	var out []cue.Extra
	for _, x := range list {
		out = append(out, timeline.Raw(x))
	}
	return out
}

func place(p layout.Point) cue.Location {
	return cue.Location{X: tidy(p.X), Y: tidy(p.Y), Z: tidy(p.Z)}
}

func tidy(v float64) float64 { return work.Tidy(v) }

// other is a latency in ms where it is not that of worn mics; else nil.
func other(s, wornS float64) *float64 {
	if s == wornS {
		return nil
	}
	ms := tidy(s * 1000)
	return &ms
}
