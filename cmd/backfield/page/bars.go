package page

import (
	"fmt"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/sheet"
)

// bars lists when each channel is open, and how many channels are open at once.
func (l *viewBuilder) bars() {
	at := map[string]float64{"": l.v.Counts} // the count of each snapshot; "" is the end of the show
	for _, c := range l.s.Show.Cues {
		at[c.ID] = l.count(clock.Moment{Movement: c.Movement, Elapsed: c.Count - 1})
	}
	if len(l.s.Show.Cues) > 0 {
		for _, ch := range l.s.Show.Cues[0].Channels {
			l.v.Channels = append(l.v.Channels, ChannelView{Number: ch.Channel, Kind: ch.Kind, Name: ch.Player,
				Group: l.group(ch), Bars: []BarView{}})
		}
	}
	rank := l.ranks()
	for _, b := range sheet.Bars(l.s.Show) {
		i := slices.IndexFunc(l.v.Channels, func(c ChannelView) bool { return c.Number == b.Channel })
		ch := &l.v.Channels[i]
		if n := len(ch.Bars); n > 0 && ch.Bars[n-1].Player != b.Player {
			ch.Name += ", then " + b.Player
		}
		ch.Bars = append(ch.Bars, BarView{
			From: at[b.FromCue], To: at[b.ToCue], Player: b.Player, Role: b.Role, Rank: rank[b.Role],
			Level: fmt.Sprintf("%.4g dB", b.PeakDB),
		})
	}
	for _, b := range l.s.Result.Setup.Lanes.Sounding(l.s.Lines, l.s.Clock) {
		i := slices.IndexFunc(l.v.Channels, func(c ChannelView) bool { return c.Number == b.Channel })
		if i < 0 {
			continue // a show without cues has no channels
		}
		from, to := l.count(l.s.Clock.At(b.FromS)), l.count(l.s.Clock.At(b.ToS))
		l.v.Channels[i].Plays = append(l.v.Channels[i].Plays, [2]float64{from, to})
	}
	for _, s := range sheet.OpenCount(l.s.Show) {
		l.v.OpenCount = append(l.v.OpenCount, OpenView{At: at[s.Cue], Open: s.Open, DB: math.Round(10*s.CostDB) / 10})
	}
}

// group is the name under which the rows of similar channels stand together.
func (l *viewBuilder) group(ch cue.Channel) string {
	if ch.Kind == cue.Fixed {
		return "fixed"
	}
	p, _ := l.s.Roster.Player(ch.Player)
	return p.Section
}
