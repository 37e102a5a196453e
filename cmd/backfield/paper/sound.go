package paper

import (
	"fmt"
	"strings"

	"backfield/cmd/backfield/runsheet"
	"backfield/cue/balance"
	"backfield/layout/source"
	"backfield/layout/table"
)

// listen estimates how loud the show is. A show with something wrong in that has no leads and no gains: check says why.
func (p *Papers) listen() {
	var reported source.Problems
	if p.sound = p.Show.Loudness(&reported); p.sound == nil {
		return
	}
	p.leads = map[string]*balance.CueLead{}
	for i, lead := range p.sound.Leads() {
		p.leads[p.Show.Show.Cues[i].ID] = lead
	}
}

// runPages lays the run sheet out.
func (p *Papers) runPages() []runsheet.CuePage {
	leads := map[string]string{}
	for id, x := range p.leads {
		if x != nil {
			leads[id] = x.Words()
		}
	}
	run := runsheet.Source{Show: p.Show, Rows: p.Rows, Wears: p.Wears, Sound: p.sound, Leads: leads,
		Movement: p.Movement}
	return run.Pages()
}

// SharePct is the share of the seats that have at least the lead.
func (p *Papers) SharePct() float64 { return p.Show.Setup.Score.Goals.SharePct }

// HasLeads reports whether any cue has a lead.
func (p *Papers) HasLeads() bool {
	for _, x := range p.leads {
		if x != nil {
			return true
		}
	}
	return false
}

// gainBody is what the gain sheet gets.
type gainBody struct {
	Rows     []gainRow
	Measured bool // noise and brass
	NoSound  bool // levels could not be computed
}

// gainRow is a row of the gain sheet.
type gainRow struct {
	balance.ChannelGain
	Mic, Meter, Gain, LowCut string
}

func (p *Papers) gains() gainBody {
	if p.sound == nil {
		return gainBody{NoSound: true}
	}
	b := gainBody{Measured: p.sound.Measured.Calibrated()}
	for _, g := range p.sound.Gains() {
		r := gainRow{ChannelGain: g, Mic: fmt.Sprintf("%s, %s cm", g.Instrument, number(100*g.MicM)),
			Meter: number(g.MeterDB), Gain: "?"}
		if g.Fixed {
			r.Mic = g.Instrument + ", fixed"
		}
		switch {
		case len(g.LowCutsHz) == 0:
			r.Gain = "never open"
		case !g.GainDB.OK:
			r.Gain = "hears nobody"
		case b.Measured:
			r.Gain = strings.Replace(fmt.Sprintf("%.0f", g.GainDB.DB), "-", "−", 1)
		}
		var cuts []string
		for _, hz := range g.LowCutsHz {
			if hz > 0 {
				cuts = append(cuts, number(hz)+" Hz")
			}
		}
		r.LowCut = strings.Join(cuts, ", ")
		b.Rows = append(b.Rows, r)
	}
	return b
}

// readingBody is what the sheet of readings gets.
type readingBody struct {
	*balance.ToRead // nil where levels could not be computed
	Lines           []string
}

// blankText is where a number is written by hand.
const blankText = "____"

func (p *Papers) readings() readingBody {
	if p.sound == nil {
		return readingBody{}
	}
	t := p.sound.ToRead()
	b := readingBody{ToRead: &t, Lines: []string{"[levels]", "background = " + blankText}}
	add := func(format string, args ...any) { b.Lines = append(b.Lines, fmt.Sprintf(format, args...)) }
	if t.Stack != "" {
		add("noise = { stack = %s, dba = %s }", table.Quote(t.Stack), blankText)
	}
	if t.Section != "" {
		add("brass = { section = %s, set = %s, dynamics = \"f\", dba = %s }", table.Quote(t.Section),
			table.Quote(t.Set), blankText)
	}
	if len(t.Solos) > 0 {
		add("solo = [")
		for _, s := range t.Solos {
			add("  { player = %s, set = %s, dba = %s },", table.Quote(s.Player), table.Quote(s.Set), blankText)
		}
		add("]")
	}
	if len(t.Rings) > 0 {
		add("ring = [")
		for _, name := range t.Rings {
			add("  { mic = %s, fader = %s },", table.Quote(name), blankText)
		}
		add("]")
	}
	return b
}
