package timeline

import (
	"fmt"
	"maps"
	"slices"

	"backfield/cue/clock"
	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
)

// opener opens lines, cue by cue in order of time.
type opener struct {
	*Files
	*Lines
	remarks *Remarks
	p       *source.Problems

	lost bool // there are cues whose moment could not be found
}

// Open finds out what is open in each cue. Names that no cue of the score can mean are problems, as are mics that no
// cue opens.
func Open(
	f *Files, lines *Lines, placed []Placed, unplaced []*score.Cue, remarks *Remarks, p *source.Problems,
) []TimedCue {
	o := &opener{f, lines, remarks, p, len(unplaced) > 0}
	before := p.Errors()
	always := o.always()
	used := map[string]bool{}
	cues := make([]TimedCue, len(placed))
	for i := range cues {
		c := &cues[i]
		c.Placed = placed[i]
		c.Open = o.found(cues[:i], c, always)
		o.closeIn(c)
		o.openIn(c)
		o.nudgeIn(c)
		o.paramIn(c)
		for _, x := range c.Open {
			used[x.Name] = true
		}
	}
	for _, c := range unplaced {
		o.checkNames(c, used)
	}
	if p.Errors() > before {
		return cues // a misspelt name would make its bearer look unused
	}
	if len(f.Score.Cues) > 0 && !f.Roster.Partial && !f.Rig.Partial && !f.Night {
		lines.checkUnused(used, p)
	}
	return cues
}

// found is what a cue finds open before it does anything: what is always open, or where it keeps, what the cue before
// it had open.
func (o *opener) found(before []TimedCue, c *TimedCue, always map[int]Opening) map[int]Opening {
	switch {
	case !c.Cue.Keep || len(before) == 0 && !o.knowsBefore(c):
		return maps.Clone(always)
	case len(before) == 0:
		o.remarks.About(c.Cue, "keep-nothing", c.Cue.ID.Span,
			fmt.Sprintf("cue %q has keep, but no cue comes before it", c.Cue.ID.V), "remove keep")
		return maps.Clone(always)
	}
	return o.keep(c, before[len(before)-1].Open)
}

// checkNames reports what is wrong with the names of a cue whose moment is not known.
func (o *opener) checkNames(c *score.Cue, used map[string]bool) {
	check := func(name table.Text) {
		for _, f := range o.ever(name, o.p) {
			used[f] = true
		}
	}
	for _, x := range c.Open {
		o.role(x.Role)
		for _, name := range x.Names {
			check(name)
		}
	}
	for _, name := range c.Close {
		check(name)
	}
	for _, n := range c.Nudges {
		check(n.Name)
	}
	for _, x := range c.Params {
		check(x.Of)
	}
}

// always reads [always]: fixed mics by name or group, with their roles.
func (o *opener) always() map[int]Opening {
	open := map[int]Opening{}
	for _, x := range o.Score.Always {
		role, ok := o.role(x.Role)
		for _, name := range x.Names {
			for _, f := range o.named(name, clock.Moment{Movement: 1}, "", o.p) {
				if o.List[f.line].Fixed == nil {
					o.p.Add(alwaysWorn(name, f.name))
					continue
				}
				if before, twice := open[f.line]; twice {
					o.p.Add(alwaysTwice(name, f.name, before))
					continue
				}
				open[f.line] = Opening{Role: role, Name: f.name, At: name.Span, BadRole: !ok || role.Unsure}
			}
		}
	}
	return open
}

func (o *opener) role(name table.Text) (score.Role, bool) {
	role, ok := o.Score.Role(name.V)
	if !ok {
		o.p.Add(unknownRole(name, o.Score.RoleNames()))
	}
	return role, ok
}

// keep is what the cue before had open; nudges and parameters are that cue's own. A player who has changed packs since
// is followed to the new one.
func (o *opener) keep(c *TimedCue, before map[int]Opening) map[int]Opening {
	open := map[int]Opening{}
	for _, l := range Sorted(before) {
		x := before[l]
		x.NudgeDB, x.Params = 0, nil
		if o.List[l].Fixed != nil {
			open[l] = x
			continue
		}
		now, ok := o.LineOf(x.Name, c.At)
		if !ok {
			o.p.Add(keepsHandedOver(c.Cue, x.Name))
			continue
		}
		open[now] = x
	}
	return open
}

// knowsBefore reports whether it is known what a cue finds open: one that keeps what the cue before has open
// may come after one whose moment could not be found.
func (o *opener) knowsBefore(c *TimedCue) bool { return !c.Cue.Keep || !o.lost }

// Sorted lists the keys of a map in order.
func Sorted[T any](m map[int]T) []int {
	return slices.Sorted(maps.Keys(m))
}

// closeIn closes. That it closes what is not open is only said while nothing is wrong: a misspelt "keep" or name
// would look like it. The same goes for a nudge.
func (o *opener) closeIn(c *TimedCue) {
	for _, name := range c.Cue.Close {
		found := o.named(name, c.At, c.Cue.ID.V, o.p)
		closed := false
		for _, f := range found {
			if _, ok := c.Open[f.line]; ok {
				delete(c.Open, f.line)
				closed = true
			}
		}
		if len(found) > 0 && !closed && o.knowsBefore(c) && o.p.Errors() == 0 {
			o.remarks.About(c.Cue, "close-nothing", name.Span,
				fmt.Sprintf("%s is not open when cue %q closes it", name.V,
					c.Cue.ID.V), "remove it: a cue without keep closes whatever it does not open")
		}
	}
}

// openIn opens what a cue opens. A name beats a group.
func (o *opener) openIn(c *TimedCue) {
	here := map[int]Opening{}
	for _, x := range c.Cue.Open {
		role, ok := o.role(x.Role)
		for _, name := range x.Names {
			for _, f := range o.named(name, c.At, c.Cue.ID.V, o.p) {
				next := Opening{Role: role, Name: f.name, At: name.Span, ByName: f.byName, BadRole: !ok || role.Unsure}
				before, twice := here[f.line]
				switch {
				case twice && before.ByName == next.ByName:
					o.p.Add(openedTwice(name, f.name, c.Cue, before))
				case twice && before.ByName: // the name beats the group
				default:
					here[f.line] = next
				}
			}
		}
	}
	maps.Copy(c.Open, here)
}

// nudgeIn corrects the levels of what is open.
func (o *opener) nudgeIn(c *TimedCue) {
	for _, n := range c.Cue.Nudges {
		for _, f := range o.named(n.Name, c.At, c.Cue.ID.V, o.p) {
			x, ok := c.Open[f.line]
			if !ok {
				if f.byName && o.knowsBefore(c) && o.p.Errors() == 0 {
					o.remarks.About(c.Cue, "nudge-closed", n.Name.Span,
						fmt.Sprintf("%s has a nudge in cue %q but is not open in it", n.Name.V,
							c.Cue.ID.V), "open it, or remove the nudge")
				}
				continue
			}
			x.NudgeDB += n.DB
			c.Open[f.line] = x
		}
	}
}

// checkUnused finds mics that no cue opens.
func (x *Lines) checkUnused(used map[string]bool, p *source.Problems) {
	for _, l := range x.List {
		if l.Fixed != nil && !used[l.Fixed.Name] {
			p.Add(fixedNeverOpen(l.Fixed))
		}
		for _, w := range l.Wears {
			if !used[w.Player] && !x.unsure[w.Player] {
				p.Add(wornNeverOpen(&w))
			}
		}
	}
}
