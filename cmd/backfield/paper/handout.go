package paper

import (
	"bytes"
	"fmt"
	"html/template"
	"slices"

	"backfield/cmd/backfield/picture"
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

// heardTime is a time in which a player is heard through the loudspeakers.
type heardTime struct {
	From, To sheet.DrillMoment
	FromS    float64
	ToEnd    bool   // to the end of the show
	Roles    string // in order of time
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
	last := x.Bars[len(x.Bars)-1]
	return heardTime{
		From: p.Moment(x.FromS()), To: p.Moment(x.ToS()), FromS: x.FromS(), ToEnd: last.ToCue == "", Roles: text,
	}
}

// fieldPicture is the picture of one cue.
type fieldPicture struct {
	ID  string
	SVG template.HTML
}

// pictures draws every cue in the score. All show the same part of the field, so that people can leaf through them.
func (p *Papers) pictures() ([]fieldPicture, error) {
	whole := picture.Whole(p.Show)
	var list []fieldPicture
	for _, r := range p.Rows {
		d, err := picture.Cue(p.Show, r.ID, picture.Look{Frame: &whole})
		if err != nil {
			return nil, err
		}
		var b bytes.Buffer
		if err := d.SVG(&b); err != nil {
			return nil, err
		}
		list = append(list, fieldPicture{r.ID, template.HTML(b.String())})
	}
	return list, nil
}

// Stamp is a small field as the press box sees it, with the open worn mics of a row: filled if they open there, rings
// if they stay open. It helps the eye to find a cue.
func (p *Papers) Stamp(r sheet.RunRow) template.HTML {
	f := p.Show.Drill.Field
	const height = 40.0
	scale := height / f.WidthM
	width := 0.0
	for i := range p.Show.Drill.Players { // as wide as the drill
		for _, d := range p.Show.Drill.Players[i].Dots {
			if d.Known {
				width = max(width, 2*abs(d.At.X)+4)
			}
		}
	}
	width = min(max(width, 50), f.LengthM+2*f.EndZoneM)
	var b bytes.Buffer
	fmt.Fprintf(&b, `<svg class="stamp" viewBox="0 0 %.1f %.1f" role="img"><title>open at cue %s</title>`,
		width*scale, height, template.HTMLEscapeString(r.ID))
	fmt.Fprintf(&b, `<rect x="0.4" y="0.4" width="%.1f" height="%.1f" class="turf"/>`, width*scale-0.8, height-0.8)
	for _, y := range []float64{f.FrontHashM(), f.BackHashM()} {
		fmt.Fprintf(&b, `<path d="M0 %.1fH%.1f" class="hash"/>`, height-y*scale, width*scale)
	}
	fmt.Fprintf(&b, `<path d="M%.1f 0V%.1f" class="fifty"/>`, width*scale/2, height)
	for _, c := range r.Step.Open() {
		if c.Is.Kind != cue.Worn {
			continue
		}
		class := "stays"
		if c.Starts() {
			class = "opens"
		}
		x, y := (c.Is.X+width/2)*scale, height-c.Is.Y*scale
		fmt.Fprintf(&b, `<circle cx="%.1f" cy="%.1f" r="1.7" class="%s"/>`, x, y, class)
	}
	b.WriteString(`</svg>`)
	return template.HTML(b.String())
}

func abs(v float64) float64 { return max(v, -v) }
