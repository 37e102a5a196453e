package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"backfield/cmd/backfield/cuewords"
	"backfield/cmd/backfield/picture"
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/step"
	"backfield/cue/timeline"
)

// ranks maps each role to its rank; 0 is the loudest.
func (l *viewBuilder) ranks() map[string]int {
	roles := slices.Clone(l.s.Score.Roles)
	slices.SortStableFunc(roles, func(a, b score.Role) int { return cmp.Compare(b.LevelDB, a.LevelDB) })
	rank := map[string]int{}
	for i, r := range roles {
		rank[r.Name] = i
	}
	return rank
}

func (l *viewBuilder) cues() {
	rank := l.ranks()
	var before *cue.Snapshot
	for i := range l.s.Show.Cues {
		c := &l.s.Show.Cues[i]
		out := CueView{
			ID: c.ID, Name: c.Name, Auto: c.Auto,
			At:   l.count(clock.Moment{Movement: c.Movement, Elapsed: c.Count - 1}),
			Open: []MicView{}, Stops: []string{}, Diff: []string{},
		}
		does := step.Between(l.s.Show.Params, before, c)
		out.Says, out.Facts, out.Loudest = cuewords.Says(does), facts(c), cuewords.Loudest(c)
		out.Where = fmt.Sprintf("movement %d, count %.4g · %s", c.Movement, c.Count, cue.ClockTime(c.TimeS))
		if c.Set != "" {
			out.Where += " · set " + c.Set
		}
		if m := l.moment(c); m != nil {
			out.Place = m.Cue.Span.Where()
		}
		for _, ch := range c.Channels {
			if ch.Open {
				out.Open = append(out.Open, l.mic(ch, rank))
			}
		}
		out.sign(does, c)
		l.v.Cues = append(l.v.Cues, out)
		before = c
	}
}

// moment is the cue in the score that a snapshot was made from.
func (l *viewBuilder) moment(c *cue.Snapshot) *timeline.TimedCue {
	for i := range l.s.Cues {
		if m := &l.s.Cues[i]; m.Cue.ID.V == c.ID {
			return m
		}
	}
	return nil
}

func (l *viewBuilder) mic(ch cue.Channel, rank map[string]int) MicView {
	m := MicView{
		Channel: ch.Channel, Player: ch.Player, Role: ch.Role, Rank: rank[ch.Role], Own: []string{},
		Level: picture.LevelText(ch.LevelDB), Pan: cuewords.Pan(ch), Delay: l.delayWords(ch),
		At: plan(ch.X, ch.Y), End: plan(ch.End.X, ch.End.Y),
	}
	for i, p := range ch.Params {
		m.Own = append(m.Own, p.Name+" "+l.s.Show.Params[i].ValueText(p.Value))
	}
	m.Fixed = ch.Kind == cue.Fixed
	m.Side = [2]float64{ch.Pan, ch.Pan}
	if n := len(ch.Glide); n > 0 {
		m.Side[1] = ch.Glide[n-1].Pan
	}
	if zones := len(l.s.Rig.MainStacks()); ch.Place != nil && zones > 1 {
		along := func(place float64) float64 { return 2*place/float64(zones-1) - 1 }
		m.Side = [2]float64{along(*ch.Place), along(*ch.Place)}
		if n := len(ch.Glide); n > 0 && ch.Glide[n-1].Place != nil {
			m.Side[1] = along(*ch.Glide[n-1].Place)
		}
	}
	if ch.Fit != nil {
		m.InTime, m.NoEcho = percent(ch.Fit.InTime), percent(ch.Fit.NoEcho)
		if b := ch.Fit.BoxLateMS; b != nil {
			m.Box = fmt.Sprintf("%.1f to %.1f ms", b[0], b[1])
		}
	}
	m.Image = m.At
	if image, ok := picture.Image(l.s, ch); ok {
		m.Image = plan(image.X, image.Y)
	}
	return m
}

// delayWords is the delay of a channel in ms, and where it has gone when the next cue comes.
func (l *viewBuilder) delayWords(ch cue.Channel) string {
	if n := len(ch.Glide); n > 0 && l.s.Show.Rig.Delay.Moves == cue.Glides {
		if to := ch.Glide[n-1].DelayMS; math.Abs(to-ch.DelayMS) >= 0.05 {
			return fmt.Sprintf("%.1f→%.1f", ch.DelayMS, to)
		}
	}
	return fmt.Sprintf("%.1f", ch.DelayMS)
}
