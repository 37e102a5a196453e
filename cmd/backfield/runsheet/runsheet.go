// Package runsheet lays out the run sheet: what to do if it howls, then the cues of each movement, on pages that fit letter
// and A4. It decides itself where a page ends, so that no browser splits a cue, and every page says what is on it.
package runsheet

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	"backfield/cmd/backfield/letters"
	"backfield/cmd/backfield/picture"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/balance"
	"backfield/cue/clock"
	"backfield/cue/sheet"
	"backfield/layout/source"
)

// Source is what the run sheet is made of.
type Source struct {
	Show     *show.Loaded
	Rows     []sheet.RunRow
	Wears    []sheet.PackUse
	Sound    *balance.Loudness         // nil where levels could not be computed
	Leads    map[string]string         // by cue, in words
	Movement func(movement int) string // its name
}

// CuePage is one page of the run sheet.
type CuePage struct {
	N, Of int
	Howl  *Howl // on the first page
	Parts []PagePart
	What  string // what is on it: "Fog, cues 1 to 8"
	Last  bool   // it ends with what the words mean
}

// PagePart is a band or a row.
type PagePart struct {
	Band *MovementBand
	Row  *CueRow
}

// MovementBand is the heading of a movement.
type MovementBand struct {
	Number    int
	Name      string
	Facts     string // its counts and tempos
	Right     string // its cues and its time
	Continued bool
}

// CueRow is one cue.
type CueRow struct {
	ID     string
	SizePt float64 // of the id
	Open   int
	Glide  int // how many mics follow a player until the next cue
	Auto   bool
	When   string // as in the score
	Also   []string
	Stamp  template.HTML
	Name   string
	Lines  []RowLine
}

// RowLine is one thing that a cue does. Sign names the drawing before it, Tag is in bold.
type RowLine struct{ Sign, Tag, Text, Kind string }

// Sizes in points. The style sheet has the same: paper.css, the rules of .run.
const (
	pageHigh   = 724 // of letter with its margins, less a little, since another browser may have wider letters
	headHigh   = 50
	footHigh   = 34
	bandHigh   = 27
	whatWide   = 226
	whenWide   = 84
	bodyPt     = 10
	lineHigh   = 12.5
	namePt     = 11
	nameHigh   = 14
	rowPadding = 8
	stampGap   = 4
	endHigh    = 92
)

// wide is how wide a text is on paper. The usual fonts of pages are a little narrower than ours.
func wide(text string, pt float64, bold bool) float64 { return letters.Advance(text, pt, bold) }

// lines is how many lines a text takes.
func lines(text string, pt, width float64, bold bool) int {
	return len(letters.Wrap(text, pt, width*1.1, bold)) // Wrap leaves more room than paper needs
}

// Pages lays the run sheet out.
func (s *Source) Pages() []CuePage {
	howl := s.howl()
	pages := []CuePage{{Howl: howl}}
	left := pageHigh - headHigh - footHigh - howl.high()
	turn := func() {
		pages = append(pages, CuePage{})
		left = pageHigh - footHigh
	}
	put := func(p PagePart, high float64) {
		page := &pages[len(pages)-1]
		page.Parts = append(page.Parts, p)
		left -= high
	}
	movement := 0
	for i := range s.Rows {
		r := s.row(&s.Rows[i])
		high, need := r.high(), r.high()
		if s.Rows[i].Movement != movement {
			need += bandHigh
		}
		if need > left && len(pages[len(pages)-1].Parts) > 0 {
			turn()
			if s.Rows[i].Movement == movement {
				put(PagePart{Band: s.band(movement, true)}, bandHigh)
			}
		}
		if s.Rows[i].Movement != movement {
			movement = s.Rows[i].Movement
			put(PagePart{Band: s.band(movement, false)}, bandHigh)
		}
		put(PagePart{Row: r}, high)
	}
	if left < endHigh {
		turn()
	}
	pages[len(pages)-1].Last = true
	for i := range pages {
		pages[i].N, pages[i].Of, pages[i].What = i+1, len(pages), s.what(&pages[i])
	}
	return pages
}

// what says which cues of which movements are on a page.
func (s *Source) what(p *CuePage) string {
	var parts []string
	name, first, last := "", "", ""
	flush := func() {
		switch {
		case first == "":
		case first == last:
			parts = append(parts, fmt.Sprintf("%s, cue %s", name, first))
		default:
			parts = append(parts, fmt.Sprintf("%s, cues %s to %s", name, first, last))
		}
		first = ""
	}
	for _, x := range p.Parts {
		if x.Band != nil {
			flush()
			name = x.Band.Name
			continue
		}
		if first == "" {
			first = x.Row.ID
		}
		last = x.Row.ID
	}
	flush()
	return strings.Join(parts, "; ")
}

// band is the heading of a movement.
func (s *Source) band(movement int, continued bool) *MovementBand {
	m := s.Show.Clock.Movements[movement-1]
	first, last := "", ""
	for _, r := range s.Rows {
		if r.Movement == movement {
			if first == "" {
				first = r.ID
			}
			last = r.ID
		}
	}
	b := &MovementBand{Number: movement, Name: s.Movement(movement), Continued: continued}
	b.Facts = fmt.Sprintf("%s · %s bpm", source.Count(m.Counts, "count"), tempos(m.Tempo.Steady()))
	b.Right = fmt.Sprintf("cues %s to %s · %s to %s", first, last, minutes(m.StartS),
		minutes(m.StartS+m.Tempo.Seconds(m.Counts)))
	b.Name = letters.ShortenEnd(b.Name, 14, 420-letters.Wide(b.Right, bodyPt, true), true)
	if letters.Wide(b.Name, 14, true)+letters.Wide(b.Facts, bodyPt, false)+letters.Wide(b.Right, bodyPt, true) > 430 {
		b.Facts = "" // there is no room for it
	}
	return b
}

