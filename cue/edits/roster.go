package edits

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cue/roster"
	"backfield/cue/timeline"
)

// rosterEdits are what each player wears.
func rosterEdits(old, new *roster.Roster, own ownParams) (list []FileEdit) {
	wears := func(r *roster.Roster, name string) (all []roster.Wear) {
		for _, w := range r.Wears {
			if w.Player == name {
				all = append(all, w)
			}
		}
		return all
	}
	put := func(f *timeline.Files, name string) {
		named := func(p roster.Player) bool { return p.Name == name }
		keep := slices.DeleteFunc(slices.Clone(f.Roster.Wears), func(w roster.Wear) bool { return w.Player == name })
		players := slices.DeleteFunc(slices.Clone(f.Roster.Players), named)
		if p, ok := old.Player(name); ok {
			at := slices.IndexFunc(f.Roster.Players, named)
			if at < 0 {
				at = slices.IndexFunc(old.Players, named)
			}
			players = slices.Insert(players, min(at, len(players)), p)
		}
		f.Roster = f.Roster.With(players, append(keep, wears(old, name)...))
	}
	for _, p := range new.Players {
		was, ok := old.Player(p.Name)
		a, b := wears(old, p.Name), wears(new, p.Name)
		if ok && same(was, p) && same(a, b) {
			continue
		}
		e := FileEdit{Of: p.Name, Words: "new in the roster", undo: func(f *timeline.Files) { put(f, p.Name) }}
		if ok {
			e.Words = wearWords(was, p, a, b, own)
			if sameLines(a, b) && was.Section == p.Section {
				e.Player = p.Name
			}
		}
		list = append(list, e)
	}
	for _, p := range old.Players {
		if _, ok := new.Player(p.Name); !ok {
			list = append(list, FileEdit{Of: p.Name, Words: "gone from the roster",
				undo: func(f *timeline.Files) { put(f, p.Name) }})
		}
	}
	return list
}

// sameLines reports whether a player wears the same packs on the same channels from the same moments on.
func sameLines(a, b []roster.Wear) bool {
	return slices.EqualFunc(a, b, func(x, y roster.Wear) bool {
		return x.Channel == y.Channel && x.Pack == y.Pack && x.From.Text == y.From.Text
	})
}

// rosterParams says which of the mixer's own parameters a player sets otherwise.
func rosterParams(was, is []roster.RosterParam, own ownParams) []string {
	key := func(x roster.RosterParam) string { return x.Name.V }
	return changedOf(was, is, key, func(a, b roster.RosterParam) string {
		return own.value(key(a), a.Value) + " -> " + own.value(key(b), b.Value)
	})
}

func wearWords(was, is roster.Player, a, b []roster.Wear, own ownParams) string {
	var words []string
	if was.Section != is.Section {
		words = append(words, "section "+orNone(was.Section)+" -> "+orNone(is.Section))
	}
	if len(a) != len(b) {
		words = append(words, fmt.Sprintf("%d -> %s", len(a), count(len(b), "pack")))
	}
	for i := range min(len(a), len(b)) {
		x, y := a[i], b[i]
		if x.Channel != y.Channel {
			words = append(words, from("channel", float64(x.Channel), float64(y.Channel), ""))
		}
		if x.Pack != y.Pack {
			words = append(words, "pack "+orNone(x.Pack)+" -> "+orNone(y.Pack))
		}
		if x.From.Text != y.From.Text {
			words = append(words, "worn from "+orNone(x.From.Text)+" -> "+orNone(y.From.Text))
		}
		if x.TrimDB != y.TrimDB {
			words = append(words, from("trim", x.TrimDB, y.TrimDB, " dB"))
		}
		if x.HeightM != y.HeightM {
			words = append(words, from("height", x.HeightM, y.HeightM, " m"))
		}
		if x.Policy != y.Policy {
			words = append(words, "policy "+orOpen(x.Policy)+" -> "+orOpen(y.Policy))
		}
		if !same(x.Params, y.Params) {
			words = append(words, rosterParams(x.Params, y.Params, own)...)
		}
	}
	words = append(words, loudWearWords(was, is, a, b)...)
	if len(words) == 0 {
		return "written otherwise"
	}
	return strings.Join(words, ", ")
}
