// Package page is the designer's local page: the field as the press box sees it, the whole show as a ribbon of
// counts below it, and what every save has changed. The page computes nothing: all numbers come from the compiled
// show. It listens on loopback, sends nothing to anyone else, and moves nothing on any desk.
package page

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"backfield/cmd/backfield/picture"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/score"
	"backfield/cue/sheet"
	"backfield/layout/source"
)

// View is all that the page draws, of one version of the show. Places are metres in plan (x from the 50 towards side
// 2, y from the front sideline towards the back). A count without a movement is counted through the whole show, 0 at
// its first downbeat.
type View struct {
	Version   int            `json:"version"`
	Title     string         `json:"title"`
	Venue     string         `json:"venue"`
	Air       string         `json:"air"`
	Broken    bool           `json:"broken"` // the last save has errors
	Stale     bool           `json:"stale"`  // and what is drawn is the version before it
	Counts    float64        `json:"counts"` // of the whole show
	Ground    Ground         `json:"ground"`
	Movements []Movement     `json:"movements"`
	Sets      []Set          `json:"sets"`
	Sections  []string       `json:"sections"` // in the order of the roster; the place in it is the mark's number
	Marks     [][][2]float64 `json:"marks"`    // of the sections: outlines in a box from -1 to 1, y down
	Keys      []float64      `json:"keys"`     // the counts between which everybody walks straight and evenly
	Players   []Player       `json:"players"`
	Channels  []Channel      `json:"channels"`
	OpenCount []Step         `json:"open_count"`
	Cues      []Cue          `json:"cues"`
	Problems  []Trouble      `json:"problems"`
	Against   string         `json:"against"` // what the changes are told against: "the save before", "HEAD~1"
	Changes   string         `json:"changes"` // in one line, "" for none
	WindowMS  float64        `json:"window_ms"`
}

// Ground is what stands still.
type Ground struct {
	LengthM   float64     `json:"length"` // goal line to goal line
	EndZoneM  float64     `json:"end_zone"`
	WidthM    float64     `json:"width"`
	HashesM   [2]float64  `json:"hashes"`
	Middle    int         `json:"middle"` // the number of the middle yard line
	Stacks    []Stack     `json:"stacks"`
	Mics      []Fixed     `json:"mics"`
	Reference [2]float64  `json:"reference"`
	Seats     [][]float64 `json:"seats"`  // x, y of each seat with a weight
	Blocks    [][]float64 `json:"blocks"` // corners of each block of the stand: x, y, x, y ...
}

// Stack is a loudspeaker position.
type Stack struct {
	Name string     `json:"name"`
	At   [2]float64 `json:"at"`
	Sub  bool       `json:"sub"`
	Zone int        `json:"zone"`
}

// Fixed is a mic on a stand.
type Fixed struct {
	Name    string     `json:"name"`
	Kind    string     `json:"kind"`
	Channel int        `json:"channel"`
	At      [2]float64 `json:"at"`
}

// Movement is one movement's time.
type Movement struct {
	Name   string    `json:"name"`
	From   float64   `json:"from"`
	Counts float64   `json:"counts"`
	TimesS []float64 `json:"times"` // of every quarter count from its downbeat to its end, since the show's
	BPM    []float64 `json:"bpm"`   // at every count
}

// quarter is the step of the times in a Movement, in counts.
const quarter = 0.25

// Set is the instant that a form is reached.
type Set struct {
	Label string  `json:"label"`
	At    float64 `json:"at"`
}

// Player is where one performer is at each of the Keys; an empty list is one whose dots are not known.
type Player struct {
	Name    string       `json:"name"`
	Section int          `json:"section"` // -1: he is not in the roster
	Wears   string       `json:"wears"`   // pack and channel, from when; "" for none
	Way     [][2]float64 `json:"way"`
	Was     [][2]float64 `json:"was,omitempty"` // before the change, where it differs and has the same keys
}

// Channel is one mixer input and when it is open.
type Channel struct {
	Number int    `json:"number"`
	Name   string `json:"name"` // who wears it, in order of time
	Kind   string `json:"kind"`
	Bars   []Bar  `json:"bars"`
}

