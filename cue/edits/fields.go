package edits

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"backfield/cue"
	"backfield/cue/roster"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/level"
	"backfield/layout/rig"
	"backfield/layout/stands"
	"backfield/layout/table"
)

// fieldWord is how a field is called for people, and in what unit it is.
type fieldWord struct{ name, unit string }

// fieldWords are the fields that are an edit each, by the names that the structs have.
var fieldWords = map[string]fieldWord{
	"Policy": {"delay policy", ""}, "LeadMS": {"lead", " ms"}, "WindowMS": {"window", " ms"},
	"MarginMS": {"margin", " ms"}, "SlewMSPS": {"slew", " ms/s"}, "DipS": {"dip", " s"},
	"KnotMS":   {"delay knot", " ms"},
	"PanWidth": {"pan width", ""}, "PanKnot": {"pan knot", ""}, "PanByStands": {"pan by", ""},
	"JointDeg": {"pan angle", " degrees"}, "MakeUp": {"distance make-up", ""}, "ZonesMost": {"zones per player", ""},
	"Allow": {"accepted warnings", ""}, "Rules": {"checks", ""}, "Goals": {"balance", ""},
	"Instruments": {"instruments", ""}, "Always": {"always open", ""}, "Parts": {"who plays which part", ""},
	"Title": {"title", ""}, "ReferenceWeight": {"weight of the reference seat", ""}, "Zones": {"feed", ""},
	"HumidityPct": {"humidity", " %"}, "BellUpDeg": {"bells up", " degrees"}, "Levels": {"readings on site", ""},
	"People": {"people near the stacks", ""}, "Channels": {"channels", ""}, "Law": {"pan law", ""}, "Pan": {"pan", ""},
	"Delay": {"delay", " ms"}, "Level": {"level", " dB"}, "Send": {"sends", " dB"}, "Moves": {"delay moves", ""},
}

// boolWords are the fields that are on or off and have other words for it: those for off and for on.
var boolWords = map[string][2]string{"PanByStands": {"reference seat", "stands"}, "Zones": {"stereo", "zones"}}

// movesWords are what a mixer's delay does.
var movesWords = map[cue.Moves]string{
	cue.Glides: "all the time", cue.AtCues: "at cues", cue.Closed: "while closed",
}

// plainWords says what a field was and is: "pan law constant-power -> linear".
func plainWords(field string, old, new reflect.Value) string {
	word, ok := fieldWords[field]
	if !ok {
		word.name = field
	}
	if list, ok := listOf(old.Interface(), new.Interface()); ok {
		if len(list) == 0 {
			list = []string{"in another order"}
		}
		return word.name + " " + few(list)
	}
	return word.name + " " + valueWords(field, old, new) + word.unit
}

// valueWords says what a plain value was and is.
func valueWords(field string, old, new reflect.Value) string {
	change := func(a, b string) string { return orNone(a) + " -> " + orNone(b) }
	switch was := old.Interface().(type) {
	case fmt.Stringer:
		return change(was.String(), new.Interface().(fmt.Stringer).String())
	case cue.Moves:
		return change(movesWords[was], movesWords[new.Interface().(cue.Moves)])
	case table.Text:
		return orOpen(was.V) + " -> " + orOpen(new.Interface().(table.Text).V)
	case score.MakeUp:
		return change(makeUpWords(was), makeUpWords(new.Interface().(score.MakeUp)))
	case timeline.Limits:
		is := new.Interface().(timeline.Limits)
		if field == "Level" && was.Min == is.Min && was.Step == is.Step { // by the scale or by the ceiling
			return "at most " + number(was.Max) + " -> " + number(is.Max)
		}
		return limitWords(was, is)
	}
	switch old.Kind() {
	case reflect.Float64:
		return change(number(old.Float()), number(new.Float()))
	case reflect.Int:
		return fmt.Sprintf("%d -> %d", old.Int(), new.Int())
	case reflect.String:
		return change(old.String(), new.String())
	case reflect.Bool:
		words, ok := boolWords[field]
		if !ok {
			words = [2]string{"off", "on"}
		}
		if new.Bool() {
			return words[0] + " -> " + words[1]
		}
		return words[1] + " -> " + words[0]
	}
	return "changed"
}

// limitWords says which limits of a parameter changed: "range 0 to 500 -> 0 to 340".
func limitWords(was, is timeline.Limits) string {
	var words []string
	if was.Min != is.Min || was.Max != is.Max {
		words = append(words, fmt.Sprintf("range %s to %s -> %s to %s", number(was.Min), number(was.Max),
			number(is.Min), number(is.Max)))
	}
	if was.Step != is.Step {
		words = append(words, from("step", was.Step, is.Step, ""))
	}
	return strings.Join(words, ", ")
}

func makeUpWords(m score.MakeUp) string {
	if m == (score.MakeUp{}) {
		return ""
	}
	return fmt.Sprintf("from %s m, at most %s dB", number(m.FromM), number(m.MaxDB))
}

