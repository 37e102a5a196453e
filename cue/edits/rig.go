package edits

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/timeline"
	"backfield/layout/rig"
	"backfield/layout/unit"
)

// rigIdle are the fields of a rig that no number of a snapshot depends on, and rigOwn those with edits of their own.
var (
	rigIdle = []string{"HumidityPct", "BellUpDeg", "Levels", "People"}
	rigOwn  = []string{"Name", "Field", "AirC", "AirGiven", "LatencyAt", "Stacks", "Mics", "SeatsFile", "Partial",
		"Misplaced", "LatencyS", "WiredS", "LineS", "Reference", "Blocks", "Surveyed"}
)

func rigEdits(old, new *timeline.Files) []FileEdit {
	a, b := old.Rig, new.Rig
	list := fieldEdits("rig", a, b, rigOwn, rigIdle, func(f *timeline.Files) any { return f.Rig })
	add := func(differs bool, of, words string, undo func(r *rig.Rig)) {
		if differs {
			list = append(list, FileEdit{Of: of, Words: words, undo: func(f *timeline.Files) { undo(f.Rig) }})
		}
	}
	if a.Name != b.Name {
		list = append(list, FileEdit{Of: "venue", Words: orNone(a.Name) + " -> " + orNone(b.Name), Idle: true,
			undo: func(f *timeline.Files) { f.Rig.Name = a.Name }})
	}
	add(a.AirC != b.AirC, "air", unit.AirText(a.AirC)+" -> "+unit.AirText(b.AirC),
		func(r *rig.Rig) { r.AirC, r.AirGiven = a.AirC, a.AirGiven })
	if words := latencyWords(a, b); words != "" {
		add(true, "latency", words, func(r *rig.Rig) {
			r.LatencyS, r.WiredS, r.LineS = a.LatencyS, a.WiredS, a.LineS
			for i := range r.Mics {
				if was, ok := micNamed(a, r.Mics[i].Name); ok {
					r.Mics[i].LatencyS = was.LatencyS
				}
			}
		})
	}
	add(a.Reference != b.Reference, "reference seat", movedM(a.Reference, b.Reference),
		func(r *rig.Rig) { r.Reference = a.Reference })
	add(!same(a.Blocks, b.Blocks) || !same(a.Surveyed, b.Surveyed), "stands", standsWords(a, b),
		func(r *rig.Rig) { r.Blocks, r.Surveyed = a.Blocks, a.Surveyed })
	return append(append(list, stackEdits(a, b)...), micEdits(a, b)...)
}

// latencyWords says which latencies differ; "" for none. A rig may give one for all.
func latencyWords(a, b *rig.Rig) string {
	pairs := [][2]float64{{a.LatencyS, b.LatencyS}, {a.WiredS, b.WiredS}, {a.LineS, b.LineS}}
	if pairs[0] == pairs[1] && pairs[1] == pairs[2] {
		if a.LatencyS == b.LatencyS {
			return ""
		}
		return strings.TrimPrefix(from("", 1000*a.LatencyS, 1000*b.LatencyS, " ms"), " ")
	}
	var words []string
	for i, what := range []string{"of worn mics", "of wired mics", "of lines"} {
		if x := pairs[i]; x[0] != x[1] {
			words = append(words, from(what, 1000*x[0], 1000*x[1], " ms"))
		}
	}
	return strings.Join(words, ", ")
}

func micNamed(r *rig.Rig, name string) (rig.Mic, bool) {
	for _, m := range r.Mics {
		if m.Name == name {
			return m, true
		}
	}
	return rig.Mic{}, false
}

