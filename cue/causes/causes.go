// Package causes says what changes at the mixer between two versions of a show by what was edited: one line for each edit,
// with the cues and the mics that it changes. An edit is blamed only for what is otherwise when it alone is taken back.
package causes

import (
	"slices"

	"backfield/cue"
	"backfield/cue/diff"
	"backfield/cue/edits"
	"backfield/cue/timeline"
)

// ShowVersion is one side: a show's files and what they compile to.
type ShowVersion struct {
	Files *timeline.Files
	Show  *cue.Show
}

// CauseReport is what changes, by cause.
type CauseReport struct {
	*diff.Comparison
	// Causes are the edits that change something, the largest change first. Each change of the comparison is of one of
	// them, or of Rest.
	Causes []EditCause `json:"causes"`
	// Rest is what no edit changes alone; nil if there is none.
	Rest *EditCause `json:"rest,omitempty"`
	// Idle are the edits that change nothing at the mixer.
	Idle []string `json:"without_effect,omitempty"`
	// Closed are how many moved dots change nothing, since the player's mic is closed then.
	Closed int `json:"moved_closed,omitempty"`
	// Unheard are how many players moved who have no mic. Their dots are no change at the mixer.
	Unheard int `json:"moved_without_mic,omitempty"`

	old, new *cue.Show // the old one with the new ids of cues
}

// EditCause is an edit, and what it changes: at the mixer, and when.
type EditCause struct {
	Edit    string `json:"edit"`    // "Bari 6, set 4: 4 steps back"
	Changes string `json:"changes"` // "moves in cues 4 and 5, by at most 6.1 ms"
	// With are other edits that change some of the same.
	With     []string `json:"with,omitempty"`
	Cues     []string `json:"cues"`
	Channels []int    `json:"channels"`
	Size     float64  `json:"size"` // of its largest change, as diff.ChannelDiff has it

	edits []edits.FileEdit
	does  *effect
	of    bool // Edit is only what it is about, not how it was edited
}

// mostCompiles is how many compiles may be made to find out which edit does what. Past that, edits of the same cue, and
// then those of a kind, are taken back together.
const mostCompiles = 48

// Find compares two versions. compile compiles files, after a part of the work, 0 to 1; it returns nil for files that do
// not compile.
func Find(old, new ShowVersion, compile func(f *timeline.Files, done float64) *cue.Show) *CauseReport {
	undo := func(list []edits.FileEdit) *timeline.Files { return edits.Undo(new.Files, list) }
	return FindOf(old, new, edits.Find(old.Files, new.Files), undo, compile)
}

// FindOf is Find with edits that the caller knows. undo is the files of the new show without some of them.
func FindOf(
	old, new ShowVersion, list []edits.FileEdit, undo func(list []edits.FileEdit) *timeline.Files,
	compile func(f *timeline.Files, done float64) *cue.Show,
) *CauseReport {
	was := renamed(old.Show, list)
	f := finder{old: was, new: new.Show, undo: undo, compile: compile, report: diff.Compare(was, new.Show)}
	f.all = measure(was, new.Show, f.report, nil)
	r := &CauseReport{Comparison: f.report, old: was, new: new.Show, Causes: []EditCause{}}
	var live []edits.FileEdit
	unheard := map[string]bool{}
	for _, e := range list {
		switch {
		case e.Is != "":
			r.Causes = append(r.Causes, EditCause{Edit: e.Title(), Changes: "renumbered", Cues: []string{e.Is},
				Channels: []int{}, Size: sizeID, edits: []edits.FileEdit{e}, does: newEffect()})
			r.renumbered()
		case e.Dots && len(f.channels(e.Player)) == 0:
			unheard[e.Player] = true
		case e.Idle || e.Player != "" && len(f.channels(e.Player)) == 0:
			r.Idle = append(r.Idle, e.Title())
		default:
			live = append(live, e)
		}
	}
	r.Unheard = len(unheard)
	if !f.all.empty() {
		f.blame(r, live)
	}
	r.finish()
	return r
}

// renumbered notes that ids of cues differ, which the comparison does not know: it has the new ids on both sides.
func (r *CauseReport) renumbered() {
	r.Unchanged = false
	if r.Summary == "" {
		r.Summary = "the ids of cues differ"
	}
}