// Bar is a stretch of counts in which a channel is open for one player in one role.
type Bar struct {
	From   float64 `json:"from"`
	To     float64 `json:"to"`
	Player string  `json:"player"`
	Role   string  `json:"role"`
	Rank   int     `json:"rank"`  // of the role, 0 the loudest
	Level  string  `json:"level"` // in words
}

// Step is how many mics are open from a count on, and what that costs in gain before feedback.
type Step struct {
	At   float64 `json:"at"`
	Open int     `json:"open"`
	DB   float64 `json:"db"`
}

// Cue is one snapshot.
type Cue struct {
	ID       string   `json:"id"`
	Position string   `json:"position"`
	Where    string   `json:"where"` // movement and count, set, time, in words
	Name     string   `json:"name"`
	At       float64  `json:"at"`
	FollowOn bool     `json:"follow_on"`
	Auto     bool     `json:"auto"`
	Place    string   `json:"place"` // file and line
	Says     []string `json:"says"`  // what changes, a line each
	Open     []Mic    `json:"open"`
	Mark     string   `json:"mark"` // changed, added; "" for neither
	Diff     []string `json:"diff"`
}

// Mic is one open channel in a cue.
type Mic struct {
	Channel int        `json:"channel"`
	Player  string     `json:"player"`
	Role    string     `json:"role"`
	Rank    int        `json:"rank"` // of the role, 0 the loudest
	Level   string     `json:"level"`
	Pan     string     `json:"pan"`
	Delay   string     `json:"delay"`
	Fit     string     `json:"fit"`
	Own     []string   `json:"own"`   // the desk's own parameters, in words
	At      [2]float64 `json:"at"`    // when the cue begins
	End     [2]float64 `json:"end"`   // when the next begins
	Image   [2]float64 `json:"image"` // where its sound seems to come from, on the line of the stacks
}

// Trouble is one thing that check tells, and where on the page it belongs.
type Trouble struct {
	Severity string  `json:"severity"`
	Code     string  `json:"code"`
	Place    string  `json:"place"` // file, line and column
	Text     string  `json:"text"`
	Line     string  `json:"line"` // of the file
	At       float64 `json:"at"`   // the count on the ribbon; below 0 for none
	Cue      string  `json:"cue"`
	Player   string  `json:"player"`
}

// viewer gathers a View.
type viewer struct {
	s     *show.Show
	v     *View
	start []float64 // the count of each movement's downbeat
}

// look makes the view of a show as far as it could be compiled. was is the version before, or nil.
func look(s *show.Show, problems []source.Problem) *View {
	v := &View{Title: s.Score.Title, WindowMS: s.Score.WindowMS, Movements: []Movement{}, Sets: []Set{}, Sections: []string{}, Keys: []float64{}, Players: []Player{}, Channels: []Channel{}, OpenCount: []Step{}, Cues: []Cue{}, Problems: []Trouble{}}
	l := viewer{s: s, v: v}
	l.ground()
	l.time()
	l.players()
	if s.Show != nil {
		l.cues()
		l.bars()
	}
	v.Problems = l.problems(problems)
	return v
}

func mm(v float64) float64 {
	if v = math.Round(v*1000) / 1000; v == 0 {
		return 0 // no -0
	}
	return v
}

func plan(x, y float64) [2]float64 { return [2]float64{mm(x), mm(y)} }

