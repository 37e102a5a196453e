// Package paper makes what is handed out and taped up: the run sheet, the pack sheet, a handout for each section, the
// mic chart and the pictures, each a page of HTML that needs no other file, and as PDF through an installed Chromium.
// What stands on them comes from cue/sheet; nothing is computed here but where it goes on the page.
package paper

import (
	"crypto/sha256"
	"fmt"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/rules"
	"backfield/cue/sheet"
)

// Papers is all that stands on the papers of one compiled show.
type Papers struct {
	Show      *show.Show
	Rows      []sheet.RunRow
	Bars      []sheet.OpenBar
	Steps     []sheet.OpenStep
	Wears     []sheet.PackUse
	Handovers []sheet.PackSwap
	Sharing   sheet.Sharing
	Batteries *sheet.Batteries // nil without a day
	Mark      string           // of the compile: two papers with the same mark say the same

	sections map[string]string // of a wearer
}

// Gather works out the papers of a compiled show. batteries may be nil.
func Gather(s *show.Show, batteries *sheet.Batteries) (*Papers, error) {
	p := &Papers{
		Show: s, Batteries: batteries, Bars: sheet.Bars(s.Show), Steps: sheet.OpenCount(s.Show),
		sections: map[string]string{},
	}
	for _, w := range s.Lines.Wears(s.Clock.End()) {
		p.Wears = append(p.Wears, sheet.PackUse{
			Player: w.Player, Section: w.Section, Pack: w.Pack, Channel: w.Channel,
			FromS: s.Clock.Seconds(w.From), UntilS: s.Clock.Seconds(w.Until),
		})
		p.sections[w.Player] = w.Section
	}
	p.Handovers = sheet.PackSwaps(s.Show, p.Wears, &showLocator{s: s})
	p.Sharing = sheet.Share(sheet.PackNeeds(p.Bars), s.Score.Rules.HandoverS, &showLocator{s: s})
	p.Rows = sheet.Rows(s.Show, p.notes())
	data, err := s.Show.Encode()
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(fmt.Append(data, p.Wears))
	p.Mark = fmt.Sprintf("%x-%x", sum[:2], sum[2:4])
	return p, nil
}

// Name is the show's title.
func (p *Papers) Name() string {
	if p.Show.Show.Title == "" {
		return "untitled show"
	}
	return p.Show.Show.Title
}

// Night is the place and the air that the show was compiled for.
func (p *Papers) Night() string {
	air := fmt.Sprintf("air %.4g °C", p.Show.Show.AirC)
	if p.Show.Show.Venue != "" {
		return p.Show.Show.Venue + ", " + air
	}
	return air
}

// Cues is how many cues the operator has, those that go by themselves included.
func (p *Papers) Cues() int { return len(p.Rows) }

// EndS is when the show is over.
func (p *Papers) EndS() float64 { return p.Show.Show.EndS }

// Movement is a movement's name, or its number where it has none or shares it with another.
func (p *Papers) Movement(n int) string {
	name := p.Show.Clock.Movements[n-1].Name
	same := 0
	for _, m := range p.Show.Clock.Movements {
		if m.Name == name {
			same++
		}
	}
	if name == "" || same > 1 {
		return fmt.Sprintf("movement %d", n)
	}
	return name
}

// notes are what to watch in each cue: handovers, what the rules found, accepted or not, and what the compiler noted of
// a player where no rule speaks of the same cue.
func (p *Papers) notes() []sheet.WatchNote {
	var list []sheet.WatchNote
	for _, h := range p.Handovers {
		if h.OpensIn != "" {
			text := fmt.Sprintf("%s now wears pack %s (channel %d) of %s", h.Taker, h.Pack, h.Channel, h.Giver)
			list = append(list, sheet.WatchNote{Cue: h.OpensIn, Text: text})
		}
	}
	told := map[string]bool{}
	for _, c := range p.Show.Remarks {
		told[c.Cue] = true
		if rules.ForDesigner(c.Code) {
			continue
		}
		text := strings.TrimPrefix(c.Text, fmt.Sprintf("cue %q", c.Cue))
		list = append(list, sheet.WatchNote{Cue: c.Cue, Text: strings.TrimLeft(text, ",: ")})
	}
	of := owners(p.Show.Show)
	for _, a := range p.Show.Attention {
		if !told[a.Cue] && !told[of[a.Cue]] {
			list = append(list, sheet.WatchNote{Cue: a.Cue, Text: a.Player + ": " + a.Text})
		}
	}
	return list
}

// owners are the cues that snapshots belong to: each to itself, a follow-on to the cue before it. No id tells it, for a
// cue may be called 4.1 as well.
func owners(s *cue.Show) map[string]string {
	of, last := map[string]string{}, ""
	for _, c := range s.Cues {
		if !c.Waypoint {
			last = c.ID
		}
		of[c.ID] = last
	}
	return of
}