// listOf says what differs in a field that is a list or a table; ok is false for a plain value.
func listOf(old, new any) (words []string, ok bool) {
	switch was := old.(type) {
	case []table.Text:
		return listWords(texts(was), texts(new.([]table.Text))), true
	case []score.RoleOpen:
		return roleLists(was, new.([]score.RoleOpen)), true
	case []score.PartPlayers:
		return partWords(was, new.([]score.PartPlayers)), true
	case []score.GivenInstrument:
		name := func(x score.GivenInstrument) string { return x.Name }
		return changedOf(was, new.([]score.GivenInstrument), name, nil), true
	case []rig.People:
		return changedOf(was, new.([]rig.People), func(x rig.People) string { return x.Name },
			func(a, b rig.People) string { return movedM(a.At, b.At) }), true
	case score.Rules:
		return ruleWords(&was, new.(score.Rules)), true
	case score.LoudGoals:
		return goalWords(was, new.(score.LoudGoals)), true
	case rig.LevelReadings:
		return readingWords(was, new.(rig.LevelReadings)), true
	}
	return nil, false
}

// changedOf lists what came, went or changed of a list with names. how says in what way, where that can be said.
func changedOf[T any](old, new []T, name func(T) string, how func(a, b T) string) []string {
	words := listWords(names(old, name), names(new, name))
	m := matchNames(names(old, name), names(new, name))
	for j, i := range m.inOld {
		if i < 0 || same(old[i], new[j]) {
			continue
		}
		text := name(new[j]) + " changed"
		if how != nil {
			text = name(new[j]) + " " + how(old[i], new[j])
		}
		words = append(words, text)
	}
	return words
}

// roleLists says who is on which list now, and who no longer is: "feature +Tpt 3".
func roleLists(was, is []score.RoleOpen) (words []string) {
	roles := names(is, func(o score.RoleOpen) string { return o.Role.V })
	for _, r := range names(was, func(o score.RoleOpen) string { return o.Role.V }) {
		if !slices.Contains(roles, r) {
			roles = append(roles, r)
		}
	}
	in := func(list []score.RoleOpen, role string) (all []string) {
		for _, o := range list {
			if o.Role.V == role {
				all = append(all, texts(o.Names)...)
			}
		}
		return all
	}
	for _, r := range slices.Compact(roles) {
		if changed := listWords(in(was, r), in(is, r)); len(changed) > 0 {
			words = append(words, r+" "+few(changed))
		}
	}
	return words
}

func partWords(was, is []score.PartPlayers) (words []string) {
	key := func(p score.PartPlayers) string { return p.Part.V }
	m := matchNames(names(was, key), names(is, key))
	for j, i := range m.inOld {
		var before []string
		if i >= 0 {
			before = texts(was[i].Names)
		}
		if changed := listWords(before, texts(is[j].Names)); len(changed) > 0 {
			words = append(words, key(is[j])+" "+few(changed))
		}
	}
	for i, j := range m.inNew {
		if j < 0 {
			words = append(words, "-"+key(was[i]))
		}
	}
	return words
}

// ruleWords says which keys of [check] changed.
func ruleWords(was *score.Rules, is score.Rules) (words []string) {
	for _, t := range score.Thresholds {
		if t.Of == nil {
			if changed := listWords(was.Loud, is.Loud); len(changed) > 0 {
				words = append(words, t.Key+" "+few(changed))
			}
		} else if a, b := t.Of(was), t.Of(&is); a != b {
			words = append(words, from(t.Key, a, b, ""))
		}
	}
	return words
}

// goalWords says which keys of [balance] changed.
func goalWords(was, is score.LoudGoals) (words []string) {
	for _, x := range []struct {
		key  string
		a, b float64
		unit string
	}{
		{"share", was.SharePct, is.SharePct, " %"}, {"over", was.OverDB, is.OverDB, " dB"},
		{"margin", was.MarginDB, is.MarginDB, " dB"}, {"day", was.RehearseS / 3600, is.RehearseS / 3600, " h"},
	} {
		if x.a != x.b {
			words = append(words, from(x.key, x.a, x.b, x.unit))
		}
	}
	role := func(t score.LeadTarget) string { return t.Role.V }
	return append(words, changedOf(was.Targets, is.Targets, role,
		func(a, b score.LeadTarget) string { return from("lead", a.LeadDB, b.LeadDB, " dB") })...)
}

func readingWords(was, is rig.LevelReadings) (words []string) {
	for _, x := range []struct {
		key  string
		a, b any
	}{
		{"background", was.BackgroundDBA, is.BackgroundDBA}, {"noise", was.Noise, is.Noise},
		{"brass", was.Brass, is.Brass}, {"solo", was.Solo, is.Solo}, {"ring", was.Ring, is.Ring},
	} {
		if !same(x.a, x.b) {
			words = append(words, x.key)
		}
	}
	return words
}

