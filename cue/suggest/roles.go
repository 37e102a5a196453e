package suggest

import (
	"cmp"
	"regexp"
	"slices"
	"strings"

	"backfield/cue/parts"
	"backfield/cue/score"
	"backfield/cue/timeline"
)

// How far the roles of a first score are below those in front. These are our own rules of thumb.
const (
	soloAboveDB = 3.0  // a role that is louder than the next by less, where there are four, is for a solo alone
	behindDB    = 12.0 // one that is softer by so much is not for those behind, but hardly heard
)

var soloName = regexp.MustCompile(`(?i)^sol[oi]`)

// castRoles finds the roles for a solo, for those in front, for all together and for those behind, by their levels. The
// loudest is in front, the next one for all together, and the softest that is still heard beside the front is behind.
// The loudest is for a solo alone where its name says so, or where the next one is almost as loud and two are left.
func (x *firstScore) castRoles() {
	list := slices.DeleteFunc(slices.Clone(x.Score.Roles), x.forFixedMics)
	if len(list) == 0 {
		list = slices.Clone(x.Score.Roles)
	}
	slices.SortStableFunc(list, func(a, b score.Role) int { return cmp.Compare(b.LevelDB, a.LevelDB) })
	n := len(list)
	x.solo = list[0].Name
	if n > 2 && soloName.MatchString(x.solo) || n > 3 && list[0].LevelDB-list[1].LevelDB < soloAboveDB-1e-6 {
		list = list[1:]
	}
	front, rest := list[0], list[1:]
	heard := slices.IndexFunc(rest, func(r score.Role) bool { return r.LevelDB <= front.LevelDB-behindDB+1e-6 })
	if heard > 0 {
		rest = rest[:heard]
	} else if heard == 0 {
		rest = rest[:1]
	}
	x.front, x.together, x.behind = front.Name, front.Name, front.Name
	if len(rest) > 0 {
		x.together, x.behind = rest[0].Name, rest[len(rest)-1].Name
	}
}

// forFixedMics reports whether a role is not for worn mics in general: [always] has it, or it is called like a fixed mic
// or an instrument, such as a pit that no cue opens yet.
func (x *firstScore) forFixedMics(role score.Role) bool {
	return slices.ContainsFunc(x.Score.Always, func(o score.RoleOpen) bool { return o.Role.V == role.Name }) ||
		parts.Instrument(role.Name) != "" ||
		slices.ContainsFunc(x.Lines.List, func(line timeline.Line) bool {
			return line.Fixed != nil && slices.Contains(strings.Fields(line.Fixed.Name), role.Name)
		})
}
