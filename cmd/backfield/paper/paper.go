// Package paper makes what is handed out and taped up: the run sheet, the pack sheet, a handout for each section, the
// mic chart and the pictures, each a page of HTML that needs no other file, and as PDF through an installed Chromium.
// What stands on them comes from cue/sheet; nothing is computed here but where it goes on the page.
package paper

import (
	"bytes"
	"crypto/sha256"
	"embed"
	"fmt"
	"html/template"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/sheet"
	"backfield/layout/source"
)

//go:embed pages/*.html pages/*.css
var pages embed.FS

// Papers is all that stands on the papers of one compiled show.
type Papers struct {
	Show      *show.Show
	Rows      []sheet.Row
	Bars      []sheet.Bar
	Steps     []sheet.Step
	Wears     []sheet.Wear
	Handovers []sheet.Handover
	Sharing   sheet.Sharing
	Batteries *sheet.Batteries // nil without a day
	Mark      string           // of the compile: two papers with the same mark say the same

	sections map[string]string // of a wearer
}

// Gather works out the papers of a compiled show. batteries may be nil.
func Gather(s *show.Show, batteries *sheet.Batteries) (*Papers, error) {
	p := &Papers{Show: s, Batteries: batteries, Bars: sheet.Bars(s.Show), Steps: sheet.OpenCount(s.Show), sections: map[string]string{}}
	for _, w := range s.Wears() {
		p.Wears = append(p.Wears, sheet.Wear{Player: w.Player, Section: w.Section, Pack: w.Pack, Channel: w.Channel, FromS: s.Clock.Seconds(w.From), UntilS: s.Clock.Seconds(w.Until)})
		p.sections[w.Player] = w.Section
	}
	p.Handovers = sheet.Handovers(s.Show, p.Wears, &ground{s: s})
	p.Sharing = sheet.Share(sheet.Needs(p.Bars), s.Score.Rules.HandoverS, &ground{s: s})
	p.Rows = sheet.Rows(s.Show, p.notes())
	data, err := s.Show.Encode()
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(fmt.Append(data, p.Wears))
	p.Mark = fmt.Sprintf("%x-%x", sum[:2], sum[2:4])
	return p, nil
}

// ground is what cue/sheet asks of the drill and the clock.
type ground struct {
	s *show.Show

	lastS float64 // the time that was asked for last, for it is asked of player after player
	last  clock.Moment
}

// at is the moment of a time, without the dust that going to seconds and back leaves on a count.
func (g *ground) at(atS float64) clock.Moment {
	if g.last.Movement == 0 || atS != g.lastS {
		m := g.s.Clock.At(atS)
		m.Elapsed = math.Round(m.Elapsed*1e4) / 1e4
		g.lastS, g.last = atS, m
	}
	return g.last
}

func (g *ground) Moment(atS float64) sheet.Moment {
	m := g.at(atS)
	return sheet.Moment{Movement: m.Movement, Count: m.Count(), Set: g.s.Clock.Set(m)}
}

func (g *ground) Place(player string, atS float64) (sheet.Place, bool) {
	d, ok := g.s.Drill.Player(player)
	if !ok {
		return sheet.Place{}, false
	}
	m := g.at(atS)
	if m.Movement > 1 && g.s.Clock.Seconds(m) > atS+1e-3 { // in the wait before a downbeat they walk to it as they like
		return sheet.Place{}, false
	}
	at, ok := d.At(g.s.Drill, m.Movement, m.Elapsed)
	return sheet.Place{Words: g.s.Drill.Field.Dot(at), XM: at.X, YM: at.Y}, ok
}

// ofDesigner are the codes of what is the designer's to mend and nothing that an operator could watch.
var ofDesigner = []string{"changes-nothing", "close-nothing", "keep-nothing", "nudge-closed", "level-range", "cues-close"}

