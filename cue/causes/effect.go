package causes

import (
	"maps"
	"math"
	"slices"

	"backfield/cue"
	"backfield/cue/diff"
)

// changeKey is one thing that differs: of a channel in a cue, of a cue itself (channel 0), or of the show (cue "").
type changeKey struct {
	cue     string
	channel int
	what    string
}

// What differs, apart from the kinds of diff.CueKinds and the mixer's own parameters.
const (
	whatOpen    = "open"
	whatLevel   = "level"
	whatArrival = "arrival" // delay, pan, sends, place, path
	whatAdded   = "added"
	whatRemoved = "removed"
	whatCame    = "channel"
	whatOwn     = "parameter"
)

// Sizes of what has none: larger than any number, as diff has it for mics that open.
const (
	sizeCue  = 2e6
	sizeID   = 3e4
	sizeTime = 1e4 // and more, by the seconds
	sizeFade = 10
)

// heardChange is one change of a channel that can be heard.
type heardChange struct {
	cue, player string
	channel     int
	diff.ParamDiff
}

// effect is a set of changes.
type effect struct {
	keys map[changeKey]bool

	heard   []heardChange
	waiting []heardChange
	timeCue []string // cues that come at another time
	timeS   float64  // by how much at most; 0 if only counts differ
	later   bool
	earlier bool
	cues    map[string][]string // by kind: fade, extra messages, order, early, added, removed
}

func newEffect() *effect { return &effect{keys: map[changeKey]bool{}, cues: map[string][]string{}} }

func (e *effect) empty() bool { return len(e.keys) == 0 }

// class is the key's word for a change of a channel. Delay, pan and path are found together.
func class(x diff.ParamDiff) string {
	switch x.Param {
	case diff.ParamOpen, diff.ParamPlayer, diff.ParamRole:
		return whatOpen
	case diff.ParamLevel:
		return whatLevel
	case diff.ParamPan, diff.ParamDelay, diff.ParamSend, diff.ParamPath, diff.ParamPlace:
		return whatArrival
	}
	return x.Param
}

// measure is what differs between two shows, of what counts; nil for all.
func measure(old, new *cue.Show, c *diff.Comparison, of func(changeKey) bool) *effect {
	e := newEffect()
	add := func(k changeKey) bool {
		if of != nil && !of(k) {
			return false
		}
		e.keys[k] = true
		return true
	}
	kinds := diff.CueKinds(old, new)
	for _, d := range c.Cues {
		switch d.Status {
		case diff.Added:
			if add(changeKey{d.ID, 0, whatAdded}) {
				e.cues[whatAdded] = append(e.cues[whatAdded], d.ID)
			}
		case diff.Removed:
			if add(changeKey{d.ID, 0, whatRemoved}) {
				e.cues[whatRemoved] = append(e.cues[whatRemoved], d.ID)
			}
		}
		for _, kind := range kinds[d.ID] {
			if !add(changeKey{d.ID, 0, kind}) {
				continue
			}
			if kind == diff.KindTime {
				e.addTime(old, new, d.ID)
			} else {
				e.cues[kind] = append(e.cues[kind], d.ID)
			}
		}
		for _, ch := range d.Channels {
			for _, x := range ch.Changes {
				if !add(changeKey{d.ID, ch.Channel, class(x)}) {
					continue
				}
				h := heardChange{d.ID, ch.Player, ch.Channel, x}
				switch {
				case x.Waiting:
					e.waiting = append(e.waiting, h)
				case x.Param != diff.ParamRole:
					e.heard = append(e.heard, h)
				}
			}
		}
	}
	e.addShow(old, new, add)
	return e
}

func (e *effect) addTime(old, new *cue.Show, id string) {
	a, _ := old.Find(id)
	b, _ := new.Find(id)
	by := b.TimeS - a.TimeS
	e.timeCue = append(e.timeCue, id)
	e.timeS = max(e.timeS, math.Abs(by))
	e.later, e.earlier = e.later || by > 0, e.earlier || by < 0
}

