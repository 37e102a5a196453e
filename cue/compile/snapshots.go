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
	"backfield/layout/stands"
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
				Moves: s.Mixer.Moves, SlewMSPS: s.Score.SlewMSPS,
			},
		},
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

// snapshots makes the snapshot of every piece. A closed line gets the pan and delay that it needs next, so that they
// move while nobody hears it; after its last opening it keeps them.
func snapshots(
	s *work.CompileSetup, c *clock.Clock, lines *timeline.Lines,
	cues []timeline.TimedCue, spans []work.CueSpan, pieces []work.CuePiece, works [][]*work.Derivation,
) []cue.Snapshot {
	next := make([]*work.Derivation, len(lines.List)) // what each line needs next, seen from piece i
	for _, open := range works {
		for _, w := range open {
			next[w.Line] = w
		}
	}
	list := make([]cue.Snapshot, len(pieces))
	for i := len(pieces) - 1; i >= 0; i-- {
		pc := pieces[i]
		open := make([]*work.Derivation, len(lines.List))
		for _, w := range works[i] {
			next[w.Line], open[w.Line] = w, w
		}
		samples := spans[pc.Cue].Samples
		from, to := samples[pc.Lo], samples[pc.Hi]
		list[i] = snapshot(c, cues, pc, from)
		for l := range lines.List {
			list[i].Channels = append(list[i].Channels, channel(s, lines, &lines.List[l], from, to, open[l], next[l]))
		}
	}
	openEarly(s, c, lines, cues, pieces, works, list)
	return list
}

// openEarly says in the snapshots of each cue what the next one opens before its count.
func openEarly(
	s *work.CompileSetup, c *clock.Clock, lines *timeline.Lines,
	cues []timeline.TimedCue, pieces []work.CuePiece, works [][]*work.Derivation, list []cue.Snapshot,
) {
	for n, pc := range pieces {
		if pc.Cue+1 == len(cues) {
			return
		}
		next := slices.IndexFunc(pieces, func(x work.CuePiece) bool { return x.Cue == pc.Cue+1 })
		nextS := c.Seconds(cues[pc.Cue+1].At)
		for _, x := range timeline.EarlyMics(s.Files, c, lines, cues, pc.Cue+1) {
			at := slices.IndexFunc(works[next], func(w *work.Derivation) bool { return w.Line == x.Line })
			if at < 0 || x.TimeS >= nextS-1e-9 {
				continue // it opens with the cue
			}
			w := works[next][at]
			list[n].Channels[x.Line].Early = &cue.EarlyOpening{
				Movement: cues[pc.Cue+1].At.Movement, Count: tidy(x.Count), TimeS: tidy(x.TimeS),
				Player: w.Name, Role: w.Role, LevelDB: cue.Level(w.Level.DB), FadeS: tidy(x.FadeS),
			}
		}
	}
}

// snapshot is a piece's snapshot without its channels.
func snapshot(c *clock.Clock, cues []timeline.TimedCue, pc work.CuePiece, from clock.Moment) cue.Snapshot {
	q := cues[pc.Cue].Cue
	x := cue.Snapshot{
		ID: pc.ID(cues), At: q.At.V, Name: q.Name.V,
		Movement: from.Movement, Count: tidy(from.Count()), Set: c.Set(from), TimeS: tidy(c.Seconds(from)),
	}
	if pc.N > 0 {
		x.At, x.Waypoint = clock.ShowCount{Movement: from.Movement, Count: tidy(from.Count())}.String(), true
		return x
	}
	if out := q.FadeOut; out != nil && *out != q.FadeCounts {
		x.FadeOut = &cue.FadeTime{Counts: *out, S: tidy(c.Span(from, *out))}
	}
	x.Auto, x.FadeCounts, x.FadeS, x.Also = q.Auto, q.FadeCounts, tidy(c.Span(from, q.FadeCounts)), extras(q.Also)
	return x
}

// channel is the state of one line from one moment to another: open, with its numbers, or closed, with the numbers that
// it needs next. open and next may be nil.
func channel(
	s *work.CompileSetup, lines *timeline.Lines, l *timeline.Line, from, to clock.Moment, open, next *work.Derivation,
) cue.Channel {
	x := cue.Channel{Channel: l.Channel, Kind: cue.Worn, LevelDB: cue.Silent, Notes: []string{}}
	x.Params = work.Values(&s.Mixer, next)
	if next != nil {
		x.Pan, x.DelayMS, x.Sends = next.Pan.Value, next.Delay.MS, next.Pan.Sends
	} else if s.Rig.Zones {
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
		x.Open, x.Role, x.LevelDB = true, open.Role, cue.Level(open.Level.DB)
		x.Notes = append(x.Notes, open.Notes...)
		x.Fit = fit(open.Fit)
		start, end = open.Place.Start, open.Place.End
	}
	x.Location, x.End = place(start), place(end)
	return x
}

func fit(f *stands.Fit) *cue.SeatFit {
	if f == nil {
		return nil
	}
	share := func(v float64) float64 { return math.Round(v*1e4) / 1e4 }
	ms := func(v float64) float64 { return math.Round(v*100) / 100 }
	return &cue.SeatFit{
		InTime: share(f.Inside), Early: share(f.Early), Late: share(f.Late),
		WorstEarlyMS: ms(f.WorstEarlyMS), WorstLateMS: ms(f.WorstLateMS), MedianMS: ms(f.MedianMS),
	}
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

// tidy rounds to six decimals, of a meter or a second, what is only printed and not computed with.
func tidy(v float64) float64 {
	if v = math.Round(v*1e6) / 1e6; v == 0 {
		return 0 // no -0
	}
	return v
}

// other is a latency in ms where it is not that of worn mics; else nil.
func other(s, wornS float64) *float64 {
	if s == wornS {
		return nil
	}
	ms := tidy(s * 1000)
	return &ms
}