// renamed is a show with the new ids of its cues.
func renamed(s *cue.Show, list []edits.FileEdit) *cue.Show {
	c := *s
	for _, e := range list {
		if e.Is == "" {
			continue
		}
		if &c.Cues[0] == &s.Cues[0] {
			c.Cues = slices.Clone(s.Cues)
		}
		for i := range s.Cues {
			if s.Cues[i].ID == e.Was {
				c.Cues[i].ID = e.Is
			}
		}
	}
	return &c
}

// finder finds out which edit does what.
type finder struct {
	old, new *cue.Show
	undo     func(list []edits.FileEdit) *timeline.Files // the new files without some edits
	compile  func(f *timeline.Files, done float64) *cue.Show
	report   *diff.Comparison
	all      *effect // all that differs
}

// channels are those that a player has in either version.
func (f *finder) channels(player string) (list []int) {
	for _, s := range []*cue.Show{f.old, f.new} {
		for i := range s.Cues {
			for _, c := range s.Cues[i].Channels {
				if c.Player == player && !slices.Contains(list, c.Channel) {
					list = append(list, c.Channel)
				}
			}
		}
	}
	return list
}

// editGroup is edits that one compile takes back together.
type editGroup struct {
	edits  []edits.FileEdit
	reach  [][]int // for each edit the only channels that it can change; nil: any
	cues   bool    // each edit is of another cue, and can change only that, not its channels
	joined bool    // one cause of all of them, since there are too many to try each
}

// groups puts edits together whose channels have nothing in common. All others are tried alone.
func (f *finder) groups(list []edits.FileEdit) (groups []editGroup) {
	for _, e := range list {
		if e.Cue != "" {
			at := slices.IndexFunc(groups, func(g editGroup) bool {
				return g.cues && !slices.ContainsFunc(g.edits, func(o edits.FileEdit) bool { return o.Cue == e.Cue })
			})
			if at < 0 {
				at = len(groups)
				groups = append(groups, editGroup{cues: true})
			}
			groups[at].edits, groups[at].reach = append(groups[at].edits, e), append(groups[at].reach, nil)
			continue
		}
		if e.Player == "" {
			groups = append(groups, editGroup{edits: []edits.FileEdit{e}, reach: [][]int{nil}})
			continue
		}
		reach := f.channels(e.Player)
		free := func(g editGroup) bool {
			return g.reach[0] != nil && !slices.ContainsFunc(g.reach, func(r []int) bool { return overlap(r, reach) })
		}
		at := slices.IndexFunc(groups, free)
		if at < 0 {
			at = len(groups)
			groups = append(groups, editGroup{})
		}
		groups[at].edits, groups[at].reach = append(groups[at].edits, e), append(groups[at].reach, reach)
	}
	return groups
}

func overlap(a, b []int) bool {
	return slices.ContainsFunc(a, func(n int) bool { return slices.Contains(b, n) })
}

// joinTo puts edits together until there are few enough groups: first those of the same cue or role, then all of the rest.
func joinTo(groups []editGroup, most int) []editGroup {
	join := func(same func(a, b editGroup) bool) {
		var list []editGroup
		for _, g := range groups {
			at := slices.IndexFunc(list, func(o editGroup) bool {
				return o.reach[0] == nil && g.reach[0] == nil && !o.cues && !g.cues && same(o, g)
			})
			if at < 0 {
				list = append(list, g)
				continue
			}
			list[at].edits, list[at].joined = append(slices.Clone(list[at].edits), g.edits...), true
		}
		groups = list
	}
	if len(groups) > most {
		join(func(a, b editGroup) bool { return a.edits[0].Of == b.edits[0].Of })
	}
	if len(groups) > most {
		join(func(a, b editGroup) bool { return kindOf(a.edits[0]) == kindOf(b.edits[0]) })
	}
	return groups
}