// tempos writes the tempos of a movement in order, or from the slowest to the fastest if they are many.
func tempos(bpm []float64) string {
	if len(bpm) > 5 {
		low, high := bpm[0], bpm[0]
		for _, v := range bpm {
			low, high = min(low, v), max(high, v)
		}
		return dB(math.Round(low)) + " to " + dB(math.Round(high))
	}
	var words []string
	for _, v := range bpm {
		words = append(words, dB(v))
	}
	return strings.Join(words, " → ")
}

// minutes writes a time in minutes and seconds: 2:07.
func minutes(s float64) string { return fmt.Sprintf("%d:%02d", int(s+0.5)/60, int(s+0.5)%60) }

// dB writes a number with at most two decimals and a true minus sign.
func dB(v float64) string {
	v = math.Round(v*100) / 100
	return strings.Replace(strconv.FormatFloat(v+0, 'f', -1, 64), "-", "−", 1)
}

// row is a cue in words.
func (s *Source) row(r *sheet.RunRow) *CueRow {
	x := &CueRow{ID: r.ID, SizePt: 25, Open: r.Open, Glide: len(r.Glides), Auto: r.Auto, Name: r.Name,
		Stamp: s.stamp(r)}
	for x.SizePt > 14 && wide(x.ID, x.SizePt, true) > 56 {
		x.SizePt--
	}
	count := clock.ShowCount{Movement: r.Movement, Count: math.Round(r.Count*100) / 100}.String()
	atS := cue.ClockTime(r.TimeS)
	switch {
	case r.At != count && !r.Auto:
		x.When, x.Also = r.At, []string{count + " · " + atS}
	default:
		x.When, x.Also = count, []string{atS}
	}
	if r.Set != "" && r.At != "set "+r.Set {
		x.Also = append(x.Also, "in set "+r.Set)
	}
	x.Also = append(x.Also, fades(r.Snapshot)...)
	s.does(r, x)
	return x
}

// fades says how long a cue fades, in counts and seconds.
func fades(c *cue.Snapshot) []string {
	in, out := cue.FadeTime{Counts: c.FadeCounts, S: c.FadeS}, c.Closing()
	word := func(name string, f cue.FadeTime) string {
		if f.Counts == 0 {
			return name + " none"
		}
		return fmt.Sprintf("%s %s (%.1f s)", name, dB(f.Counts), f.S)
	}
	switch {
	case in == out && in.Counts == 0:
		return []string{"no fade"}
	case in == out:
		return []string{word("fade", in)}
	}
	return []string{word("fade in", in), word("out", out)}
}

// does fills in what a cue does, and what to watch.
func (s *Source) does(r *sheet.RunRow, x *CueRow) {
	add := func(sign, tag, text string) { x.Lines = append(x.Lines, RowLine{Sign: sign, Tag: tag, Text: text}) }
	for _, text := range s.opening(r.Opens, r.TimeS) {
		add("opens", "opens", text)
	}
	for _, p := range r.Packs {
		add("pack", "pack", p.Text+" ("+p.Role+")")
	}
	for _, text := range s.changes(r.Changes, r.TimeS) {
		add("level", "level", text)
	}
	if text := s.closing(r.Closes, r.TimeS); text != "" {
		add("closes", "closes", text)
	}
	for _, text := range r.Params {
		add("", "sets", text)
	}
	for _, m := range r.Also {
		add("", "sends", m.String()+", once")
	}
	for _, e := range r.Early {
		opens := "open"
		if len(e.Players) == 1 {
			opens = "opens"
		}
		text := fmt.Sprintf("auto at %s: %s %s early for cue %s, nothing to press", e.At, picture.List(e.Players),
			opens, e.For)
		x.Lines = append(x.Lines, RowLine{Text: text, Kind: "auto"})
	}
	if lead := s.Leads[r.ID]; lead != "" {
		add("", "lead", lead)
	}
	for _, text := range r.Watch {
		x.Lines = append(x.Lines, RowLine{Text: text, Kind: "watch"})
	}
}

// high is how much of the page a row needs, in points.
func (x *CueRow) high() float64 {
	what := 0.0
	if x.Name != "" {
		what += nameHigh * float64(lines(x.Name, namePt, whatWide, true))
	}
	for _, l := range x.Lines {
		text, width := l.Text, whatWide-10.0
		if l.Tag != "" {
			text, width = l.Tag+" "+l.Text, whatWide-14
		}
		what += lineHigh * float64(lines(text, bodyPt, width, l.Kind == "auto"))
		if l.Kind != "" {
			what += 4
		}
	}
	when := nameHigh * float64(lines(x.When, namePt, whenWide, true))
	for _, text := range x.Also {
		when += lineHigh * float64(lines(text, bodyPt, whenWide, false))
	}
	number := 27.0 + lineHigh
	if x.Glide > 0 {
		number += lineHigh
	}
	if x.Auto {
		number += 15
	}
	return max(what, when, number, stampHigh+stampGap) + rowPadding
}