// standsWords says which stands changed, and how.
func standsWords(a, b *rig.Rig) string {
	name := func(x stands.Block) string { return fmt.Sprintf("%q", x.Name) }
	words := changedOf(a.Blocks, b.Blocks, name, func(was, is stands.Block) string {
		var list []string
		if n, m := was.Size(), is.Size(); n != m {
			list = append(list, fmt.Sprintf("%d -> %s", n, count(m, "seat")))
		}
		if was.Weight != is.Weight {
			list = append(list, from("weight", was.Weight, is.Weight, ""))
		}
		if was.Front != is.Front || was.Back != is.Back {
			list = append(list, "its front or back row is elsewhere")
		}
		if len(list) == 0 {
			return "its rows are divided otherwise"
		}
		return strings.Join(list, " and ")
	})
	if n, m := len(a.Surveyed), len(b.Surveyed); n != m {
		words = append(words, fmt.Sprintf("%d -> %s in the file", n, count(m, "seat")))
	} else if !same(a.Surveyed, b.Surveyed) {
		words = append(words, "seats in the file are elsewhere or weigh otherwise")
	}
	if len(words) == 0 {
		return "in another order"
	}
	return few(words)
}

// loudWords says what differs in who plays, how loudly and in which direction.
func loudWords(was, is score.Cue) string {
	var words []string
	add := func(key string, list []string) {
		if len(list) > 0 {
			words = append(words, key+" "+few(list))
		}
	}
	add("plays", listWords(texts(was.Plays), texts(is.Plays)))
	add("rests", listWords(texts(was.Rests), texts(is.Rests)))
	add("dynamics", changedOf(was.Dynamics, is.Dynamics, func(d score.StatedDynamics) string { return d.Of.V },
		func(a, b score.StatedDynamics) string { return number(a.DB) + " -> " + number(b.DB) + " dB from forte" }))
	add("facing", changedOf(was.Facing, is.Facing, func(d score.StatedFacing) string { return d.Of.V },
		func(a, b score.StatedFacing) string { return pointWords(a.Facing) + " -> " + pointWords(b.Facing) }))
	if len(words) == 0 {
		return "who plays: in another order"
	}
	return strings.Join(words, "; ")
}

// pointWords is a direction for people.
func pointWords(f level.Facing) string {
	switch {
	case !f.Given:
		return "box"
	case f == level.Back:
		return "back"
	}
	return number(f.Deg) + " degrees"
}

// loudStackWords says what changed of a stack that no number of a snapshot depends on.
func loudStackWords(was, is rig.Stack) string {
	var list []string
	if was.AcrossDeg != is.AcrossDeg || was.UpDeg != is.UpDeg {
		list = append(list, fmt.Sprintf("cover %s by %s -> %s by %s degrees", number(was.AcrossDeg), number(was.UpDeg),
			number(is.AcrossDeg), number(is.UpDeg)))
	}
	if !same(was.Aim, is.Aim) {
		list = append(list, "aims elsewhere")
	}
	if was.MouthM != is.MouthM {
		list = append(list, from("mouth", was.MouthM, is.MouthM, " m"))
	}
	if was.FrontBackDB != is.FrontBackDB {
		list = append(list, "front_back")
	}
	if len(list) == 0 {
		return "written otherwise"
	}
	return strings.Join(list, ", ")
}

// loudMicWords says what changed of a fixed mic that matters for levels, and its kind.
func loudMicWords(was, is rig.Mic) (list []string) {
	if was.Kind != is.Kind {
		list = append(list, "kind "+was.Kind+" -> "+is.Kind)
	}
	if was.OmniShare != is.OmniShare {
		list = append(list, "pattern")
	}
	if was.Facing != is.Facing {
		list = append(list, "facing "+pointWords(was.Facing)+" -> "+pointWords(is.Facing))
	}
	if was.MeterDB != is.MeterDB {
		list = append(list, from("meter", was.MeterDB, is.MeterDB, " dB"))
	}
	if !same(was.LowCut, is.LowCut) {
		list = append(list, "low_cut "+cutWords(was.LowCut)+" -> "+cutWords(is.LowCut))
	}
	if was.GainCue.V != is.GainCue.V {
		list = append(list, "gain_cue "+orNone(was.GainCue.V)+" -> "+orNone(is.GainCue.V))
	}
	return list
}

func cutWords(s table.Setting) string {
	switch {
	case !s.Set:
		return "not set"
	case s.V == 0:
		return "off"
	}
	return number(s.V) + " Hz"
}

// loudWearWords says what changed of a player and a pack that matters for levels.
func loudWearWords(was, is roster.Player, a, b []roster.Wear) (list []string) {
	if was.Instrument.Text != is.Instrument.Text {
		list = append(list, "instrument "+orNone(was.Instrument.Text)+" -> "+orNone(is.Instrument.Text))
	}
	for i := range min(len(a), len(b)) {
		if x, y := a[i].MicM, b[i].MicM; x != y {
			list = append(list, from("mic", 100*x, 100*y, " cm away"))
		}
		if x, y := a[i].MeterDB, b[i].MeterDB; x != y {
			list = append(list, from("meter", x, y, " dB"))
		}
	}
	return list
}
