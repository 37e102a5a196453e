package page

import (
	"fmt"
	"slices"

	"backfield/cmd/backfield/cuewords"
	"backfield/cue"
	"backfield/cue/step"
)

// facts are the numbers at the head of a cue's card: the open mics, where stands hear worn ones the mean share of the
// seats in time until the next cue and the worst mic.
func facts(c *cue.Snapshot) []FactView {
	var worn, fixed, heard int
	var sum float64
	var worst *cue.Channel
	for i := range c.Channels {
		ch := &c.Channels[i]
		switch {
		case !ch.Open:
			continue
		case ch.Kind == cue.Fixed:
			fixed++
			continue
		}
		worn++
		if ch.Fit == nil {
			continue
		}
		heard++
		sum += ch.Fit.InTime
		if worst == nil || ch.Fit.InTime < worst.Fit.InTime {
			worst = ch
		}
	}
	list := []FactView{{fmt.Sprintf("%d open", worn+fixed), fmt.Sprintf("%d worn, %d fixed", worn, fixed)}}
	if worst != nil {
		list = append(list, FactView{percent(sum / float64(heard)), "of seats in time"}, FactView{
			worst.Player + " " + percent(worst.Fit.InTime), fmt.Sprintf("worst of %d worn", heard)})
	}
	return list
}

// The signs of what a cue does to an open mic, in the order of a card.
const (
	starts = "starts"
	levels = "levels"
)

// sign marks what a cue does to each open mic, and sorts: who starts to be heard, whose level changes, all others; in each
// the loudest role first.
func (c *CueView) sign(does *step.Step, now *cue.Snapshot) {
	order := map[int]int{}
	var opens []string
	for i := range does.Channels {
		ch := &does.Channels[i]
		if ch.Stops() {
			c.Stops = append(c.Stops, ch.Was.Player)
		}
		n := slices.IndexFunc(c.Open, func(m MicView) bool { return m.Channel == ch.Channel })
		if n < 0 {
			continue
		}
		switch {
		case ch.Starts():
			c.Open[n].Sign = starts
			opens = append(opens, ch.Is.Player)
		case ch.Kind == step.StaysOpen && (ch.Level || ch.Role):
			c.Open[n].Sign = levels
			order[ch.Channel] = 1
		default:
			order[ch.Channel] = 2
		}
	}
	c.Opens, c.Closes = cuewords.Short(opens, now), cuewords.Short(c.Stops, now)
	slices.SortStableFunc(c.Open, func(a, b MicView) int {
		if d := order[a.Channel] - order[b.Channel]; d != 0 {
			return d
		}
		return a.Rank - b.Rank
	})
}

func percent(part float64) string { return fmt.Sprintf("%.0f %%", 100*part) }
