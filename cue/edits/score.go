package edits

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/layout/table"
)

// scoreIdle are the fields of a score that no number of a snapshot depends on.
var scoreIdle = []string{"Title", "Allow", "Goals", "Instruments"}

// scoreOwn are the fields that have edits of their own, and those that say where the other files are and how they are
// laid out: what is in them has edits of its own.
var scoreOwn = []string{"File", "Partial", "Sets", "Dots", "Roster", "Rig", "Mixer", "Venue", "Columns", "Together",
	"Words", "Roles", "Movements", "Cues", "DipAt", "BoxMS", "Free"}

func scoreEdits(old, new *timeline.Files) []FileEdit {
	list := fieldEdits("show.toml", old.Score, new.Score, scoreOwn, scoreIdle,
		func(f *timeline.Files) any { return f.Score })
	box := func(s *score.Score) score.BoxBound { return score.BoxBound{MS: s.BoxMS, Free: s.Free} }
	if was, is := box(old.Score), box(new.Score); was != is {
		list = append(list, FileEdit{Of: "show.toml", Words: "press box " + boxWords(&was) + " -> " + boxWords(&is),
			undo: func(f *timeline.Files) { f.Score.BoxMS, f.Score.Free = was.MS, was.Free }})
	}
	list = append(list, roleEdits(old.Score, new.Score, new.Mixer.Params)...)
	list = append(list, movementEdits(old.Score, new.Score)...)
	return append(list, cueEdits(old.Score, new.Score, new.Mixer.Params)...)
}

// fieldEdits are the plain fields of a struct, each an edit. old and new point to the structs; in finds the struct in
// the files.
func fieldEdits(of string, old, new any, own, idle []string, in func(f *timeline.Files) any) (list []FileEdit) {
	a, b := reflect.ValueOf(old).Elem(), reflect.ValueOf(new).Elem()
	for i := range a.NumField() {
		field := a.Type().Field(i)
		if !field.IsExported() || slices.Contains(own, field.Name) || equal(a.Field(i), b.Field(i)) {
			continue
		}
		words := plainWords(field.Name, a.Field(i), b.Field(i))
		list = append(list, FileEdit{Of: of, Words: words, Idle: slices.Contains(idle, field.Name),
			undo: func(f *timeline.Files) { reflect.ValueOf(in(f)).Elem().Field(i).Set(a.Field(i)) }})
	}
	return list
}

func roleEdits(old, new *score.Score, own ownParams) (list []FileEdit) {
	roleName := func(r score.Role) string { return r.Name }
	m := matchNames(names(old.Roles, roleName), names(new.Roles, roleName))
	for i, j := range m.inNew {
		if j < 0 {
			was := old.Roles[i]
			list = append(list, FileEdit{Of: "role " + was.Name, Words: "removed", undo: func(f *timeline.Files) {
				f.Score.Roles = put(f.Score.Roles, i, was, func(r score.Role) bool { return r.Name == was.Name })
			}})
		}
	}
	for j, i := range m.inOld {
		is := new.Roles[j]
		if i < 0 {
			list = append(list, FileEdit{Of: "role " + is.Name, Words: "new", undo: func(f *timeline.Files) {
				f.Score.Roles = slices.DeleteFunc(f.Score.Roles, func(r score.Role) bool { return r.Name == is.Name })
			}})
			continue
		}
		list = append(list, oneRole(old.Roles[i], is, own)...)
	}
	return list
}

// oneRole are the edits of a role that both scores have.
func oneRole(was, is score.Role, own ownParams) (list []FileEdit) {
	add := func(differs bool, words string, undo func(r *score.Role)) {
		if differs {
			list = append(list, FileEdit{Of: "role " + is.Name, Words: words, undo: func(f *timeline.Files) {
				for i := range f.Score.Roles {
					if f.Score.Roles[i].Name == is.Name {
						undo(&f.Score.Roles[i])
					}
				}
			}})
		}
	}
	add(was.LevelDB != is.LevelDB, from("level", was.LevelDB, is.LevelDB, " dB"),
		func(r *score.Role) { r.LevelDB = was.LevelDB })
	add(was.Policy != is.Policy, "policy "+orOpen(was.Policy)+" -> "+orOpen(is.Policy),
		func(r *score.Role) { r.Policy = was.Policy })
	add(!same(was.Box, is.Box), "press box "+boxWords(was.Box)+" -> "+boxWords(is.Box),
		func(r *score.Role) { r.Box = was.Box })
	add(was.EarlyCounts != is.EarlyCounts, from("opens early by", was.EarlyCounts, is.EarlyCounts, " counts"),
		func(r *score.Role) { r.EarlyCounts = was.EarlyCounts })
	add(!same(was.DynamicsDB, is.DynamicsDB), fromMaybe("dynamics", was.DynamicsDB, is.DynamicsDB, " dB from forte"),
		func(r *score.Role) { r.DynamicsDB = was.DynamicsDB })
	add(!same(was.Params, is.Params) || !same(was.LowCutHz, is.LowCutHz), own.words(was.Params, is.Params),
		func(r *score.Role) { r.Params, r.LowCutHz = was.Params, was.LowCutHz })
	return list
}

// ownParams are the mixer's own parameters.
type ownParams []timeline.Param

