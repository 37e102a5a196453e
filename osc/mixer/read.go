package mixer

import (
	"cmp"
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Read reads mixer.toml. The result is never nil; whatever is missing or wrong has its default.
func Read(f *source.File, p *source.Problems) *Mixer {
	before := p.Errors()
	root := table.ReadTOML(f, p)
	var k FileKeys
	if len(root.Fields) > 0 || p.Errors() == before { // for a file that does not parse, missing keys are not reported
		table.Decode(root, &k, p)
	}
	r := fileReader{p: p}
	d := &Mixer{
		To:        text(k.To, "udp://127.0.0.1:9000"),
		Rate:      r.whole("rate", k.Rate, 2000, 1, math.MaxInt32),
		Channels:  r.whole("channels", k.Channels, 64, 1, 10000),
		PanLaw:    text(k.PanLaw, "constant-power"),
		Bundle:    k.Bundle.V,
		MaxPacket: r.whole("max_packet", k.MaxPacket, 1472, 64, 65507),
		Tick:      r.whole("tick", k.Tick, 50, 10, 200),
		Repeat:    k.Repeat.Or(true),

		ManualUntilRelease: k.Manual.V == untilRelease,
	}
	d.Moves = r.moves(k.Delay.Moves)
	if word := k.Manual.Or(untilOpen); word != untilOpen && word != untilRelease {
		p.Add(unknownManual(k.Manual.Text))
	}
	d.Settle = r.span(k.Delay.Settle, 50*time.Millisecond, 0, 5*time.Second, "a time to settle")
	at := map[string]table.Text{} // where the addresses are written, for the messages
	for _, t := range []struct {
		name    string
		where   table.Where
		address table.Text
		read    func() *Parameter
	}{
		{cue.ParamMute, k.Mute.Where, k.Mute.Address, func() *Parameter { return r.mute(k.Mute) }},
		{cue.ParamLevel, k.Level.Where, k.Level.Address, func() *Parameter { return r.level(cue.ParamLevel, k.Level) }},
		{cue.ParamDelay, k.Delay.Where, k.Delay.Address, func() *Parameter { return r.delay(k.Delay) }},
		{cue.ParamPan, k.Pan.Where, k.Pan.Address, func() *Parameter { return r.pan(k.Pan) }},
		{cue.ParamSend, k.Send.Where, k.Send.Address, func() *Parameter { return r.level(cue.ParamSend, k.Send) }},
	} {
		at[t.name] = t.address
		if t.where.Span.File != nil {
			d.Params = append(d.Params, t.read())
		} else if root.Get(t.name) == nil && len(root.Fields) > 0 {
			d.missing = append(d.missing, t.name)
		}
	}
	if step := d.Limits(cue.ParamDelay).Step; d.Moves == cue.Glides && step > coarsestGlideMS+1e-9 {
		p.Add(glideCoarse(cmp.Or(k.Delay.Step.Span, k.Delay.Moves.Span), step))
	}
	r.owns(d, k.Param, at)
	r.checkAddresses(d, at)
	r.dialogue(d, &k)
	r.checkSizes(d, &k, at)
	return d
}

// WarnMissing reports a parameter without a table in f, which the mixer is not sent.
func (d *Mixer) WarnMissing(name string, f *source.File, p *source.Problems) {
	if slices.Contains(d.missing, name) {
		p.Add(noTable(f, name))
	}
}

// coarsestGlideMS is the coarsest step of a delay that can still glide: at 8 ms a second, 40 changes a second.
const coarsestGlideMS = 0.2

// moves is how a mixer's delay may change; until someone has tried it, only while the channel is closed.
func (r fileReader) moves(word movesWord) cue.Moves {
	if !slices.Contains(word.Words(), word.Or(string(cue.Closed))) {
		r.p.Add(unknownMoves(word.Text))
		return cue.Closed
	}
	return cue.Moves(word.Or(string(cue.Closed)))
}

func text(t table.Text, def string) table.Text {
	t.V = t.Or(def)
	return t
}

type fileReader struct{ p *source.Problems }

// whole reads a whole number from lo to hi.
func (r fileReader) whole(name string, v table.Int, def, lo, hi int) int {
	if v.Set && (v.V < lo || v.V > hi) {
		r.p.Add(badWhole(name, v, lo, hi))
		return def
	}
	return v.Or(def)
}
