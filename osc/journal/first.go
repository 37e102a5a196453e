package journal

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