// value is what a parameter is set to, with its unit.
func (own ownParams) value(name string, s table.Setting) string {
	switch i := slices.IndexFunc(own, func(p timeline.Param) bool { return p.Name == name }); {
	case !s.Set:
		return "not set"
	case s.Switch:
		return onOff(s.V != 0)
	case i >= 0:
		return own[i].ValueText(s.V)
	}
	return number(s.V)
}

// words says which parameters are set otherwise.
func (own ownParams) words(old, new []score.ScoreParam) string {
	key := func(x score.ScoreParam) string { return strings.TrimSpace(x.Name.V + " " + x.Of.V) }
	value := func(x score.ScoreParam) string { return own.value(x.Name.V, x.Value) }
	var words []string
	m := matchNames(names(old, key), names(new, key))
	for j, i := range m.inOld {
		switch {
		case i < 0:
			words = append(words, key(new[j])+" now "+value(new[j]))
		case !same(old[i].Value, new[j].Value):
			words = append(words, key(new[j])+" "+value(old[i])+" -> "+value(new[j]))
		}
	}
	for i, j := range m.inNew {
		if j < 0 {
			words = append(words, key(old[i])+" no longer set")
		}
	}
	if len(words) == 0 {
		return "order of the parameters"
	}
	return strings.Join(words, ", ")
}

func movementEdits(old, new *score.Score) (list []FileEdit) {
	if len(old.Movements) != len(new.Movements) {
		return []FileEdit{{Of: "show.toml", Words: fmt.Sprintf("%d -> %s", len(old.Movements),
			count(len(new.Movements), "movement")), rank: undoFirst,
			undo: func(f *timeline.Files) { f.Score.Movements = slices.Clone(old.Movements) }}}
	}
	for i := range old.Movements {
		list = append(list, oneMovement(i, old.Movements[i], new.Movements[i])...)
	}
	return list
}

// oneMovement are the edits of the movement at an index.
func oneMovement(at int, was, is score.Movement) (list []FileEdit) {
	add := func(differs bool, idle bool, words string, undo func(m *score.Movement)) {
		if differs {
			list = append(list, FileEdit{Of: fmt.Sprintf("movement %d", at+1), Words: words, Idle: idle,
				undo: func(f *timeline.Files) { undo(&f.Score.Movements[at]) }})
		}
	}
	add(was.Name != is.Name, true, "renamed "+orNone(was.Name)+" -> "+orNone(is.Name),
		func(m *score.Movement) { m.Name = was.Name })
	otherMusic := !same(was.File, is.File) || !same(was.Music, is.Music)
	add(!otherMusic && !same(was.Changes, is.Changes), false, tempoWords(was.Changes, is.Changes),
		func(m *score.Movement) { m.Changes = was.Changes })
	add(was.WaitS != is.WaitS, false, from("wait", was.WaitS, is.WaitS, " s"),
		func(m *score.Movement) { m.WaitS = was.WaitS })
	add(!same(was.Counts, is.Counts), true, from("counts", float64(was.Counts.V), float64(is.Counts.V), ""),
		func(m *score.Movement) { m.Counts = was.Counts })
	music := "its music changed"
	if is.File != nil {
		music += " (" + is.File.Name.V + ")"
	}
	// The measures, marks, tempo and parts of a file go together.
	add(otherMusic, false, music,
		func(m *score.Movement) { m.File, m.Music, m.Changes = was.File, was.Music, was.Changes })
	return list
}

// changeName tells the entries of a tempo apart.
func changeName(c clock.Change) string {
	if c.BPM == 0 {
		return fmt.Sprintf("pause after count %s", number(c.At))
	}
	return fmt.Sprintf("at count %s", number(c.At))
}

// changeWords is an entry of a tempo.
func changeWords(c clock.Change) string {
	if c.BPM == 0 {
		return "pause of " + number(c.PauseS) + " s"
	}
	return number(c.BPM) + " bpm"
}

// tempoWords says where a tempo differs first: "tempo at count 33 152 -> 160 bpm".
func tempoWords(old, new []clock.Change) string {
	if len(old) != len(new) {
		return "tempo " + few(changedOf(old, new, changeName, func(a, b clock.Change) string {
			return changeWords(a) + " -> " + changeWords(b)
		}))
	}
	var words []string
	for i := range old {
		a, b := old[i], new[i]
		at := fmt.Sprintf("at count %s", number(b.At))
		switch {
		case a == b:
		case a.At != b.At:
			words = append(words, fmt.Sprintf("tempo change at count %s -> %s", number(a.At), number(b.At)))
		case a.BPM != b.BPM && i == 0:
			words = append(words, from("tempo", a.BPM, b.BPM, " bpm"))
		case a.BPM == 0 && b.BPM == 0:
			words = append(words, from("pause after count "+number(b.At), a.PauseS, b.PauseS, " s"))
		case a.BPM == 0 || b.BPM == 0: // a pause where the tempo changed, or the other way
			words = append(words, "tempo "+at+" "+changeWords(a)+" -> "+changeWords(b))
		case a.BPM != b.BPM:
			words = append(words, from("tempo "+at, a.BPM, b.BPM, " bpm"))
		case a.PauseS != b.PauseS:
			words = append(words, from("pause after count "+number(b.At), a.PauseS, b.PauseS, " s"))
		default:
			words = append(words, from("tempo change "+at+" over", a.Over, b.Over, " counts"))
		}
	}
	if n := len(words); n > 3 {
		words = append(words[:3], fmt.Sprintf("and %d more changes of tempo", n-3))
	}
	return strings.Join(words, ", ")
}
