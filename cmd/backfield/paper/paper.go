// Package paper makes the printed sheets: the run sheet, the pack sheet, a handout for each section, the mic chart,
// the pictures, the gains and the readings to take on site. Each is an HTML page that needs no other file, and a PDF if Chromium is installed. The content comes
// from cue/sheet; this package only lays it out.
package paper

import (
	"crypto/sha256"
	"fmt"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue/balance"
	"backfield/cue/parts"
	"backfield/cue/rules"
	"backfield/cue/sheet"
	"backfield/layout/unit"
	"backfield/osc/linecheck"
)

// Papers is everything that the sheets of one compiled show need.
type Papers struct {
	Show      *show.Loaded
	Rows      []sheet.RunRow
	Bars      []sheet.OpenBar
	Sounding  []parts.SoundingBar // when wearers play, as far as the music says
	Steps     []sheet.OpenStep
	Wears     []sheet.PackUse
	Handovers []sheet.PackHandover
	Sharing   sheet.Sharing
	Batteries *sheet.Batteries // nil without --day
	Checked   linecheck.Record // of the line checks
	Mark      string           // of the compile: sheets with the same mark agree

	sections map[string]string           // the section of each wearer
	sound    *balance.Loudness           // nil where levels could not be computed
	leads    map[string]*balance.CueLead // by cue; nil where nobody is featured
}

// Gather collects what the sheets of a compiled show need. batteries may be nil.
func Gather(s *show.Loaded, batteries *sheet.Batteries) (*Papers, error) {
	p := &Papers{
		Show: s, Batteries: batteries, Bars: sheet.Bars(s.Show), Steps: sheet.OpenCount(s.Show),
		Sounding: s.Result.Setup.Lanes.Sounding(s.Lines, s.Clock),
		sections: map[string]string{},
	}
	for _, w := range s.Lines.Wears(s.Clock.End()) {
		p.Wears = append(p.Wears, sheet.PackUse{
			Player: w.Player, Section: w.Section, Pack: w.Pack, Channel: w.Channel,
			FromS: s.Clock.Seconds(w.From), UntilS: s.Clock.Seconds(w.Until),
		})
		p.sections[w.Player] = w.Section
	}
	p.Handovers = sheet.PackHandovers(s.Show, p.Wears, &showLocator{s: s})
	p.Sharing = sheet.Share(sheet.PackNeeds(p.Bars), s.Score.Rules.HandoverS, &showLocator{s: s})
	p.Rows = sheet.Rows(s.Show, p.notes())
	p.listen()
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

// Night is the venue and the air that the show was compiled for.
func (p *Papers) Night() string {
	air := "air " + unit.AirText(p.Show.Show.AirC)
	if p.Show.Show.Venue != "" {
		return p.Show.Show.Venue + ", " + air
	}
	return air
}

// Cues is how many cues the score has, automatic ones included.
func (p *Papers) Cues() int { return len(p.Rows) }

// EndS is the end of the show, in seconds from the first downbeat.
func (p *Papers) EndS() float64 { return p.Show.Show.EndS }

// Movement is a movement's name, or its number if it has no name or shares it with another.
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

// notes are what to watch in each cue: handovers, warnings (accepted ones too), and what the compiler noted about a
// player if no warning is about the same cue.
func (p *Papers) notes() []sheet.WatchNote {
	var list []sheet.WatchNote
	for _, h := range p.Handovers {
		if h.OpensIn != "" {
			text := fmt.Sprintf("%s now wears pack %s (channel %d), from %s", h.Taker, h.Pack, h.Channel, h.Giver)
			list = append(list, sheet.WatchNote{Cue: h.OpensIn, Text: text})
		}
	}
	warned := map[string]bool{}
	for _, c := range p.Show.Remarks {
		warned[c.Cue] = true
		if rules.ForDesigner(c.Code) {
			continue
		}
		text := strings.TrimPrefix(c.Text, fmt.Sprintf("cue %q", c.Cue))
		list = append(list, sheet.WatchNote{Cue: c.Cue, Text: strings.TrimLeft(text, ",: ")})
	}
	for _, a := range p.Show.Attention {
		if !warned[a.Cue] {
			list = append(list, sheet.WatchNote{Cue: a.Cue, Text: a.Player + ": " + a.Text})
		}
	}
	return list
}
