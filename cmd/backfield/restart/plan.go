package restart

import (
	"fmt"

	"backfield/cue"
	"backfield/osc/route"
	"backfield/osc/run"
)

// Plan is where a run goes on after a break, and what of the run before still holds.
type Plan struct {
	Carried []run.Command
	Notice  string // for the operator, once the run has started
	step    int    // -1 before the first cue
}

// PlanFor is the plan to go on from a cue or a count. find is the time of a count, in seconds.
func PlanFor(s *cue.Show, find func(count string) (float64, error), b Before, where string) (Plan, error) {
	p, r := Plan{Carried: b.Carried}, route.Route{Cues: s.Cues}
	if p.step = r.Find(where); p.step < 0 {
		timeS, err := find(where)
		if err != nil {
			return p, fmt.Errorf("no cue %q, and %w", where, err)
		}
		p.step = r.At(timeS)
	}
	p.Notice = "RESTART: everything is closed. When the ensemble is ready, jump " + where
	return p, nil
}

// CueID is the cue that holds there, the first one where none does yet.
func (p Plan) CueID(s *cue.Show) string { return s.Cues[max(p.step, 0)].ID }

// Closed is the state that the mixers should hold there before anything opens.
func (p Plan) Closed(s *cue.Show) cue.Snapshot {
	at := s.Cues[max(p.step, 0)]
	at.Channels = append([]cue.Channel(nil), at.Channels...)
	for i := range at.Channels {
		c := &at.Channels[i]
		c.Open, c.Role, c.LevelDB = false, "", cue.Silent
	}
	return at
}
