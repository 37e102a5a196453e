package tonight

import (
	"slices"
	"strings"

	"backfield/cue/roster"
	"backfield/layout/source"
	"backfield/layout/table"
)

// resolveAbsent finds who is absent. A section is all of its players.
func (n *layer) resolveAbsent() {
	for _, name := range n.Absent {
		section, isSection := strings.CutPrefix(name.V, "@")
		found := false
		for _, x := range n.old.Roster.Players {
			if x.Name == name.V || isSection && x.Section == section {
				found = true
				if !n.isAbsent(x.Name) {
					n.absent[x.Name] = name.Span
				}
			}
		}
		if !found {
			n.unknown(name)
		}
	}
}

// unknown reports a name that is not in the show, unless it may be in what could not be read of the roster.
func (n *layer) unknown(name table.Text) {
	r := n.old.Roster
	switch section, isSection := strings.CutPrefix(name.V, "@"); {
	case r.MayHold(section):
	case isSection:
		n.p.Add(noSection(name, r.Sections()))
	default:
		n.p.Add(noPlayer(name, r.Names(), r.Sections()))
	}
}

// resolveSubstitutes finds who plays for whom. What cannot be is reported, and left out.
func (n *layer) resolveSubstitutes() {
	by := map[string]string{}
	for _, s := range n.Substitutes {
		by[s.For.V] = s.By.V
	}
	var circled []string
	for _, s := range n.Substitutes {
		_, known := n.old.Roster.Player(s.For.V)
		_, byKnown := n.old.Roster.Player(s.By.V)
		circle := circleOf(s.For.V, by)
		for _, name := range []table.Text{s.For, s.By} {
			if _, ok := n.old.Roster.Player(name.V); !ok {
				n.unknown(name)
			}
		}
		switch {
		case !known || !byKnown:
		case slices.Contains(circled, s.For.V):
		case len(circle) > 0:
			circled = append(circled, circle...)
			n.p.Add(inCircle(s.For.Span, circle))
		case n.isAbsent(s.By.V):
			n.p.Add(substituteAbsent(s, n.absent[s.By.V], n.choices(s.For.V)))
		default:
			n.takes[s.For.V] = s
		}
	}
}

// circleOf is the circle of substitutes that a player is in, nil if none.
func circleOf(name string, by map[string]string) []string {
	list := []string{name}
	for at, ok := by[name]; ok; at, ok = by[at] {
		if at == name {
			return list
		}
		if slices.Contains(list, at) {
			return nil // it leads into a circle
		}
		list = append(list, at)
	}
	return nil
}

// substitutes are those that can be, in the order of the file.
func (n *layer) substitutes() []Substitute {
	var list []Substitute
	for _, s := range n.Substitutes {
		if _, ok := n.takes[s.For.V]; ok {
			list = append(list, s)
		}
	}
	return list
}

// choices are who could play for another: those of the same section who are there and wear a pack.
func (n *layer) choices(name string) []string {
	player, _ := n.old.Roster.Player(name)
	wears := n.old.Roster.Wears
	if n.has != nil {
		wears = n.new.Roster.Wears
	}
	var list []string
	for _, w := range wears {
		other := w.Section == player.Section && w.Player != name
		if other && !n.isAbsent(w.Player) && !slices.Contains(list, w.Player) {
			list = append(list, w.Player)
		}
	}
	return list
}

// packs is who wears what tonight.
func (n *layer) packs() []roster.Wear {
	wears := n.swap(slices.Clone(n.old.Roster.Wears))
	wears = n.kill(wears)
	for _, s := range n.substitutes() {
		wears = n.handOver(wears, s)
	}
	return slices.DeleteFunc(wears, func(w roster.Wear) bool { return n.isAbsent(w.Player) })
}

// packOf is the pack that a name means: a pack, or the first pack of a player.
func (n *layer) packOf(name table.Text, wears []roster.Wear) (key packKey, ok bool) {
	for _, w := range wears {
		if w.Pack == name.V {
			return keyOf(w), true
		}
	}
	for _, w := range wears {
		if w.Player == name.V {
			return keyOf(w), true
		}
	}
	var packs []string
	for _, w := range n.old.Roster.Wears {
		if w.Pack != "" && !slices.Contains(packs, w.Pack) {
			packs = append(packs, w.Pack)
		}
	}
	if !n.old.Roster.MayHold(name.V) {
		n.p.Add(noPack(name, packs))
	}
	return packKey{}, false
}

