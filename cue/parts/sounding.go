package parts

import (
	"cmp"
	"slices"

	"backfield/cue/clock"
	"backfield/cue/timeline"
)

// SoundingBar is a time for which the wearer of a channel's mic plays, open or not.
type SoundingBar struct {
	Channel    int
	Player     string
	FromS, ToS float64
	LoudDB     float64   // the loudest note, in dB from forte; 0 where the music says nothing
	Solo       bool      // of a passage that the music calls solo or soli
	BreathsS   []float64 // where the music has breath marks
}

// Sounding lists when the wearers of the channels play, by channel and time. What sounds before the show's beginning
// is left out.
func (x *Lanes) Sounding(lines *timeline.Lines, c *clock.Clock) []SoundingBar {
	var list []SoundingBar
	if x.Empty() {
		return nil
	}
	for _, w := range lines.Wears(c.End()) {
		fromS, untilS := 0.0, c.Seconds(w.Until)
		if w.From != (clock.Moment{Movement: 1}) { // the first wearer has the pack before the downbeat too
			fromS = c.Seconds(w.From)
		}
		for m := range c.Movements {
			lane := x.Of(w.Player, m+1)
			if lane == nil {
				continue
			}
			for _, run := range lane.Passages() {
				b := SoundingBar{Channel: w.Channel, Player: w.Player, LoudDB: run.LoudDB, Solo: run.Solo}
				b.FromS = max(SecondsOf(c, m+1, run.From), fromS)
				b.ToS = min(SecondsOf(c, m+1, run.To), untilS)
				if b.ToS <= b.FromS {
					continue
				}
				for _, n := range lane.Notes {
					if n.Breath && n.From > run.From-1e-6 && n.To < run.To+1e-6 {
						b.BreathsS = append(b.BreathsS, SecondsOf(c, m+1, n.To))
					}
				}
				list = append(list, b)
			}
		}
	}
	slices.SortStableFunc(list, func(a, b SoundingBar) int {
		return cmp.Or(cmp.Compare(a.Channel, b.Channel), cmp.Compare(a.FromS, b.FromS))
	})
	return list
}

// SecondsOf is when a place of a movement is, in counts elapsed since its downbeat. One before that is in the wait, at
// the tempo of the downbeat.
func SecondsOf(c *clock.Clock, movement int, elapsed float64) float64 {
	at := clock.Moment{Movement: movement, Elapsed: max(elapsed, 0)}
	return c.Seconds(at) + min(elapsed, 0)*c.Span(at, 1)
}
