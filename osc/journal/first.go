package journal

import "strings"

// firstEntry reads a line of format 1, whose fields had other names.
type firstEntry struct {
	Entry
	Mixer string      `json:"desk"`
	State *firstState `json:"state"`
}

type firstState struct {
	RunState
	Manual    []firstManual `json:"in_hand"`
	OldSpares []int         `json:"spent"`
}

type firstManual struct {
	Mixer   int    `json:"desk"`
	Channel int    `json:"channel"`
	What    string `json:"what"`
}

// entry is the line in the current format.
func (f firstEntry) entry() Entry {
	e := f.Entry
	e.Mixer = f.Mixer
	if f.State == nil {
		return e
	}
	state := f.State.RunState
	state.OldSpares, state.Manual = f.State.OldSpares, nil
	for _, m := range f.State.Manual {
		state.Manual = append(state.Manual, ManualChannel{Mixer: m.Mixer, Channel: m.Channel, What: m.What})
	}
	e.State = &state
	return e
}

// withoutWaypoints has a state at the cues of the score. Earlier builds ran waypoints too, which are gone: "12.1" was
// within cue 12, and no cue's id has a period.
func (s RunState) withoutWaypoints() RunState {
	cue := func(step string) string {
		id, _, _ := strings.Cut(step, ".")
		return id
	}
	s.Step = cue(s.Step)
	for i := range s.Past {
		p := &s.Past[i]
		p.Step, p.Went = cue(p.Step), cue(p.Went)
	}
	for i := range s.Nudges {
		s.Nudges[i].Step = cue(s.Nudges[i].Step)
	}
	return s
}