// packKey is what tells one pack from another: a pack comes in on one channel.
type packKey struct {
	pack    string
	channel int
}

func keyOf(w roster.Wear) packKey { return packKey{w.Pack, w.Channel} }

// swap lets two packs hang on each other's players. What the meter of a channel reads stays with the channel.
func (n *layer) swap(wears []roster.Wear) []roster.Wear {
	first := map[packKey]source.Span{}
	for _, x := range n.Swapped {
		a, ok := n.packOf(x.A, n.old.Roster.Wears)
		b, ok2 := n.packOf(x.B, n.old.Roster.Wears)
		if !ok || !ok2 {
			continue
		}
		if a == b {
			n.p.Add(swapOfOne(x.B))
			continue
		}
		if at, twice := first[a]; twice {
			n.p.Add(swappedTwice(x.A, at))
			continue
		}
		if at, twice := first[b]; twice {
			n.p.Add(swappedTwice(x.B, at))
			continue
		}
		first[a], first[b] = x.A.Span, x.B.Span
		var ofA, ofB roster.Wear
		for _, w := range n.old.Roster.Wears {
			switch keyOf(w) {
			case a:
				ofA = w
			case b:
				ofB = w
			}
		}
		for i, w := range n.old.Roster.Wears {
			switch keyOf(w) {
			case a:
				takePack(&wears[i], ofB)
			case b:
				takePack(&wears[i], ofA)
			}
		}
	}
	return wears
}

// takePack puts the pack of another on a player.
func takePack(w *roster.Wear, of roster.Wear) {
	w.Pack, w.Channel, w.ChanAt, w.MeterDB = of.Pack, of.Channel, of.ChanAt, of.MeterDB
}

// kill takes dead packs away, or puts spare ones in their place.
func (n *layer) kill(wears []roster.Wear) []roster.Wear {
	for _, x := range n.Dead {
		key, ok := n.packOf(x.Pack, wears)
		if !ok {
			continue
		}
		if x.Spare.Set && !n.free(x, key, wears) {
			continue
		}
		var left []roster.Wear
		for _, w := range wears {
			switch {
			case keyOf(w) != key:
				left = append(left, w)
			case x.Spare.Set:
				w.Channel, w.ChanAt, w.Pack = x.Spare.V, x.Spare.Span, strings.TrimSpace(w.Pack+" spare")
				left = append(left, w)
			default:
				n.dead[w.Player] = x.Pack.Span
			}
		}
		wears = left
	}
	return wears
}

// free reports whether the channel of a spare is one that the mixer has and nothing else uses, or says why not.
func (n *layer) free(x DeadPack, key packKey, wears []roster.Wear) bool {
	for _, w := range wears {
		if w.Channel == x.Spare.V && keyOf(w) != key {
			n.p.Add(channelTaken(x.Spare, w.Player))
			return false
		}
	}
	for _, m := range n.old.Rig.Mics {
		if m.Channel == x.Spare.V {
			n.p.Add(channelTaken(x.Spare, m.Name))
			return false
		}
	}
	if x.Spare.V < 1 || x.Spare.V > n.old.Mixer.Channels {
		n.p.Add(noChannel(x.Spare, n.old.Mixer.Channels))
		return false
	}
	return true
}

// handOver gives the pack of a player to the one who plays for them.
func (n *layer) handOver(wears []roster.Wear, s Substitute) []roster.Wear {
	of := func(name string) bool {
		return slices.ContainsFunc(wears, func(w roster.Wear) bool { return w.Player == name })
	}
	theirPack, ownPack := of(s.For.V), of(s.By.V)
	give := s.Pack.Or(!ownPack && theirPack)
	switch {
	case give && !theirPack:
		n.p.Add(noPackToTake(s))
		return wears
	case !give && !ownPack:
		n.p.Add(noPackAtAll(s, theirPack))
		return wears
	case !give:
		return wears
	}
	by, _ := n.old.Roster.Player(s.By.V)
	var left []roster.Wear
	for _, w := range wears {
		if w.Player == s.By.V {
			continue // they leave their own
		}
		if w.Player == s.For.V {
			w.Player, w.Section, w.HeightM = by.Name, by.Section, by.HeightM
		}
		left = append(left, w)
	}
	return left
}