func (l *viewer) ground() {
	r, v := l.s.Rig, l.v
	f := r.Field
	v.Venue, v.Air = r.Name, fmt.Sprintf("%.4g °C, %.4g °F", r.AirC, r.AirC*9/5+32)
	g := Ground{LengthM: mm(f.LengthM), EndZoneM: mm(f.EndZoneM), WidthM: mm(f.WidthM), HashesM: [2]float64{mm(f.FrontHashM()), mm(f.BackHashM())}, Middle: f.MiddleYard,
		Stacks: []Stack{}, Mics: []Fixed{}, Seats: [][]float64{}, Blocks: [][]float64{}, Reference: plan(r.Reference.X, r.Reference.Y)}
	for _, k := range r.Stacks {
		g.Stacks = append(g.Stacks, Stack{k.Name, plan(k.At.X, k.At.Y), k.Sub, k.Zone})
	}
	for _, m := range r.Mics {
		g.Mics = append(g.Mics, Fixed{m.Name, m.Kind, m.Channel, plan(m.At.X, m.At.Y)})
	}
	for _, s := range r.Seats() {
		g.Seats = append(g.Seats, []float64{mm(s.At.X), mm(s.At.Y)})
	}
	for _, b := range r.Blocks {
		g.Blocks = append(g.Blocks, []float64{
			mm(b.Front.X - b.Front.WidthM/2), mm(b.Front.Y), mm(b.Front.X + b.Front.WidthM/2), mm(b.Front.Y),
			mm(b.Back.X + b.Back.WidthM/2), mm(b.Back.Y), mm(b.Back.X - b.Back.WidthM/2), mm(b.Back.Y),
		})
	}
	v.Ground = g
}

func (l *viewer) time() {
	c := l.s.Clock
	if c == nil {
		return
	}
	for i, m := range c.Movements {
		l.start = append(l.start, l.v.Counts)
		out := Movement{Name: m.Name, From: l.v.Counts, Counts: m.Counts}
		for n := 0; float64(n)*quarter <= m.Counts+1e-9; n++ {
			out.TimesS = append(out.TimesS, mm(c.Seconds(clock.Moment{Movement: i + 1, Elapsed: float64(n) * quarter})))
		}
		for n := 0; float64(n) <= m.Counts; n++ {
			out.BPM = append(out.BPM, math.Round(m.Tempo.BPM(float64(n))*10)/10)
		}
		l.v.Movements = append(l.v.Movements, out)
		l.v.Counts += m.Counts
	}
	for _, s := range c.Sets {
		l.v.Sets = append(l.v.Sets, Set{s.Label, l.count(s.At)})
	}
}

// count is a moment as a count through the whole show.
func (l *viewer) count(m clock.Moment) float64 {
	if m.Movement < 1 || m.Movement > len(l.start) {
		return 0
	}
	return l.start[m.Movement-1] + m.Elapsed
}

func (l *viewer) players() {
	d := l.s.Drill
	type key struct {
		movement int
		elapsed  float64
	}
	var keys []key
	for _, s := range d.Sets {
		if s.Movement > len(l.start) {
			continue
		}
		for _, e := range []int{s.Begin, s.Arrive, s.End} {
			k := key{s.Movement, float64(e)}
			if len(keys) == 0 || keys[len(keys)-1] != k {
				keys = append(keys, k)
				l.v.Keys = append(l.v.Keys, l.start[s.Movement-1]+k.elapsed)
			}
		}
	}
	section := map[string]int{}
	l.v.Sections = picture.Sections(l.s)
	for i, name := range l.v.Sections {
		section[name] = i
	}
	for i := range picture.Marks {
		outline := [][2]float64{}
		for _, p := range picture.Mark(i) {
			outline = append(outline, plan(p.X, p.Y))
		}
		l.v.Marks = append(l.v.Marks, outline)
	}
	for i := range d.Players {
		p := &d.Players[i]
		out := Player{Name: p.Name, Section: -1, Way: [][2]float64{}}
		if known, ok := l.s.Roster.Player(p.Name); ok {
			out.Section = section[known.Section]
		}
		for _, w := range l.s.Roster.Wears {
			if w.Player == p.Name {
				from := ""
				if w.From.Text != "" {
					from = " from " + w.From.Text
				}
				if out.Wears != "" {
					out.Wears += "; "
				}
				out.Wears += fmt.Sprintf("pack %s, channel %d%s", w.Pack, w.Channel, from)
			}
		}
		for _, k := range keys {
			at, ok := p.At(d, k.movement, k.elapsed)
			if !ok {
				out.Way = [][2]float64{}
				break
			}
			out.Way = append(out.Way, plan(at.X, at.Y))
		}
		l.v.Players = append(l.v.Players, out)
	}
}

