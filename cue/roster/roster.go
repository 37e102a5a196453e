// Package roster knows who is who and who wears which mic on which channel, from when on. It knows no cue.
package roster

import (
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/stands"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// ownPrefix begins the name of a column of one of the mixer's own parameters.
const ownPrefix = "param."

// Columns are the sheet's columns.
var Columns = []table.Column{{Name: "player", Required: true}, {Name: "section", Required: true}, {Name: "pack"},
	{Name: "channel"}, {Name: "from"}, {Name: "height"}, {Name: "trim"}, {Name: "policy"},
	{Name: "instrument"}, {Name: "mic"}, {Name: "meter"}, {Name: ownPrefix + "*"}}

// Player is one performer.
type Player struct {
	Name, Section string
	Span          source.Span
	HeightM       float64    // as the first row of the player says, of the instrument where no mic is worn
	Instrument    table.Cell // what the player plays; empty: what the section is called
}

// Wear is one player wearing one pack on one channel, from a moment on.
type Wear struct {
	Player  string
	Section string
	Pack    string
	Channel int
	HeightM float64 // of the mic above the grass
	TrimDB  float64
	MicM    float64 // from the bell, or from what sounds
	MeterDB float64 // what forte reads over nominal on the channel's meter
	MicAt   source.Span
	Policy  string        // the player's delay policy, "" for the role's or the show's
	Params  []RosterParam // those that the player sets
	From    table.Cell    // a count, empty from the show's beginning
	Span    source.Span
	ChanAt  source.Span
}

// RosterParam is what a player sets one of the mixer's own parameters to. Its name is in the sheet's header.
type RosterParam struct {
	Name  table.Text
	Value table.Setting
}

// Roster is the players in the order of the sheet, and what they wear.
type Roster struct {
	Players []Player
	Wears   []Wear
	Partial bool // the sheet could not be read, or not to its end
	Twice   int  // rows that repeat a name

	file   *source.File
	byName map[string]int
	unsure map[string]bool
}

// MayHold reports whether a name that is not in the roster may be in the part of the sheet that could not be read.
func (r *Roster) MayHold(name string) bool {
	return r.Partial && r.file.MayHold(name)
}

// Unsure reports whether what a player wears could not be read.
func (r *Roster) Unsure(name string) bool { return r.unsure[name] }

// Player returns a performer by name.
func (r *Roster) Player(name string) (Player, bool) {
	i, ok := r.byName[name]
	if !ok {
		return Player{}, false
	}
	return r.Players[i], true
}

// Names lists all players.
func (r *Roster) Names() []string {
	names := make([]string, len(r.Players))
	for i, p := range r.Players {
		names[i] = p.Name
	}
	return names
}

// Sections lists the sections in order of first mention.
func (r *Roster) Sections() []string {
	var names []string
	for _, p := range r.Players {
		if p.Section != "" && !slices.Contains(names, p.Section) {
			names = append(names, p.Section)
		}
	}
	return names
}

const (
	wornMicM     = 0.12 // of a worn mic from its bell, unless the sheet says otherwise (assumed)
	wornHeightM  = 1.5  // of a worn mic, unless the sheet says otherwise
	mostChannels = 10_000
)

// Read reads the sheet. It is never nil.
func Read(f *source.File, p *source.Problems) *Roster {
	r := &Roster{file: f, byName: map[string]int{}, unsure: map[string]bool{}}
	if f == nil {
		r.Partial = true
		return r
	}
	rows := table.ReadCSV(f, Columns, p)
	r.Partial = !table.Whole(f, p)
	packs := map[string]Wear{} // who wore each last
	for row := range rows.All() {
		player, ok := r.player(row, p)
		if !ok {
			continue
		}
		w := wear(row, player, p)
		if i := r.byName[player.Name]; r.Players[i].Span == w.Span {
			r.Players[i].HeightM, r.Players[i].Instrument = w.HeightM, row.Cell("instrument")
		} else if c := row.Cell("instrument"); c.Text != "" && c.Text != r.Players[i].Instrument.Text {
			p.Add(twoInstruments(c, r.Players[i]))
		}
		if r.readChannel(row, &w, p) && r.oneChannel(packs, w, p) {
			r.Wears = append(r.Wears, w)
		}
	}
	return r
}

// player finds or adds the player of a row; ok is false where the row names none, or one that it may not name again.
func (r *Roster) player(row table.Row, p *source.Problems) (player Player, ok bool) {
	name, section := row.Cell("player"), row.Cell("section")
	if name.Text == "" {
		p.Add(noPlayer(row.Span))
		return player, false
	}
	if i, again := r.byName[name.Text]; again {
		player = r.Players[i]
		switch {
		case row.Cell("from").Text == "":
			p.Add(playerTwice(name, player.Span))
			r.Twice++
			return player, false
		case section.Text != "" && section.Text != player.Section:
			p.Add(twoSections(section, player))
		}
		return player, true
	}
	player = Player{Name: name.Text, Section: section.Text, Span: name.Span, HeightM: wornHeightM}
	p.CheckName(name.Span, name.Text)
	if !slices.Contains(r.Sections(), section.Text) {
		p.CheckName(section.Span, section.Text)
	}
	r.byName[name.Text] = len(r.Players)
	r.Players = append(r.Players, player)
	if section.Text == "" {
		p.Add(noSection(name))
	}
	return player, true
}

// wear reads what a row says about a mic, other than its channel.
func wear(row table.Row, player Player, p *source.Problems) Wear {
	height, trim := row.Cell("height"), row.Cell("trim")
	w := Wear{Player: player.Name, Section: player.Section, Pack: row.Cell("pack").Text,
		HeightM: number(height, wornHeightM, "height", unit.Length, "meters", p),
		TrimDB:  number(trim, 0, "trim", unit.Level, "dB", p),
		From:    row.Cell("from"), Span: row.Cell("player").Span, ChanAt: row.Cell("channel").Span}
	if w.HeightM < 0 || w.HeightM > 10 {
		p.Add(badHeight(height.Span, w.HeightM))
		w.HeightM = wornHeightM
	}
	if w.TrimDB < -60 || w.TrimDB > 60 {
		p.Add(badTrim(trim.Span, w.TrimDB))
		w.TrimDB = 0
	}
	w.readSound(row, p)
	if c := row.Cell("policy"); c.Text != "" && stands.CheckPolicy(c.Text, c.Span, p) {
		w.Policy = c.Text
	}
	for _, head := range row.Under(ownPrefix) {
		name := strings.TrimPrefix(head.Text, ownPrefix)
		if v := setting(row.Cell(head.Text), name, p); v.Set {
			w.Params = append(w.Params, RosterParam{table.Text{V: name, Span: head.Span, Set: true}, v})
		}
	}
	return w
}

// readSound reads how far the mic is from what it hears, and how its preamp is set.
func (w *Wear) readSound(row table.Row, p *source.Problems) {
	mic, meter := row.Cell("mic"), row.Cell("meter")
	w.MicAt = mic.Span
	w.MicM = number(mic, wornMicM, "mic", unit.Length, "meters", p)
	if w.MicM < 0 || w.MicM > 2 {
		p.Add(badMic(mic.Span, w.MicM))
		w.MicM = wornMicM
	}
	w.MeterDB = number(meter, 0, "meter", unit.Level, "dB", p)
	if w.MeterDB < -60 || w.MeterDB > 60 {
		p.Add(badMeter(meter.Span, w.MeterDB))
		w.MeterDB = 0
	}
}

// number reads a cell whose numbers are in the bare unit of d, or gives def. With a unit it is a problem that says the
// number to write.
func number(c table.Cell, def float64, what string, d unit.Dimension, unitName string, p *source.Problems) float64 {
	if parts, err := unit.Parse(c.Text); err == nil && parts[0].Unit != "" {
		if v, err := d.Sum(parts); err == nil {
			p.Add(withUnit(c, what, unitName, v))
			return def
		}
	}
	return c.Number(def, what, p)
}

// readChannel reads the channel of a row; false where there is none, be it because the player wears nothing.
func (r *Roster) readChannel(row table.Row, w *Wear, p *source.Problems) bool {
	channel := row.Cell("channel")
	var ok bool
	if w.Channel, ok = channel.Whole(1, mostChannels, "channel", p); ok {
		return true
	}
	r.unsure[w.Player] = channel.Text != "" || w.Pack != "" || w.From.Text != ""
	switch {
	case channel.Text != "": // reported
	case w.Pack != "":
		p.Add(packWithoutChannel(row.Cell("pack")))
	case w.From.Text != "":
		p.Add(fromWithoutChannel(w.From.Span, w.Player))
	}
	return false
}

// oneChannel sees that a pack comes in on one channel, whoever wears it.
func (r *Roster) oneChannel(packs map[string]Wear, w Wear, p *source.Problems) bool {
	if w.Pack == "" {
		return true
	}
	if other, known := packs[w.Pack]; known && other.Channel != w.Channel {
		p.Add(packOnTwoChannels(w.ChanAt, w.Pack, w.Channel, other))
		r.unsure[w.Player] = true
		return false
	}
	packs[w.Pack] = w
	return true
}

// setting reads a cell of one of the mixer's own parameters: a number, or of a switch "on" or "off"; empty is none.
func setting(c table.Cell, name string, p *source.Problems) table.Setting {
	switch strings.ToLower(c.Text) {
	case "":
		return table.Setting{}
	case "on", "true", "yes":
		return table.Setting{V: 1, Switch: true, Span: c.Span, Set: true}
	case "off", "false", "no":
		return table.Setting{Switch: true, Span: c.Span, Set: true}
	}
	before := p.Errors()
	v := c.Number(0, name, p)
	return table.Setting{V: v, Span: c.Span, Set: p.Errors() == before}
}

// With is the roster with other players and what they wear.
func (r *Roster) With(players []Player, wears []Wear) *Roster {
	c := *r
	c.Players, c.Wears, c.byName = slices.Clone(players), slices.Clone(wears), map[string]int{}
	for i, p := range c.Players {
		c.byName[p.Name] = i
	}
	return &c
}
