// Package edits finds what was edited between two versions of a show, one edit at a time: a player's dots, a role's level,
// who is open in a cue. It can also take single edits back, so that a compile shows what each of them does.
package edits

import (
	"reflect"
	"slices"

	"backfield/cue/timeline"
	"backfield/layout/source"
)

// FileEdit is one difference between two versions of a show's files.
type FileEdit struct {
	// Of is what was edited: "Bari 6", "role feature", "cue 5". Words say how: "set 4: 4 steps back".
	Of, Words string
	// Player is who alone can be heard differently by it; "" for an edit that may change any channel.
	Player string
	// Cue is the only cue that can differ by it, in itself and not in its channels; "" for an edit that may change more.
	Cue string
	// Dots is true for dots of a player. Several players can have one line then. Set is the set that they are in, "" for
	// several, and Steps how far the farthest moved, in drill steps; 0 for one that came or went.
	Dots  bool
	Set   string
	Steps float64
	// Idle is true for an edit that no number of a snapshot depends on: a cue's name, a threshold of a check.
	Idle bool
	// Was and Is are the ids of a cue that has a new one; else "".
	Was, Is string

	rank int                     // in what order edits are taken back together
	undo func(f *timeline.Files) // on a copy of the new files: see Undo
}

// In what order edits are taken back: cues that came and went change the list that the others look in.
const (
	undoFirst = iota
	undoCues
	undoOrder
)

// Title is the edit in one line: "Bari 6, set 4: 4 steps back".
func (e *FileEdit) Title() string {
	if e.Dots {
		return e.Of + ", " + e.Words
	}
	return e.Of + ": " + e.Words
}

// Find lists the edits between two versions, in the order of the files.
func Find(old, new *timeline.Files) []FileEdit {
	var list []FileEdit
	list = append(list, scoreEdits(old, new)...)
	list = append(list, drillEdits(old, new)...)
	list = append(list, rosterEdits(old.Roster, new.Roster, new.Mixer.Params)...)
	list = append(list, rigEdits(old, new)...)
	return append(list, mixerEdits(&old.Mixer, &new.Mixer, usedChannels(old, new))...)
}

// Undo is the new files without some of the edits. Nothing of the given files changes.
func Undo(new *timeline.Files, list []FileEdit) *timeline.Files {
	f := *new
	s := *new.Score
	s.Cues, s.Roles, s.Movements = slices.Clone(s.Cues), slices.Clone(s.Roles), slices.Clone(s.Movements)
	r := *new.Rig
	r.Stacks, r.Mics = slices.Clone(r.Stacks), slices.Clone(r.Mics)
	f.Score, f.Rig = &s, &r
	f.Drill = new.Drill.With(new.Drill.Sets, new.Drill.Players)
	f.Roster = new.Roster.With(new.Roster.Players, new.Roster.Wears)
	f.Mixer.Params = slices.Clone(f.Mixer.Params)
	list = slices.Clone(list)
	slices.SortStableFunc(list, func(a, b FileEdit) int { return a.rank - b.rank })
	for _, e := range list {
		if e.undo != nil {
			e.undo(&f)
		}
	}
	return &f
}

// same reports whether two values of a show's files are the same, wherever they were written. Functions are not looked
// at.
func same(a, b any) bool { return equal(reflect.ValueOf(a), reflect.ValueOf(b)) }

var noValue = []reflect.Type{reflect.TypeFor[source.Span](), reflect.TypeFor[*source.File]()}

func equal(a, b reflect.Value) bool {
	if a.IsValid() != b.IsValid() {
		return false
	}
	if !a.IsValid() || slices.Contains(noValue, a.Type()) {
		return true
	}
	if a.Type() != b.Type() {
		return false
	}
	switch a.Kind() {
	case reflect.Func:
		return true
	case reflect.Pointer, reflect.Interface:
		if a.IsNil() || b.IsNil() {
			return a.IsNil() == b.IsNil()
		}
		return equal(a.Elem(), b.Elem())
	case reflect.Struct:
		for i := range a.NumField() {
			if !equal(a.Field(i), b.Field(i)) {
				return false
			}
		}
		return true
	case reflect.Slice, reflect.Array:
		if a.Len() != b.Len() {
			return false
		}
		for i := range a.Len() {
			if !equal(a.Index(i), b.Index(i)) {
				return false
			}
		}
		return true
	case reflect.Map:
		if a.Len() != b.Len() {
			return false
		}
		for _, k := range a.MapKeys() {
			if !equal(a.MapIndex(k), b.MapIndex(k)) {
				return false
			}
		}
		return true
	}
	return a.Equal(b)
}

// byName finds the elements of two lists that have the same name, the nth with the nth.
type byName struct{ inOld, inNew []int } // the partner of each new one, and of each old one; -1 for none

func matchNames(old, new []string) byName {
	m := byName{inOld: slices.Repeat([]int{-1}, len(new)), inNew: slices.Repeat([]int{-1}, len(old))}
	free := map[string][]int{}
	for i, name := range old {
		free[name] = append(free[name], i)
	}
	for j, name := range new {
		if list := free[name]; len(list) > 0 {
			m.inOld[j], m.inNew[list[0]] = list[0], j
			free[name] = list[1:]
		}
	}
	return m
}

func names[T any](list []T, of func(T) string) []string {
	all := make([]string, len(list))
	for i, x := range list {
		all[i] = of(x)
	}
	return all
}

// put replaces the first element of a list that fits, or adds one at a place.
func put[T any](list []T, at int, x T, fits func(T) bool) []T {
	if i := slices.IndexFunc(list, fits); i >= 0 {
		list[i] = x
		return list
	}
	return slices.Insert(list, min(at, len(list)), x)
}
