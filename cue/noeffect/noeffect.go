// Package noeffect finds the keys of a compiled show that change nothing: a role that no cue uses, a warning that is
// accepted and never comes, a bound that the delay policy does not ask for. None of them is a mistake, but each may be
// the trace of one.
package noeffect

import (
	"cmp"
	"fmt"
	"strings"

	"backfield/cue/compile"
	"backfield/cue/score"
	"backfield/cue/timeline"
	"backfield/cue/work"
	"backfield/layout/source"
	"backfield/layout/table"
)

// WholeShow is a show without errors, and the files whose keys are looked at, nil for one that is not there.
type WholeShow struct {
	*compile.Result
	RigFile, VenueFile, MixerFile *source.File
	Heard                         bool // the checks of levels, which need readings on site, have all been made
}

// Note lists in p what of a show's files changes nothing. A show without cues is not looked at: nothing of it has an
// effect yet.
func Note(s *WholeShow, p *source.Problems) {
	if len(s.Cues) == 0 || s.Show == nil {
		return
	}
	x := &idleFinder{WholeShow: s, p: p, said: map[string]bool{}}
	for i := range s.Cues {
		for _, w := range s.Derivations[i] {
			o := s.Cues[i].Open[w.Line]
			x.mics = append(x.mics, micInCue{w, i, o.Role, &s.Lines.List[w.Line]})
		}
	}
	var read source.Problems // the files were read before, without errors
	x.look("show.toml", table.ReadTOML(s.Score.File, &read))
	x.look("rig.toml", x.site(&read))
	if s.MixerFile != nil {
		x.look("mixer.toml", table.ReadTOML(s.MixerFile, &read))
	}
	x.roster()
}

// idleFinder finds what changes nothing.
type idleFinder struct {
	*WholeShow
	p    *source.Problems
	mics []micInCue
	said map[string]bool // of the rig, whose stacks are mostly alike
}

// micInCue is one mic that is open in one cue.
type micInCue struct {
	*work.Derivation
	cue  int
	role score.Role
	line *timeline.Line
}

// fileKey is a key of a file, an entry of a list of tables, or a word in a list of words.
type fileKey struct {
	in   *fileKey // the table or list that it is in; nil for a file
	name string   // as written; empty for an entry of a list
	n    int      // which entry of a list
	node *table.Node
}

// at is where a person finds the key.
func (k *fileKey) at() source.Span { return cmp.Or(k.node.Key, k.node.Span) }

// words name the key: "mix.bed.box", "cue 4: policy", "stack left: zone".
func (k *fileKey) words() string {
	switch {
	case k.in == nil:
		return ""
	case k.name != "":
		before := k.in.words()
		switch {
		case before == "":
			return k.name
		case k.in.name == "":
			return before + ": " + k.name
		}
		return before + "." + k.name
	case k.node.Kind == table.String:
		return fmt.Sprintf("%s: %q", k.in.words(), k.node.Text)
	}
	for _, own := range []string{"id", "name"} {
		if n := k.node.Get(own); n != nil && n.Kind == table.String {
			return k.in.words() + " " + n.Text
		}
	}
	return fmt.Sprintf("%s %d", k.in.words(), k.n+1)
}

// entry is the nearest entry of a list of tables that the key is in.
func (k *fileKey) entry() int {
	for ; k != nil; k = k.in {
		if k.name == "" && k.in != nil && k.node.Kind == table.Table {
			return k.n
		}
	}
	return -1
}

// look applies the rules to all keys of a file.
func (x *idleFinder) look(file string, root *table.Node) {
	x.lookAt(file+" ", "", &fileKey{node: root})
}

// lookAt applies the rules to what is in a table or a list. A key in what changes nothing is not listed again.
func (x *idleFinder) lookAt(file, path string, k *fileKey) {
	each := func(path string, c *fileKey) {
		if why := whyNot(file + path); why != nil {
			if why := why(x, c); why != "" {
				x.found(file, c, why)
				return
			}
		}
		x.lookAt(file, path, c)
	}
	for _, f := range k.node.Fields {
		each(strings.TrimPrefix(path+"."+f.Name, "."), &fileKey{in: k, name: f.Name, node: f.Node})
	}
	for i, n := range k.node.Items {
		each(path+"[]", &fileKey{in: k, n: i, node: n})
	}
}

// found lists a key. Of the stacks and mics of a rig with one reason, only the first is listed.
func (x *idleFinder) found(file string, k *fileKey, why string) {
	words := k.words() + ": " + why
	if k.in.name == "" && file == "rig.toml " {
		if words = k.in.in.name + "." + k.name + ": " + why; x.said[words] {
			return
		}
		x.said[words] = true
	}
	x.p.Idle(k.at(), words)
}

// whyNot is the rule of a key, nil where it has none.
func whyNot(path string) func(x *idleFinder, k *fileKey) string {
	for _, r := range list {
		if matches(r.key, path) {
			return r.why
		}
	}
	return nil
}

// matches reports whether a key is of a pattern, in which * is any one name.
func matches(pattern, path string) bool {
	want, is := strings.Split(pattern, "."), strings.Split(path, ".")
	if len(want) != len(is) {
		return false
	}
	for i := range want {
		a, listed := strings.CutSuffix(want[i], "[]")
		b, inList := strings.CutSuffix(is[i], "[]")
		if listed != inList || a != "*" && a != b {
			return false
		}
	}
	return true
}

// roster lists the rows of players who are nowhere, and delay policies of players by which nobody goes.
func (x *idleFinder) roster() {
	wears := map[string]bool{}
	for _, w := range x.Roster.Wears {
		wears[w.Player] = true
		if w.Policy == "" || x.any(func(m *micInCue) bool {
			worn := m.line.Holder(x.Cues[m.cue].At)
			return worn != nil && worn.Span == w.Span && x.policyOf(m) == fromRoster
		}) {
			continue
		}
		x.p.Idle(w.Span, fmt.Sprintf("the policy of %s: no cue opens this mic without a policy of its own", w.Player))
	}
	for _, v := range x.Roster.Players {
		if _, marches := x.Drill.Player(v.Name); !marches && !wears[v.Name] {
			x.p.Idle(v.Span, fmt.Sprintf("the row of %s, who has neither dots nor a pack", v.Name))
		}
	}
}

// any reports whether there is such an open mic.
func (x *idleFinder) any(is func(m *micInCue) bool) bool {
	for i := range x.mics {
		if is(&x.mics[i]) {
			return true
		}
	}
	return false
}