// blame finds the causes of all that differs.
func (f *finder) blame(r *CauseReport, live []edits.FileEdit) {
	groups := joinTo(f.groups(live), mostCompiles)
	var doubt []editGroup // those whose files do not compile without them
	for i, g := range groups {
		without := f.old // there is nothing else
		if len(groups) > 1 {
			if without = f.compile(f.undo(g.edits), float64(i)/float64(len(groups))); without == nil {
				doubt = append(doubt, g)
				continue
			}
		}
		r.take(f.causesOf(g, without, f.new))
	}
	doubt = f.together(r, doubt)
	// What no edit changes when it is taken back, some edit may change when it is made alone.
	rest := f.all.without(r.claimed())
	if !rest.empty() && len(groups) > 1 {
		for _, g := range slices.Concat(doubt, f.idleOf(groups, r)) {
			var others []edits.FileEdit
			this := func(e edits.FileEdit) bool { return e.Title() == g.edits[0].Title() }
			for _, o := range groups {
				if !slices.ContainsFunc(o.edits, this) {
					others = append(others, o.edits...)
				}
			}
			if with := f.compile(f.undo(others), 1); with != nil {
				r.take(f.causesOf(g, f.old, with))
			}
		}
		rest = f.all.without(r.claimed())
	}
	if !rest.empty() {
		r.Rest = &EditCause{does: rest, edits: live}
	}
	for _, g := range groups {
		for _, e := range g.edits {
			switch {
			case r.blames(e):
			case e.Dots:
				r.Closed++
			case r.Rest != nil && inAny(doubt, e): // nobody knows
			default:
				r.Idle = append(r.Idle, e.Title())
			}
		}
	}
}

// together finds what edits change that make no show one without the other, such as two packs that are exchanged. It
// returns those that it could not find anything of.
func (f *finder) together(r *CauseReport, doubt []editGroup) (left []editGroup) {
	if len(doubt) < 2 {
		return doubt
	}
	pair := editGroup{joined: true}
	for _, g := range doubt {
		pair.edits = append(pair.edits, g.edits...)
	}
	without := f.compile(f.undo(pair.edits), 1)
	if without == nil {
		return doubt
	}
	r.take(f.causesOf(pair, without, f.new))
	return nil
}

// idleOf are the groups of single edits that change nothing so far.
func (f *finder) idleOf(groups []editGroup, r *CauseReport) (list []editGroup) {
	for _, g := range groups {
		if !slices.ContainsFunc(g.edits, r.blames) {
			list = append(list, g)
		}
	}
	return list
}

// inAny reports whether an edit is in one of the groups.
func inAny(groups []editGroup, e edits.FileEdit) bool {
	return slices.ContainsFunc(groups, func(g editGroup) bool {
		return slices.ContainsFunc(g.edits, func(o edits.FileEdit) bool { return o.Title() == e.Title() })
	})
}

func (r *CauseReport) blames(e edits.FileEdit) bool {
	return slices.ContainsFunc(r.Causes, func(c EditCause) bool {
		return slices.ContainsFunc(c.edits, func(o edits.FileEdit) bool { return o.Title() == e.Title() })
	})
}

// claimed is all that a cause is known of.
func (r *CauseReport) claimed() map[changeKey]bool {
	all := map[changeKey]bool{}
	for _, c := range r.Causes {
		for k := range c.does.keys {
			all[k] = true
		}
	}
	return all
}

// take adds causes that change something.
func (r *CauseReport) take(list []EditCause) {
	for _, c := range list {
		if !c.does.empty() {
			r.Causes = append(r.Causes, c)
		}
	}
}

// causesOf are the causes of a group of edits, by what differs between two shows that differ by them alone.
func (f *finder) causesOf(g editGroup, a, b *cue.Show) (list []EditCause) {
	c := f.report
	if a != f.old || b != f.new {
		c = diff.Compare(a, b)
	}
	if g.joined {
		return []EditCause{{edits: g.edits, does: measure(a, b, c, func(k changeKey) bool { return f.all.keys[k] })}}
	}
	for i, e := range g.edits {
		reach := g.reach[i]
		list = append(list, EditCause{edits: []edits.FileEdit{e}, does: measure(a, b, c, func(k changeKey) bool {
			return f.all.keys[k] && (reach == nil || slices.Contains(reach, k.channel)) &&
				(!g.cues || k.cue == e.Cue && k.channel == 0)
		})})
	}
	return list
}