// ranks are the roles' places from the loudest.
func (l *viewer) ranks() map[string]int {
	roles := slices.Clone(l.s.Score.Roles)
	slices.SortStableFunc(roles, func(a, b score.Role) int { return cmp.Compare(b.LevelDB, a.LevelDB) })
	rank := map[string]int{}
	for i, r := range roles {
		rank[r.Name] = i
	}
	return rank
}

func (l *viewer) cues() {
	rank := l.ranks()
	var before *cue.Snapshot
	place := "" // of the cue that the follow-ons after it belong to
	for i := range l.s.Show.Cues {
		c := &l.s.Show.Cues[i]
		out := Cue{ID: c.ID, Position: c.At, Name: c.Name, FollowOn: c.FollowOn, Auto: c.Auto, At: l.count(clock.Moment{Movement: c.Movement, Elapsed: c.Count - 1}), Says: says(l.s.Show.Params, before, c), Open: []Mic{}, Diff: []string{}}
		out.Where = fmt.Sprintf("movement %d, count %.4g · %s", c.Movement, c.Count, cue.ClockTime(c.TimeS))
		if c.Set != "" {
			out.Where += " · set " + c.Set
		}
		if m := l.moment(c); m != nil {
			place = m.Cue.Span.Where()
		}
		out.Place = place
		for _, ch := range c.Channels {
			if ch.Open {
				out.Open = append(out.Open, l.mic(ch, rank))
			}
		}
		slices.SortStableFunc(out.Open, func(a, b Mic) int { return a.Rank - b.Rank })
		l.v.Cues = append(l.v.Cues, out)
		before = c
	}
}

// moment is the cue of the score that a snapshot belongs to.
func (l *viewer) moment(c *cue.Snapshot) *compile.Moment {
	for i := range l.s.Cues {
		if m := &l.s.Cues[i]; m.Cue.ID.V == c.ID {
			return m
		}
	}
	return nil
}

func (l *viewer) mic(ch cue.Channel, rank map[string]int) Mic {
	m := Mic{Channel: ch.Channel, Player: ch.Player, Role: ch.Role, Own: []string{}, Rank: rank[ch.Role], Level: fmt.Sprintf("%.4g dB", float64(ch.LevelDB)), Delay: fmt.Sprintf("%.4g ms", ch.DelayMS), At: plan(ch.X, ch.Y), End: plan(ch.End.X, ch.End.Y)}
	switch {
	case len(ch.Sends) > 0:
		for _, s := range ch.Sends {
			if s.LevelDB != cue.Silent {
				if m.Pan != "" {
					m.Pan += ", "
				}
				m.Pan += fmt.Sprintf("zone %d %.3g dB", s.Zone, float64(s.LevelDB))
			}
		}
	case math.Abs(ch.Pan) < 0.005:
		m.Pan = "pan middle"
	case ch.Pan < 0:
		m.Pan = fmt.Sprintf("pan %.4g left", -ch.Pan)
	default:
		m.Pan = fmt.Sprintf("pan %.4g right", ch.Pan)
	}
	for i, p := range ch.Params {
		m.Own = append(m.Own, p.Name+" "+l.s.Show.Params[i].Words(p.Value))
	}
	if ch.Fit != nil {
		m.Fit = fmt.Sprintf("%.0f %% of seats", 100*ch.Fit.Inside)
	}
	m.Image = m.At
	if image, ok := picture.Image(l.s, ch); ok {
		m.Image = plan(image.X, image.Y)
	}
	return m
}

