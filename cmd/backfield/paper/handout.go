package paper

import (
	"slices"

	"backfield/cue"
	"backfield/cue/sheet"
)

// handout is the sheet of one section.
type handout struct {
	Section   string
	Players   []micWearer
	Handovers []sheet.PackHandover
	Without   []string // players without a mic
}

// micWearer is a player with a mic, the packs, and when they are open.
type micWearer struct {
	Player string
	Packs  []sheet.PackUse
	Open   []heardTime
}

// heardTime is a time in which a player is heard through the loudspeakers, in words.
type heardTime struct {
	From, To, Roles string
	Lines           int // that it takes on a handout
}

func (p *Papers) handouts() []handout {
	var list []handout
	stretches := sheet.Stretches(p.Bars)
	for _, section := range append(p.Show.Roster.Sections(), "") { // the last sheet is for players without a section
		h := handout{Section: section}
		for _, player := range p.Show.Roster.Players {
			if player.Section != section {
				continue
			}
			w := micWearer{Player: player.Name}
			for _, x := range p.Wears {
				if x.Player == player.Name {
					w.Packs = append(w.Packs, x)
				}
			}
			if len(w.Packs) == 0 {
				h.Without = append(h.Without, player.Name)
				continue
			}
			slices.SortStableFunc(w.Packs, func(a, b sheet.PackUse) int { return int(1000 * (a.FromS - b.FromS)) })
			for _, x := range stretches {
				if b := x.Bars[0]; b.Kind == cue.Worn && b.Player == player.Name {
					w.Open = append(w.Open, p.stretch(x))
				}
			}
			h.Players = append(h.Players, w)
		}
		for _, x := range p.Handovers {
			if p.sections[x.Giver] == section || p.sections[x.Taker] == section {
				h.Handovers = append(h.Handovers, x)
			}
		}
		if section == "" {
			h.Section = "No section"
		}
		if len(h.Players) > 0 {
			list = append(list, h)
		}
	}
	return list
}

func (p *Papers) stretch(x sheet.OpenStretch) heardTime {
	var roles []string
	for _, b := range x.Bars {
		if n := len(roles); n == 0 || roles[n-1] != b.Role {
			roles = append(roles, b.Role)
		}
	}
	text := roles[0]
	for _, r := range roles[1:] {
		text += ", then " + r
	}
	from, to := p.Moment(x.FromS()), p.Moment(x.ToS())
	heard := heardTime{From: p.momentText(from), To: p.momentText(to), Roles: text}
	switch {
	case x.Bars[len(x.Bars)-1].ToCue == "":
		heard.To = "the end"
	case from.Movement == to.Movement:
		heard.To = "count " + number(to.Count)
		if to.Set != "" && to.Set != from.Set {
			heard.To += ", set " + to.Set
		}
	}
	return heard.counted()
}