// notes are what to watch in each cue: handovers, what the rules found, accepted or not, and what the compiler noted of
// a player where no rule speaks of the same cue.
func (p *Papers) notes() []sheet.Note {
	var list []sheet.Note
	for _, h := range p.Handovers {
		if h.OpensIn != "" {
			list = append(list, sheet.Note{Cue: h.OpensIn, Text: fmt.Sprintf("%s now wears pack %s (channel %d) of %s", h.Taker, h.Pack, h.Channel, h.Giver)})
		}
	}
	told := map[string]bool{}
	for _, c := range p.Show.Cautions() {
		told[c.Cue] = true
		if slices.Contains(ofDesigner, c.Code) {
			continue
		}
		text := strings.TrimPrefix(c.Text, fmt.Sprintf("cue %q", c.Cue))
		list = append(list, sheet.Note{Cue: c.Cue, Text: strings.TrimLeft(text, ",: ")})
	}
	of := owners(p.Show.Show)
	for _, a := range p.Show.Attention() {
		if !told[a.Cue] && !told[of[a.Cue]] {
			list = append(list, sheet.Note{Cue: a.Cue, Text: a.Player + ": " + a.Text})
		}
	}
	return list
}

// owners are the cues that snapshots belong to: each to itself, a follow-on to the cue before it. No id tells it, for a
// cue may be called 4.1 as well.
func owners(s *cue.Show) map[string]string {
	of, last := map[string]string{}, ""
	for _, c := range s.Cues {
		if !c.FollowOn {
			last = c.ID
		}
		of[c.ID] = last
	}
	return of
}

// Page is one paper: the name of its file without an ending, its title, what it is for, and its HTML.
type Page struct {
	Name, Title, For string
	Landscape        bool
	HTML             []byte
}

// File is the page's file name.
func (p Page) File() string { return p.Name + ".html" }

// PDF is the file name of the page as PDF.
func (p Page) PDF() string { return p.Name + ".pdf" }

// frame is what every template gets.
type frame struct {
	*Papers
	Title     string
	Landscape bool
	Style     template.CSS
	Body      any
}

// Pages makes all papers, the index last: it links the others, and their PDFs if withPDF.
func (p *Papers) Pages(withPDF bool) ([]Page, error) {
	pictures, err := p.pictures()
	if err != nil {
		return nil, err
	}
	list := []struct {
		Page
		body any
	}{
		{Page{Name: "run", Title: "Run sheet", For: "who presses go"}, nil},
		{Page{Name: "packs", Title: "Pack sheet", For: "who hands out packs and batteries"}, nil},
		{Page{Name: "sections", Title: "Section handouts", For: "the players, a sheet for each section"}, p.handouts()},
		{Page{Name: "chart", Title: "Mic chart", For: "who mixes, and who writes the score", Landscape: true}, p.charts()},
		{Page{Name: "pictures", Title: "Field pictures", For: "who wants to see it, one for each cue", Landscape: true}, pictures},
	}
	var done []Page
	for _, x := range list {
		if x.HTML, err = p.page(x.Name, frame{Papers: p, Title: x.Title, Landscape: x.Landscape, Body: x.body}); err != nil {
			return nil, err
		}
		done = append(done, x.Page)
	}
	index := Page{Name: "index", Title: "Papers"}
	index.HTML, err = p.page("index", frame{Papers: p, Title: index.Title, Body: struct {
		Pages []Page
		PDF   bool
	}{done, withPDF}})
	return append(done, index), err
}

