package page

import (
	"fmt"
	"math"

	"backfield/cue"
	"backfield/cue/clock"
)

// bars lists when each channel is open, and how many are at once.
func (l *viewer) bars() {
	cues := l.s.Show.Cues
	if len(cues) == 0 {
		return
	}
	at := func(i int) float64 {
		if i == len(cues) {
			return l.v.Counts
		}
		return l.count(clock.Moment{Movement: cues[i].Movement, Elapsed: cues[i].Count - 1})
	}
	rank := l.ranks()
	for n, first := range cues[0].Channels {
		out := Channel{Number: first.Channel, Kind: first.Kind, Bars: []Bar{}}
		names := map[string]bool{}
		for i := range cues {
			ch := cues[i].Channels[n]
			if !names[ch.Player] && ch.Player != "" {
				names[ch.Player] = true
				if out.Name != "" {
					out.Name += ", then "
				}
				out.Name += ch.Player
			}
			if !ch.Open {
				continue
			}
			bar := Bar{From: at(i), To: at(i + 1), Player: ch.Player, Role: ch.Role, Rank: rank[ch.Role], Level: fmt.Sprintf("%.4g dB", float64(ch.LevelDB))}
			if last := len(out.Bars) - 1; last >= 0 && out.Bars[last].To == bar.From && same(out.Bars[last], bar) {
				out.Bars[last].To = bar.To
				continue
			}
			out.Bars = append(out.Bars, bar)
		}
		l.v.Channels = append(l.v.Channels, out)
	}
	for i := range cues {
		open := count(&cues[i])
		if last := len(l.v.OpenCount) - 1; last >= 0 && l.v.OpenCount[last].Open == open {
			continue
		}
		step := Step{At: at(i), Open: open}
		if open > 1 {
			step.DB = math.Round(100*math.Log10(float64(open))) / 10
		}
		l.v.OpenCount = append(l.v.OpenCount, step)
	}
}

func same(a, b Bar) bool { return a.Player == b.Player && a.Role == b.Role && a.Level == b.Level }

func count(c *cue.Snapshot) (open int) {
	for _, ch := range c.Channels {
		if ch.Open {
			open++
		}
	}
	return open
}
