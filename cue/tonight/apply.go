package tonight

import (
	"slices"

	"backfield/cue/clock"
	"backfield/cue/roster"
	"backfield/cue/timeline"
	"backfield/layout/drill"
	"backfield/layout/source"
)

// layer is a show while a plan is laid over it.
type layer struct {
	*NightPlan
	p   *source.Problems
	old *timeline.Files // as the show's files say
	new timeline.Files

	clock *clock.Clock // of all of the show
	had   *timeline.Lines
	has   *timeline.Lines // who wears what tonight

	absent  map[string]source.Span // by player, where the plan says so
	takes   map[string]Substitute  // by the player who is played for
	dead    map[string]source.Span // by player whose pack is dead, and has no spare
	moments map[string]clock.Moment
}

// Apply is the show as it is played tonight. What the show's own files say is not changed. What is wrong with the plan
// goes to p, all of it.
func (t *NightPlan) Apply(f *timeline.Files, p *source.Problems) timeline.Files {
	var known source.Problems // what is wrong with the show itself is reported when it is compiled
	n := &layer{NightPlan: t, p: p, old: f, new: *f, absent: map[string]source.Span{}, takes: map[string]Substitute{},
		dead: map[string]source.Span{}, moments: map[string]clock.Moment{}}
	s := *f.Score
	s.Cues, s.Parts = slices.Clone(s.Cues), slices.Clone(s.Parts)
	n.new.Score, n.new.Night = &s, true
	n.clock = timeline.NewClock(f, &known)
	n.had = timeline.NewLines(f, n.clock, &known)
	n.place(&known)

	n.resolveAbsent()
	n.resolveSubstitutes()
	n.new.Roster = f.Roster.With(n.players(), n.packs())
	n.has = timeline.NewLines(&n.new, n.clock, &known)
	n.new.Drill = n.drill()
	n.new.Cuts = n.cuts()
	n.names()
	n.dropReadings()
	n.warnOfLeads()
	return n.new
}

// place finds the moments of the cues, by id.
func (n *layer) place(known *source.Problems) {
	f := *n.old
	s := *f.Score
	s.Cues = slices.Clone(s.Cues)
	f.Score = &s
	placed, _ := timeline.PlaceCues(&f, n.clock, known)
	for _, x := range placed {
		n.moments[x.Cue.ID.V] = x.At
	}
}

// players are those who are there.
func (n *layer) players() []roster.Player {
	gone := func(x roster.Player) bool { return n.isAbsent(x.Name) }
	return slices.DeleteFunc(slices.Clone(n.old.Roster.Players), gone)
}

func (n *layer) isAbsent(name string) bool { _, ok := n.absent[name]; return ok }

// drill is where everybody is: without those who are absent, with substitutes who walk for another, and standing where
// nobody walks.
func (n *layer) drill() *drill.Drill {
	d := n.old.Drill
	players := slices.Clone(d.Players)
	var own []string // whose dots are not walked
	for _, s := range n.substitutes() {
		from, there := d.Player(s.For.V)
		_, has := d.Player(s.By.V)
		if !there || s.Dots.V != theirs && has {
			continue
		}
		walks := *from
		walks.Name = s.By.V
		own = append(own, s.By.V)
		k := slices.IndexFunc(players, func(x drill.Marcher) bool { return x.Name == s.By.V })
		if k < 0 {
			players = append(players, walks)
		} else {
			players[k] = walks
		}
	}
	players = slices.DeleteFunc(players, func(x drill.Marcher) bool { return n.isAbsent(x.Name) })
	d = d.With(d.Sets, players)
	if n.Standing.Set {
		d = n.standing(d, own)
	}
	return d
}

// dropReadings leaves out readings of those who are not there: they were made on another night.
func (n *layer) dropReadings() {
	r := *n.old.Rig
	r.Levels.Solo = slices.Clone(r.Levels.Solo)
	for k := len(r.Levels.Solo) - 1; k >= 0; k-- {
		if x := r.Levels.Solo[k]; n.isAbsent(x.Player.V) && x.At.File != n.File {
			r.Levels.Solo = slices.Delete(r.Levels.Solo, k, k+1)
		}
	}
	if b := r.Levels.Brass; b != nil && b.At.File != n.File && slices.Contains(n.old.Roster.Sections(), b.Section.V) &&
		!slices.Contains(n.new.Roster.Sections(), b.Section.V) {
		r.Levels.Brass = nil
	}
	n.new.Rig = &r
}