func (p *Papers) page(name string, f frame) ([]byte, error) {
	t, err := template.New("").Funcs(template.FuncMap{
		"clock": cue.ClockTime, "ms": minutesText, "mics": p.mics, "closing": p.closing, "name": unbroken, "changes": p.changes, "spot": p.spot, "count": source.Count, "number": number, "metres": metres,
		"float": func(n int) float64 { return float64(n) }, "time": sheet.ClockText, "hours": sheet.Hours, "join": strings.Join, "list": listed, "blank": func(n int) []struct{} { return make([]struct{}, n) },
	}).ParseFS(pages, "pages/frame.html", "pages/"+name+".html")
	if err != nil {
		return nil, err
	}
	style, err := pages.ReadFile("pages/paper.css")
	if err != nil {
		return nil, err
	}
	f.Style = template.CSS(string(style) + p.footer(f.Title, f.Landscape))
	var b bytes.Buffer
	if err := t.ExecuteTemplate(&b, "frame.html", f); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// footer is the page's foot and way up: what lets a loose sheet be told from last week's. It is CSS, for only the
// browser that prints knows the number of a page.
func (p *Papers) footer(title string, landscape bool) string {
	way := "portrait"
	if landscape {
		way = "landscape"
	}
	return fmt.Sprintf("@page { size: %s; @bottom-left { content: %s } }\n", way,
		cssText(p.Name()+" · "+title+" · "+p.Night()+" · compile "+p.Mark))
}

// cssText quotes a text for CSS: whatever is no plain letter becomes an escape, so that it cannot end the string or
// the style.
func cssText(s string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, r := range s {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == ' ' {
			b.WriteRune(r)
		} else {
			fmt.Fprintf(&b, "\\%x ", r)
		}
	}
	b.WriteByte('"')
	return b.String()
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

// minutesText words seconds to the second: 2:07.
func minutesText(s float64) string {
	seconds := int(s + 0.5)
	return fmt.Sprintf("%d:%02d", seconds/60, seconds%60)
}

// number words a number with at most two decimals and a true minus sign.
func number(v float64) string {
	v = math.Round(v*100) / 100
	return strings.Replace(strconv.FormatFloat(v+0, 'f', -1, 64), "-", "−", 1)
}

// metres words a distance, which may not be known.
func metres(m float64) string {
	if math.IsNaN(m) {
		return "?"
	}
	return fmt.Sprintf("%.0f m", m)
}

// spot words a moment for people on the field: "Fog, count 33, set 7".
func (p *Papers) spot(m sheet.Moment) string {
	text := fmt.Sprintf("%s, count %s", p.Movement(m.Movement), number(m.Count))
	if m.Set != "" {
		text += ", set " + m.Set
	}
	return text
}

// unbroken keeps a short name on one line.
func unbroken(name string) string {
	if len([]rune(name)) > 14 {
		return name
	}
	return strings.ReplaceAll(name, " ", "\u00a0")
}

// listed joins names as people do.
func listed(names []string) string {
	switch n := len(names); {
	case n == 0:
		return ""
	case n == 1:
		return names[0]
	default:
		return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
	}
}

// roleMics are mics that share a role.
type roleMics struct{ Role, Who string }

// mics words who is in a list, by role in the order of the list; three or more of a section that has no other mic, or
// all fixed mics of a kind, are told together. atS is when, for packs change hands.
func (p *Papers) mics(list []sheet.Mic, atS float64) []roleMics {
	var groups []roleMics
	for i, m := range list {
		if slices.ContainsFunc(list[:i], func(x sheet.Mic) bool { return x.Role == m.Role }) {
			continue
		}
		var channels []int
		for _, x := range list {
			if x.Role == m.Role {
				channels = append(channels, x.Channel)
			}
		}
		groups = append(groups, roleMics{m.Role, p.who(channels, list, atS)})
	}
	return groups
}

// closing words who closes, whatever the role was.
func (p *Papers) closing(list []sheet.Mic, atS float64) string {
	var channels []int
	for _, m := range list {
		channels = append(channels, m.Channel)
	}
	return p.who(channels, list, atS)
}

// who words the mics of a list that are on one of the channels.
func (p *Papers) who(channels []int, list []sheet.Mic, atS float64) string {
	var words []string
	left := slices.Clone(channels)
	for _, g := range p.groups(atS) {
		if len(g.channels) < 3 || slices.ContainsFunc(g.channels, func(c int) bool { return !slices.Contains(left, c) }) {
			continue
		}
		words = append(words, fmt.Sprintf("all %d %s", len(g.channels), g.name))
		left = slices.DeleteFunc(left, func(c int) bool { return slices.Contains(g.channels, c) })
	}
	for _, m := range list {
		if slices.Contains(left, m.Channel) {
			words = append(words, m.Player)
		}
	}
	return strings.Join(words, ", ")
}

// group is the channels that a section, or a kind of fixed mic, has at a time.
type group struct {
	name     string
	channels []int
}

func (p *Papers) groups(atS float64) []group {
	var list []group
	add := func(name string, channel int) {
		for i := range list {
			if list[i].name == name {
				list[i].channels = append(list[i].channels, channel)
				return
			}
		}
		list = append(list, group{name, []int{channel}})
	}
	for _, w := range p.Wears {
		if w.Section != "" && w.FromS <= atS+1e-6 && atS+1e-6 < w.UntilS {
			add(w.Section, w.Channel)
		}
	}
	for _, m := range p.Show.Rig.Mics {
		add(m.Kind+" mics", m.Channel)
	}
	return list
}

// changes words changes of level, those alike together: "Tpt 3 0 to −9 (support)".
func (p *Papers) changes(list []sheet.Change, atS float64) []string {
	alike := func(a, b sheet.Change) bool {
		return a.Role == b.Role && a.WasRole == b.WasRole && a.LevelDB-a.WasDB == b.LevelDB-b.WasDB
	}
	var words []string
	for i, c := range list {
		if slices.ContainsFunc(list[:i], func(x sheet.Change) bool { return alike(x, c) }) {
			continue
		}
		var channels []int
		var mics []sheet.Mic
		for _, x := range list {
			mics = append(mics, x.Mic)
			if alike(x, c) {
				channels = append(channels, x.Channel)
			}
		}
		role := ""
		if c.Role != c.WasRole {
			role = ", now " + c.Role
		}
		way := "up"
		if c.LevelDB < c.WasDB {
			way = "down"
		}
		step := fmt.Sprintf("%s %s dB", way, number(math.Abs(c.LevelDB-c.WasDB)))
		if c.LevelDB == c.WasDB {
			step = "level as it was"
		}
		words = append(words, fmt.Sprintf("%s %s%s", p.who(channels, mics, atS), step, role))
	}
	return words
}

// packLine is a line of the pack sheet: a pack, and who has it in turn.
type packLine struct {
	Pack    string
	Channel int
	Who     []sheet.Wear
}

// Packs are the worn channels, each with its wearers in turn.
func (p *Papers) Packs() []packLine {
	var list []packLine
	for _, w := range p.Wears {
		if n := len(list); n > 0 && list[n-1].Channel == w.Channel {
			list[n-1].Who = append(list[n-1].Who, w)
			if list[n-1].Pack == "" {
				list[n-1].Pack = w.Pack
			}
			continue
		}
		list = append(list, packLine{w.Pack, w.Channel, []sheet.Wear{w}})
	}
	return list
}

// Moment is where in the show a time is.
func (p *Papers) Moment(atS float64) sheet.Moment { return (&ground{s: p.Show}).Moment(atS) }

// FreeChannels words the desk's channels that the show does not use: "21–40, 50".
func (p *Papers) FreeChannels() string {
	used := map[int]bool{}
	if len(p.Show.Show.Cues) > 0 {
		for _, c := range p.Show.Show.Cues[0].Channels {
			used[c.Channel] = true
		}
	}
	var parts []string
	for c := 1; c <= p.Show.Desk.Channels; c++ {
		if used[c] {
			continue
		}
		from := c
		for c+1 <= p.Show.Desk.Channels && !used[c+1] {
			c++
		}
		if from == c {
			parts = append(parts, strconv.Itoa(c))
		} else {
			parts = append(parts, fmt.Sprintf("%d–%d", from, c))
		}
	}
	return strings.Join(parts, ", ")
}

// Position words where a snapshot is for the operator: as written, and as a count where that is another.
func (p *Papers) Position(r sheet.Row) (words []string) {
	count := clock.Position{Movement: r.Movement, Count: math.Round(r.Count*100) / 100}.String()
	if r.At != count {
		words = append(words, r.At)
	}
	words = append(words, count)
	if r.Set != "" && r.At != "set "+r.Set {
		words = append(words, "in set "+r.Set)
	}
	return words
}

// Wearers is how many players some cue opens.
func (p *Papers) Wearers() int {
	n := 0
	for _, chain := range p.Sharing.Packs {
		n += len(chain)
	}
	return n
}

// WornChannels is how many worn channels some cue opens.
func (p *Papers) WornChannels() int {
	used := map[int]bool{}
	for _, b := range p.Bars {
		if b.Kind == cue.Worn {
			used[b.Channel] = true
		}
	}
	return len(used)
}

// Sets is how many sets of batteries the day takes.
func (p *Papers) Sets() int { return len(p.Batteries.Fittings) * len(p.Packs()) }

// Far tells that a handover is one over a long way; Fast that it has too little time.
func (p *Papers) Far(apartM float64) bool { return !(apartM <= sheet.FarM) }

// Fast tells that a handover has less time than the score wants for one.
func (p *Papers) Fast(freeS float64) bool { return freeS < p.Show.Score.Rules.HandoverS }
