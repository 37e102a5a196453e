package page

import (
	"fmt"
	"math"
	"strings"

	"backfield/cmd/backfield/cuewords"
	"backfield/cmd/backfield/picture"
	"backfield/cmd/backfield/show"
	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// viewBuilder collects a ShowView.
type viewBuilder struct {
	s     *show.Loaded
	v     *ShowView
	start []float64 // the count of each movement's downbeat
}

// look makes the view of a show, as far as the show could be compiled.
func look(s *show.Loaded, problems []source.Problem) *ShowView {
	v := &ShowView{
		Title: s.Score.Title, WindowMS: s.Score.WindowMS,
		Movements: []MovementView{}, Sets: []SetView{}, Sections: []string{}, Keys: []float64{},
		Players:  []PlayerView{},
		Channels: []ChannelView{}, OpenCount: []OpenView{}, Cues: []CueView{}, Handovers: []HandoverView{},
		Problems: []ProblemView{},
	}
	l := viewBuilder{s: s, v: v}
	l.field()
	l.time()
	l.players()
	if len(s.Score.Cues) == 0 {
		v.FirstCue = l.firstCue()
	}
	if s.Show != nil {
		l.cues()
		l.bars()
		l.handovers()
	}
	v.Problems, v.Accepted = l.problems(problems, s.Remarks), cuewords.Accepted(s.Remarks)
	v.AcceptedIn = cuewords.AcceptedIn(s.Remarks)
	return v
}

// firstCue is a cue for a score without one: it opens the first wearer of the roster in the first role.
func (l *viewBuilder) firstCue() string {
	role, name := "feature", "NAME"
	if len(l.s.Score.Roles) > 0 {
		role = l.s.Score.Roles[0].Name
	}
	if len(l.s.Roster.Wears) > 0 {
		name = l.s.Roster.Wears[0].Player
	}
	return fmt.Sprintf("[[cue]]\nid = \"1\"\nat = \"1:1\"\nname = %q\nopen.%s = [%q]\n", name+" opens", role, name)
}

func mm(v float64) float64 {
	if v = math.Round(v*1000) / 1000; v == 0 {
		return 0 // no -0
	}
	return v
}

func plan(x, y float64) [2]float64 { return [2]float64{mm(x), mm(y)} }

func (l *viewBuilder) field() {
	r, v := l.s.Rig, l.v
	f := r.Field
	v.Venue, v.Air = r.Name, unit.AirText(r.AirC)
	g := FieldView{
		LengthM: mm(f.LengthM), EndZoneM: mm(f.EndZoneM), WidthM: mm(f.WidthM), Middle: f.MiddleYard,
		HashesM: [2]float64{mm(f.FrontHashM()), mm(f.BackHashM())}, Reference: plan(r.Reference.X, r.Reference.Y),
		Stacks: []StackView{}, Mics: []FixedMicView{}, Seats: [][]float64{}, Rows: []RowView{}, Blocks: [][]float64{},
	}
	for _, k := range r.Stacks {
		g.Stacks = append(g.Stacks, StackView{k.Name, plan(k.At.X, k.At.Y), k.Sub, k.Zone})
	}
	for _, m := range r.Mics {
		g.Mics = append(g.Mics, FixedMicView{m.Name, m.Kind, m.Channel, plan(m.At.X, m.At.Y)})
	}
	for _, s := range r.Seats() {
		g.Seats = append(g.Seats, []float64{mm(s.At.X), mm(s.At.Y), mm(s.At.Z)})
	}
	from := 0
	for _, b := range r.Blocks {
		for row := 1; row <= b.Rows && b.Weight > 0; row++ {
			g.Rows = append(g.Rows, RowView{b.Name, row, from, b.SeatsInRow(row)})
			from += b.SeatsInRow(row)
		}
	}
	for _, b := range r.Blocks {
		g.Blocks = append(g.Blocks, []float64{
			mm(b.Front.X - b.Front.WidthM/2), mm(b.Front.Y), mm(b.Front.X + b.Front.WidthM/2), mm(b.Front.Y),
			mm(b.Back.X + b.Back.WidthM/2), mm(b.Back.Y), mm(b.Back.X - b.Back.WidthM/2), mm(b.Back.Y),
		})
	}
	v.Field = g
}

func (l *viewBuilder) time() {
	c := l.s.Clock
	if c == nil {
		return
	}
	for i, m := range c.Movements {
		l.start = append(l.start, l.v.Counts)
		out := MovementView{Name: m.Name, From: l.v.Counts, Counts: m.Counts}
		for n := 0; float64(n)*quarterCount <= m.Counts+1e-9; n++ {
			at := clock.Moment{Movement: i + 1, Elapsed: float64(n) * quarterCount}
			out.TimesS = append(out.TimesS, mm(c.Seconds(at)))
		}
		for n := 0; float64(n) <= m.Counts; n++ {
			out.BPM = append(out.BPM, math.Round(m.Tempo.BPM(float64(n))*10)/10)
		}
		l.v.Movements = append(l.v.Movements, out)
		l.v.Counts += m.Counts
	}
	for _, s := range c.Sets {
		l.v.Sets = append(l.v.Sets, SetView{s.Label, l.count(s.At)})
	}
}

// count is the count of a moment through the whole show.
func (l *viewBuilder) count(m clock.Moment) float64 {
	if m.Movement < 1 || m.Movement > len(l.start) {
		return 0
	}
	return l.start[m.Movement-1] + m.Elapsed
}

// wears lists a player's packs as text.
func (l *viewBuilder) wears(player string) string {
	var parts []string
	for _, w := range l.s.Roster.Wears {
		if w.Player != player {
			continue
		}
		text := fmt.Sprintf("pack %s, channel %d", w.Pack, w.Channel)
		if w.From.Text != "" {
			text += " from " + w.From.Text
		}
		parts = append(parts, text)
	}
	return strings.Join(parts, "; ")
}

func (l *viewBuilder) players() {
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
		out := PlayerView{Name: p.Name, Section: -1, Wears: l.wears(p.Name), Path: [][2]float64{}}
		if known, ok := l.s.Roster.Player(p.Name); ok {
			out.Section = section[known.Section]
		}
		for _, k := range keys {
			at, ok := p.At(d, k.movement, k.elapsed)
			if !ok {
				out.Path = [][2]float64{}
				break
			}
			out.Path = append(out.Path, plan(at.X, at.Y))
		}
		l.v.Players = append(l.v.Players, out)
	}
}

// at is the moment of a count through the whole show.
func (l *viewBuilder) at(count float64) clock.Moment {
	i := len(l.start) - 1
	for i > 0 && l.start[i] > count {
		i--
	}
	return clock.Moment{Movement: i + 1, Elapsed: min(max(count-l.start[i], 0), l.s.Clock.Movements[i].Counts)}
}
