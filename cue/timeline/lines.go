package timeline

import (
	"slices"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/layout/rig"
	"backfield/layout/source"
)

// Line is one mixer channel that the show uses: a fixed mic's, or one that players wear in turn.
type Line struct {
	Channel int
	Fixed   *rig.Mic
	Wears   []LineWear // in order of time
}

// LineWear is a player on a line from a moment on, until they have changed to another line if they ever do.
type LineWear struct {
	roster.Wear
	From  clock.Moment
	Until clock.Moment
	Ends  bool
}

// Holder returns who wears the line's mic at a moment, nil when nobody does.
func (l *Line) Holder(m clock.Moment) *LineWear {
	var now *LineWear
	for i := range l.Wears {
		if w := &l.Wears[i]; !m.Before(w.From) {
			now = w
		}
	}
	if now != nil && now.Ends && !m.Before(now.Until) {
		return nil
	}
	return now
}

// Leaves is when a wearer no longer has the line's mic: another puts it on, or they change to another one. ok is false
// if they keep it.
func (l *Line) Leaves(w *LineWear) (at clock.Moment, ok bool) {
	if w == nil {
		return at, false
	}
	at, ok = w.Until, w.Ends
	for i := range l.Wears {
		if next := l.Wears[i].From; w.From.Before(next) && (!ok || next.Before(at)) {
			at, ok = next, true
		}
	}
	return at, ok
}

// Lines are the channels that a show uses, by number, and the files that say who wears them.
type Lines struct {
	List []Line

	files  *Files
	unsure map[string]bool // players whose pack could not be placed in time
}

// Wears lists who wears what when, by channel and time: until the next wearer's time, the player's own change to
// another pack, or the show's end.
func (x *Lines) Wears(end clock.Moment) []LineWear {
	var list []LineWear
	for i := range x.List {
		wears := x.List[i].Wears
		for j, w := range wears {
			if !w.Ends {
				w.Until = end
			}
			if j+1 < len(wears) && wears[j+1].From.Before(w.Until) {
				w.Until = wears[j+1].From
			}
			list = append(list, w)
		}
	}
	return list
}

// NewLines orders the channels and finds who wears what when.
func NewLines(f *Files, c *clock.Clock, p *source.Problems) *Lines {
	x := &Lines{files: f, unsure: map[string]bool{}}
	byChannel := map[int]int{}
	line := func(channel int, where source.Span) *Line {
		if channel > f.Mixer.Channels {
			p.Add(noSuchChannel(channel, f.Mixer.Channels, where))
		}
		i, ok := byChannel[channel]
		if !ok {
			i = len(x.List)
			byChannel[channel] = i
			x.List = append(x.List, Line{Channel: channel})
		}
		return &x.List[i]
	}
	for _, w := range f.Roster.Wears {
		if from, ok := wornFrom(f, c, w, p); ok {
			x.wear(line(w.Channel, w.ChanAt), LineWear{Wear: w, From: from}, p)
		} else {
			x.unsure[w.Player] = true
		}
	}
	for i := range f.Rig.Mics {
		if m := &f.Rig.Mics[i]; m.Channel >= 1 { // else reported where it was read
			x.fix(line(m.Channel, m.Span), m, p)
		}
	}
	slices.SortFunc(x.List, func(a, b Line) int { return a.Channel - b.Channel })
	for i := range x.List {
		slices.SortStableFunc(x.List[i].Wears, func(a, b LineWear) int { return a.From.Compare(b.From) })
	}
	x.endWears(p)
	return x
}

// wornFrom is the moment from which a player wears a pack.
func wornFrom(f *Files, c *clock.Clock, w roster.Wear, p *source.Problems) (from clock.Moment, ok bool) {
	if w.From.Text == "" {
		return clock.Moment{Movement: 1}, true
	}
	count, fault := clock.ParseShowCount(w.From.Text)
	if fault != nil {
		p.Error("unreadable-count", w.From.Span, fault.What, fault.Do)
		return from, false
	}
	return MomentOf(f, c, count, w.From.Span, p)
}

// wear adds a wearer to a line.
func (x *Lines) wear(l *Line, w LineWear, p *source.Problems) {
	for _, other := range l.Wears {
		if other.From == w.From {
			p.Add(wornByTwo(w.Wear, other.Wear))
			x.unsure[w.Player], x.unsure[other.Player] = true, true
		}
	}
	l.Wears = append(l.Wears, w)
}

// fix gives a line to a fixed mic.
func (x *Lines) fix(l *Line, m *rig.Mic, p *source.Problems) {
	if _, taken := x.files.Roster.Player(m.Name); taken {
		p.Add(micLikePlayer(m))
	}
	if l.Fixed != nil || len(l.Wears) > 0 {
		p.Add(micOnTaken(m))
		return
	}
	l.Fixed = m
}

// endWears lets a player who takes over another pack leave the first.
func (x *Lines) endWears(p *source.Problems) {
	byPlayer := map[string][]*LineWear{}
	for i := range x.List {
		for j := range x.List[i].Wears {
			w := &x.List[i].Wears[j]
			for _, other := range byPlayer[w.Player] {
				switch {
				case other.From == w.From:
					p.Add(twoPacks(w, other))
				case other.From.Before(w.From):
					other.endAt(w.From)
				default:
					w.endAt(other.From)
				}
			}
			byPlayer[w.Player] = append(byPlayer[w.Player], w)
		}
	}
}

func (w *LineWear) endAt(m clock.Moment) {
	if !w.Ends || m.Before(w.Until) {
		w.Until, w.Ends = m, true
	}
}
