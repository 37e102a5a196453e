package compiled

import (
	"fmt"
	"io"

	"backfield/cmd/backfield/problemlist"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/compile"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// shownAttention is how many of the things that need attention the summary lists.
const shownAttention = 8

// Summary writes what was compiled and what needs attention, for the person who compiled it.
func Summary(w io.Writer, s *show.Loaded, problems []source.Problem) {
	fmt.Fprintf(w, "%s: %s in %s, %s; %s\n", name(s.Show.Title), count(len(s.Show.Cues), "cue"),
		count(len(s.Clock.Movements), "movement"),
		cue.ClockTime(s.Clock.Seconds(s.Clock.End())), channels(s.Show))
	at := ""
	if s.Show.Venue != "" {
		at = s.Show.Venue + ", "
	}
	fmt.Fprintf(w, "%sair %s, sound %.1f m/s, %s\n", at, unit.AirText(s.Show.AirC), s.Show.SoundMPS,
		count(len(s.Show.Rig.Stacks), "stack"))
	if fit, ok := s.Show.MeanFit(); ok {
		d := s.Show.Rig.Delay
		fmt.Fprintf(w, "%s, %.4g ms window: %s\n", count(d.Seats, "seat"), d.WindowMS, fit)
		fmt.Fprintf(w, "  on average over the open worn mics%s\n", worstFit(s.Show))
	}
	attention(w, s.Attention)
	if len(problems) > 0 {
		fmt.Fprintf(w, "check: %s\n", problemlist.Tally(problems))
	}
}

// channels says how many channels there are, of which kind, and how many are open at once.
func channels(s *cue.Show) string {
	worn, fixed, most := 0, 0, 0
	for i, c := range s.Cues {
		open := 0
		for _, ch := range c.Channels {
			if ch.Open {
				open++
			}
			switch {
			case i > 0: // every cue has the same channels
			case ch.Kind == cue.Worn:
				worn++
			default:
				fixed++
			}
		}
		most = max(most, open)
	}
	return fmt.Sprintf("%s (%d worn, %d fixed), at most %d open", count(worn+fixed, "channel"), worn, fixed, most)
}

// attention lists what needs attention, but no more than a person reads.
func attention(w io.Writer, list []compile.Attention) {
	if len(list) == 0 {
		return
	}
	fmt.Fprintln(w, "needs attention, worst first:")
	for i, a := range list {
		if i == shownAttention {
			fmt.Fprintf(w, "  and %d more, in the notes of snapshots.csv\n", len(list)-i)
			return
		}
		fmt.Fprintf(w, "  cue %s, %s: %s\n", a.Cue, a.Player, a.Text)
	}
}

// worstFit says in which snapshot which worn mic has the fewest seats in time.
func worstFit(s *cue.Show) string {
	worst, where := 2.0, ""
	for _, c := range s.Cues {
		for _, ch := range c.Channels {
			if ch.Fit != nil && ch.Kind == cue.Worn && ch.Fit.InTime < worst {
				worst, where = ch.Fit.InTime, fmt.Sprintf("; lowest: cue %s, %s, %.0f %%", c.ID, ch.Player,
					100*ch.Fit.InTime)
			}
		}
	}
	return where
}

func name(title string) string {
	if title == "" {
		return "untitled show"
	}
	return title
}