// says tells what a cue changes against the one before it, who does the same in one line.
func says(own []cue.Own, before, c *cue.Snapshot) []string {
	type line struct{ before, after string }
	var lines []line
	who := map[line][]string{}
	say := func(before, name, after string) {
		l := line{before, after}
		if _, said := who[l]; !said {
			lines = append(lines, l)
		}
		who[l] = append(who[l], name)
	}
	moved := 0
	for i, ch := range c.Channels {
		var was cue.Channel
		if before != nil && i < len(before.Channels) && before.Channels[i].Channel == ch.Channel {
			was = before.Channels[i]
		}
		switch {
		case ch.Open && !was.Open:
			say("opens ", ch.Player, fmt.Sprintf(": %s, %.4g dB", ch.Role, float64(ch.LevelDB)))
		case !ch.Open && was.Open:
			say("closes ", was.Player, "")
		case ch.Open && ch.Player != was.Player:
			say(fmt.Sprintf("hands channel %d over: ", ch.Channel), was.Player+" to "+ch.Player, "")
		case ch.Open && ch.LevelDB != was.LevelDB:
			say("", ch.Player, fmt.Sprintf(": %.4g to %.4g dB, %s", float64(was.LevelDB), float64(ch.LevelDB), ch.Role))
		case ch.Open && ch.Role != was.Role:
			say("", ch.Player, ": now "+ch.Role)
		}
		if ch.Open && was.Open && (ch.Pan != was.Pan || ch.DelayMS != was.DelayMS || !slices.Equal(ch.Sends, was.Sends)) {
			moved++
		}
	}
	out := []string{}
	for _, l := range lines {
		out = append(out, l.before+strings.Join(who[l], ", ")+l.after)
	}
	out = append(out, sheet.ParamChanges(own, before, c)...)
	for _, r := range c.Also {
		out = append(out, "sends "+r.String()+", once")
	}
	if moved > 0 {
		out = append(out, fmt.Sprintf("moves pan or delay of %d open", moved))
	}
	return out
}

func (l *viewer) problems(list []source.Problem) []Trouble {
	out := []Trouble{}
	for _, p := range list {
		text := p.What
		if p.Do != "" {
			text += "; " + p.Do
		}
		o := Trouble{Severity: p.Severity.String(), Code: p.Code, Place: p.Span.Where(), Line: p.Span.Line(), Text: text, At: -1}
		l.place(p.Span, &o)
		out = append(out, o)
	}
	return out
}

// place finds where on ribbon and field a problem of the files belongs: the cue that it stands in, the set or the
// player of its row.
func (l *viewer) place(at source.Span, o *Trouble) {
	if at.File == nil {
		return
	}
	if at.File == l.s.Score.File {
		var in *score.Cue // also one that has no moment: its problems are not those of the cue before
		for i := range l.s.Score.Cues {
			if c := &l.s.Score.Cues[i]; c.Span.File == at.File && c.Span.Start <= at.Start {
				in = c
			}
		}
		for _, m := range l.s.Cues {
			if in != nil && m.Cue.Span == in.Span {
				o.Cue, o.At = in.ID.V, l.count(m.At)
			}
		}
		name := strings.Trim(at.File.Text[at.Start:min(at.End, len(at.File.Text))], `"'`)
		if _, ok := l.s.Drill.Player(name); ok {
			o.Player = name
		}
		return
	}
	line, _ := at.Position()
	same := func(s source.Span) bool {
		if s.File != at.File || s.File.SheetAt(s.Start) != at.File.SheetAt(at.Start) {
			return false
		}
		n, _ := s.Position()
		return n == line
	}
	d := l.s.Drill
	for _, s := range d.Sets {
		if same(s.Span) && s.Movement <= len(l.start) {
			o.At = l.start[s.Movement-1] + float64(s.Arrive)
		}
	}
	for i := range d.Players {
		var row []int // the sets whose dots stand in that row: one, or with a column for each set all of them
		for n, dot := range d.Players[i].Dots {
			if n < len(d.Sets) && d.Sets[n].Movement <= len(l.start) && same(dot.Span) {
				row = append(row, n)
			}
		}
		if len(row) > 0 {
			o.Player = d.Players[i].Name
		}
		last := -1
		for _, n := range row {
			if start := d.Players[i].Dots[n].Span.Start; (len(row) == 1 || start <= at.Start) && start > last {
				last, o.At = start, l.start[d.Sets[n].Movement-1]+float64(d.Sets[n].Arrive)
			}
		}
	}
	for _, p := range l.s.Roster.Players {
		if same(p.Span) {
			o.Player = p.Name
		}
	}
}

// at is the moment of a count of the whole show.
func (l *viewer) at(count float64) clock.Moment {
	i := len(l.start) - 1
	for i > 0 && l.start[i] > count {
		i--
	}
	return clock.Moment{Movement: i + 1, Elapsed: min(max(count-l.start[i], 0), l.s.Clock.Movements[i].Counts)}
}