func stackEdits(a, b *rig.Rig) (list []FileEdit) {
	name := func(s rig.Stack) string { return s.Name }
	m := matchNames(names(a.Stacks, name), names(b.Stacks, name))
	back := func(i int) func(f *timeline.Files) {
		return func(f *timeline.Files) {
			was := a.Stacks[i]
			f.Rig.Stacks = put(f.Rig.Stacks, i, was, func(s rig.Stack) bool { return s.Name == was.Name })
		}
	}
	for j, i := range m.inOld {
		is := b.Stacks[j]
		of := fmt.Sprintf("stack %q", is.Name)
		if i < 0 {
			list = append(list, FileEdit{Of: of, Words: "new", undo: func(f *timeline.Files) {
				f.Rig.Stacks = slices.DeleteFunc(f.Rig.Stacks, func(s rig.Stack) bool { return s.Name == is.Name })
			}})
			continue
		}
		if was := a.Stacks[i]; !same(was, is) {
			words, idle := stackWords(was, is)
			list = append(list, FileEdit{Of: of, Words: words, Idle: idle, undo: back(i)})
		}
	}
	for i, j := range m.inNew {
		if j < 0 {
			of := fmt.Sprintf("stack %q", a.Stacks[i].Name)
			list = append(list, FileEdit{Of: of, Words: "removed", undo: back(i)})
		}
	}
	return list
}

// stackWords says how a stack changed. What it does at other frequencies and to the side is of no number of a snapshot.
func stackWords(was, is rig.Stack) (words string, idle bool) {
	var list []string
	if was.At != is.At {
		list = append(list, movedM(was.At, is.At))
	}
	if was.TrimDB != is.TrimDB {
		list = append(list, from("trim", was.TrimDB, is.TrimDB, " dB"))
	}
	if was.DelayS != is.DelayS {
		list = append(list, from("delay", 1000*was.DelayS, 1000*is.DelayS, " ms"))
	}
	if was.Left != is.Left || was.Right != is.Right {
		list = append(list, from("left bus", was.Left, is.Left, ""), from("right bus", was.Right, is.Right, ""))
	}
	if was.Sub != is.Sub {
		list = append(list, "sub "+onOff(was.Sub)+" -> "+onOff(is.Sub))
	}
	if was.Zone != is.Zone {
		list = append(list, from("zone", float64(was.Zone), float64(is.Zone), ""))
	}
	if len(list) == 0 {
		return loudStackWords(was, is), true
	}
	return strings.Join(list, ", "), false
}

func micEdits(a, b *rig.Rig) (list []FileEdit) {
	name := func(m rig.Mic) string { return m.Name }
	m := matchNames(names(a.Mics, name), names(b.Mics, name))
	back := func(i int) func(f *timeline.Files) {
		return func(f *timeline.Files) {
			was := a.Mics[i]
			if is, ok := micNamed(f.Rig, was.Name); ok {
				was.LatencyS = is.LatencyS // an edit of its own
			}
			f.Rig.Mics = put(f.Rig.Mics, i, was, func(x rig.Mic) bool { return x.Name == a.Mics[i].Name })
		}
	}
	for j, i := range m.inOld {
		is := b.Mics[j]
		alike := is
		if i >= 0 {
			alike.LatencyS = a.Mics[i].LatencyS
		}
		switch {
		case i < 0:
			list = append(list, FileEdit{Of: "mic " + is.Name, Words: "new", undo: func(f *timeline.Files) {
				f.Rig.Mics = slices.DeleteFunc(f.Rig.Mics, func(x rig.Mic) bool { return x.Name == is.Name })
			}})
		case !same(a.Mics[i], alike):
			list = append(list, FileEdit{Of: "mic " + is.Name, Words: micWords(a.Mics[i], is), undo: back(i)})
		}
	}
	for i, j := range m.inNew {
		if j < 0 {
			list = append(list, FileEdit{Of: "mic " + a.Mics[i].Name, Words: "removed", undo: back(i)})
		}
	}
	return list
}