// addShow adds channels and parameters that came or went.
func (e *effect) addShow(old, new *cue.Show, add func(changeKey) bool) {
	has := func(s *cue.Show) map[int]bool {
		m := map[int]bool{}
		for i := range s.Cues {
			for _, c := range s.Cues[i].Channels {
				m[c.Channel] = true
			}
		}
		return m
	}
	a, b := has(old), has(new)
	for _, n := range slices.Sorted(maps.Keys(merged(a, b))) {
		if a[n] != b[n] {
			add(changeKey{"", n, whatCame})
		}
	}
	own := func(s *cue.Show) map[cue.MixerParam]bool {
		m := map[cue.MixerParam]bool{}
		for _, p := range s.Params {
			m[p] = true
		}
		return m
	}
	p, q := own(old), own(new)
	for x := range merged(p, q) { // a set of keys, in no order
		if p[x] != q[x] {
			add(changeKey{"", 0, whatOwn + " " + x.Name})
		}
	}
}

func merged[K comparable](a, b map[K]bool) map[K]bool {
	all := maps.Clone(a)
	maps.Copy(all, b)
	return all
}

// without is the effect without some of its keys.
func (e *effect) without(keys map[changeKey]bool) *effect {
	c := newEffect()
	for k := range e.keys {
		if !keys[k] {
			c.keys[k] = true
		}
	}
	free := func(h heardChange) bool { return c.keys[changeKey{h.cue, h.channel, class(h.ParamDiff)}] }
	for _, h := range e.heard {
		if free(h) {
			c.heard = append(c.heard, h)
		}
	}
	for _, h := range e.waiting {
		if free(h) {
			c.waiting = append(c.waiting, h)
		}
	}
	for _, id := range e.timeCue {
		if c.keys[changeKey{id, 0, diff.KindTime}] {
			c.timeCue = append(c.timeCue, id)
			c.timeS, c.later, c.earlier = e.timeS, e.later, e.earlier
		}
	}
	for kind, ids := range e.cues {
		for _, id := range ids {
			if c.keys[changeKey{id, 0, kind}] {
				c.cues[kind] = append(c.cues[kind], id)
			}
		}
	}
	return c
}

// plus adds the changes of another effect.
func (e *effect) plus(o *effect) *effect {
	c := newEffect()
	c.keys = merged(e.keys, o.keys)
	c.heard = slices.Concat(e.heard, o.heard)
	c.waiting = slices.Concat(e.waiting, o.waiting)
	c.timeCue = slices.Concat(e.timeCue, o.timeCue)
	c.timeS, c.later, c.earlier = max(e.timeS, o.timeS), e.later || o.later, e.earlier || o.earlier
	for kind := range o.cues {
		c.cues[kind] = append(c.cues[kind], o.cues[kind]...)
	}
	for kind := range e.cues {
		c.cues[kind] = append(c.cues[kind], e.cues[kind]...)
	}
	return c
}

// size is that of the largest change.
func (e *effect) size() float64 {
	most := 0.0
	for _, h := range e.heard {
		most = max(most, h.Size)
	}
	if len(e.timeCue) > 0 {
		most = max(most, sizeTime+e.timeS)
	}
	if len(e.cues[whatAdded])+len(e.cues[whatRemoved]) > 0 {
		most = max(most, sizeCue)
	}
	for kind := range e.cues {
		if kind != whatAdded && kind != whatRemoved {
			most = max(most, sizeFade)
		}
	}
	return most
}

// players are who is heard differently, by channel.
func (e *effect) players() []string {
	list := slices.Clone(e.heard)
	slices.SortStableFunc(list, func(a, b heardChange) int { return a.channel - b.channel })
	var names []string
	for _, h := range list {
		if !slices.Contains(names, h.player) {
			names = append(names, h.player)
		}
	}
	return names
}
