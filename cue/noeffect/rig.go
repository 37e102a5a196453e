package noeffect

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"backfield/cue/timeline"
	"backfield/layout/rig"
	"backfield/layout/source"
	"backfield/layout/table"
)

// site is the rig with its venue over it.
func (x *idleFinder) site(read *source.Problems) *table.Node {
	if x.RigFile == nil {
		return &table.Node{Kind: table.Table}
	}
	base := table.ReadTOML(x.RigFile, read)
	if x.VenueFile == nil {
		return base
	}
	over := table.ReadTOML(x.VenueFile, read)
	x.covered(base, over)
	merged, _ := table.Overlay(base.Without("levels"), over, rig.RigFile{})
	return merged
}

// covered lists what the venue has in place of the rig, in one line since that is what a venue is for, and where it
// says only what the rig says.
func (x *idleFinder) covered(base, over *table.Node) {
	var names []string
	var first source.Span
	for _, f := range base.Fields {
		is := over.Get(f.Name)
		at := cmp.Or(f.Node.Key, f.Node.Span)
		switch {
		case f.Name == "levels": // what was read at the rig's own place says nothing of the venue
		case is == nil || f.Name == "name" || f.Name == "stack" || f.Name == "mic":
			continue
		case same(f.Node, is):
			x.p.Idle(cmp.Or(is.Key, is.Span), f.Name+": the rig says the same ("+at.Where()+")")
			continue
		}
		if names = append(names, f.Name); len(names) == 1 {
			first = at
		}
	}
	if len(names) > 0 {
		x.p.Idle(first, strings.Join(names, ", ")+": the venue goes first ("+x.VenueFile.Name+")")
	}
}

// same reports whether two values are one text, number or switch.
func same(a, b *table.Node) bool {
	return a.Kind == b.Kind && a.Kind != table.Table && a.Kind != table.Array && a.Kind != table.Date &&
		a.Text == b.Text && a.Float == b.Float && a.Yes == b.Yes
}

// without is about what is there for mics of some kinds alone.
func without(what string, kinds ...string) func(x *idleFinder, k *fileKey) string {
	return func(x *idleFinder, _ *fileKey) string {
		if slices.ContainsFunc(x.Rig.Mics, func(m rig.Mic) bool { return slices.Contains(kinds, m.Kind) }) {
			return ""
		}
		return "the rig has no " + what
	}
}

func noStands(x *idleFinder, _ *fileKey) string {
	if len(x.Rig.Blocks)+len(x.Rig.Surveyed) > 0 || x.Rig.ReferenceWeight == 0 {
		return ""
	}
	return "the rig has no stands"
}

func weightless(_ *idleFinder, k *fileKey) string {
	if w := k.node.Get("weight"); w != nil && w.Kind == table.Number && w.Float == 0 {
		return "its seats have the weight 0"
	}
	return ""
}

func noSides(x *idleFinder, k *fileKey) string {
	if x.Rig.Zones {
		return "the rig feeds its stacks by zones"
	}
	return ofSub(x, k)
}

func noZone(x *idleFinder, k *fileKey) string {
	if !x.Rig.Zones {
		return inStereo(x, k)
	}
	return ofSub(x, k)
}

func ofSub(_ *idleFinder, k *fileKey) string {
	if sub := k.in.node.Get("sub"); sub != nil && sub.Yes {
		return "a sub is only drawn and listed"
	}
	return ""
}

func ofLine(_ *idleFinder, k *fileKey) string {
	if kind := k.in.node.Get("kind"); kind != nil && kind.Text == rig.LineIn {
		return "a line hears nothing"
	}
	return ""
}

func unusedChannel(x *idleFinder, k *fileKey) string {
	n := k.node.Get("channel")
	uses := func(l timeline.Line) bool { return n.Float == float64(l.Channel) }
	if n == nil || slices.ContainsFunc(x.Lines.List, uses) {
		return ""
	}
	return fmt.Sprintf("the show has nothing on channel %g", n.Float)
}

func unplayed(x *idleFinder, k *fileKey) string {
	for _, v := range x.Roster.Players {
		if v.Instrument.Text == k.name || v.Instrument.Text == "" && v.Section == k.name {
			return ""
		}
	}
	return "nobody in the roster plays it"
}