func micWords(was, is rig.Mic) string {
	var list []string
	if was.Channel != is.Channel {
		list = append(list, from("channel", float64(was.Channel), float64(is.Channel), ""))
	}
	if was.At != is.At {
		list = append(list, movedM(was.At, is.At))
	}
	if was.TrimDB != is.TrimDB {
		list = append(list, from("trim", was.TrimDB, is.TrimDB, " dB"))
	}
	if !same(was.Pan, is.Pan) {
		list = append(list, fromComputed("pan", was.Pan, is.Pan, ""))
	}
	if !same(was.DelayMS, is.DelayMS) {
		list = append(list, fromComputed("delay", was.DelayMS, is.DelayMS, " ms"))
	}
	list = append(list, loudMicWords(was, is)...)
	if len(list) == 0 {
		return "written otherwise"
	}
	return strings.Join(list, ", ")
}

// usedChannels are the channels of players and fixed mics in either version.
func usedChannels(list ...*timeline.Files) (channels []int) {
	for _, f := range list {
		for _, w := range f.Roster.Wears {
			channels = append(channels, w.Channel)
		}
		for _, m := range f.Rig.Mics {
			channels = append(channels, m.Channel)
		}
	}
	slices.Sort(channels)
	return slices.Compact(channels)
}

// mixerEdits are what the numbers depend on of the mixer.
func mixerEdits(a, b *timeline.MixerSpec, channels []int) []FileEdit {
	list := fieldEdits("mixer", a, b, []string{"Params", "CeilingDB", "CheckRaw"}, nil,
		func(f *timeline.Files) any { return &f.Mixer })
	if words := ceilingWords(a, b, channels); words != "" {
		list = append(list, FileEdit{Of: "mixer", Words: words,
			undo: func(f *timeline.Files) { f.Mixer.CeilingDB = a.CeilingDB }})
	}
	name := func(p timeline.Param) string { return p.Name }
	was, is := names(a.Params, name), names(b.Params, name)
	if !slices.Equal(was, is) {
		return append(list, FileEdit{Of: "mixer", Words: "parameters " + few(listWords(was, is)),
			undo: func(f *timeline.Files) { f.Mixer.Params = slices.Clone(a.Params) }})
	}
	for i := range a.Params {
		if !same(a.Params[i], b.Params[i]) {
			list = append(list, FileEdit{Of: "mixer", Words: ownWords(a.Params[i], b.Params[i]),
				undo: func(f *timeline.Files) { f.Mixer.Params[i] = a.Params[i] }})
		}
	}
	return list
}

// ceilingWords says which channels may be sent another highest level; "" for none. Those that a limit of the level
// explains are no edit of their own.
func ceilingWords(a, b *timeline.MixerSpec, channels []int) string {
	var words, which []string
	for _, n := range channels {
		was, is := a.MostDB(n), b.MostDB(n)
		if was == is || was == a.Level.Max && is == b.Level.Max {
			continue
		}
		if text := number(was) + " -> " + number(is) + " dB"; !slices.Contains(words, text) {
			words = append(words, text)
		}
		which = append(which, fmt.Sprint(n))
	}
	switch {
	case len(words) == 0:
		return ""
	case len(which) == 1:
		return "ceiling of channel " + which[0] + " " + words[0]
	case len(words) == 1 && len(which) == len(channels):
		return "ceiling of all channels " + words[0]
	}
	return "ceiling of channels " + few(which) + " " + few(words)
}

func ownWords(was, is timeline.Param) string {
	if was.Default != is.Default {
		return is.Name + " default " + is.ValueText(was.Default) + " -> " + is.ValueText(is.Default)
	}
	if was.MixerParam != (cue.MixerParam{}) && was.Fade != is.Fade {
		return is.Name + " fade " + onOff(was.Fade) + " -> " + onOff(is.Fade)
	}
	if was.Limits != is.Limits {
		return is.Name + " " + limitWords(was.Limits, is.Limits)
	}
	if was.Unit != is.Unit {
		return is.Name + " unit " + orNone(was.Unit) + " -> " + orNone(is.Unit)
	}
	return is.Name + " switch " + onOff(was.Switch) + " -> " + onOff(is.Switch)
}
