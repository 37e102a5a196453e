package mixer

import (
	"backfield/cue"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
	"backfield/osc/form"
)

// checkedZones is in how many zones checkAddresses looks for shared addresses.
const checkedZones = 16

// checkAddresses reports two parameters that share an address on some channel.
func (r fileReader) checkAddresses(d *Mixer, at map[string]table.Text) {
	owner := map[string]*Parameter{}
	for _, x := range d.Params {
		if other, address := x.clash(d.Channels, owner); other != nil {
			r.p.Add(sameAddress(at[x.Name].Span, address, other, at[other.Name].Span))
		}
	}
}

// clash puts a parameter's addresses into owner, up to the first that is already there.
func (p *Parameter) clash(channels int, owner map[string]*Parameter) (other *Parameter, address string) {
	if p.address == nil {
		return nil, ""
	}
	zones := 1
	if p.Name == cue.ParamSend {
		zones = checkedZones
	}
	for n := 1; n <= channels; n++ {
		for z := 1; z <= zones; z++ {
			a := p.address.Of(form.Filling{Channel: n, Zone: z})
			if owner[a] != nil {
				return owner[a], a
			}
			owner[a] = p
		}
	}
	return nil, ""
}

// bundleBytes is what a bundle adds to its first message: the bundle's head, and the message's length.
const bundleBytes = 16 + 4

// Room is the most bytes that one message to this mixer may take.
func (d *Mixer) Room() int {
	if d.Bundle {
		return d.MaxPacket - bundleBytes
	}
	return d.MaxPacket
}

// CheckSize reports a message that is too long for a packet. The problem points at `at` and calls the message `what`.
func (d *Mixer) CheckSize(m osc.Message, what string, at source.Span, p *source.Problems) bool {
	if n, room := m.Size(), d.Room(); n > room {
		p.Add(tooLong(at, what, n, room))
		return false
	}
	return true
}

// checkSizes reports messages that are too long for a packet and could never be sent, by the longest of each kind.
func (r fileReader) checkSizes(d *Mixer, k *FileKeys, at map[string]table.Text) {
	longest := osc.Message{}
	for _, x := range d.Params {
		if x.address == nil {
			continue
		}
		zone := 0
		if x.Name == cue.ParamSend {
			zone = maxZones
		}
		m := x.message(d.Channels, zone, osc.Number(x.of.Tag, 0))
		if x.on != none {
			m.Args[0] = x.on
			if off := x.message(d.Channels, zone, x.off); off.Size() > m.Size() {
				m = off
			}
		}
		d.CheckSize(m, "the message to "+m.Address, at[x.Name].Span, r.p)
		if len(m.Address) > len(longest.Address) {
			longest = m
		}
	}
	if d.Query != nil {
		d.CheckSize(d.Ask(longest.Address), "the query for "+longest.Address, k.Query.Address.Span, r.p)
	}
	for i, x := range d.Keepalives {
		if len(d.Keepalives) == len(k.Keepalive) { // otherwise some were not read
			d.CheckSize(x.Message, "the message to "+x.Message.Address, k.Keepalive[i].Address.Span, r.p)
		}
	}
}

// CheckSceneSize reports a cue whose name makes the message that stores or recalls its scene too long for a packet.
func (d *Mixer) CheckSceneSize(name string, at source.Span, p *source.Problems) {
	for _, s := range d.scenes() {
		longest := s.Message(d.Store.First+d.Store.Slots, name)
		what := "with this name, the message that stores or recalls the cue's scene"
		if s.form.Has("name") && !d.CheckSize(longest, what, at, p) {
			return
		}
	}
}

// scenes lists the messages that store or recall a scene, those that the mixer has.
func (d *Mixer) scenes() []*SceneMessage {
	var list []*SceneMessage
	if d.Store != nil {
		list = append(list, &d.Store.SceneMessage)
	}
	if d.Recall != nil {
		list = append(list, d.Recall)
	}
	return list
}

// CheckRaw holds a message that a cue sends (`also`) to what this mixer can be sent; address is where the score has it.
// What is most likely a mistake, and may be meant, goes to warn.
func (d *Mixer) CheckExtra(raw cue.Extra, address table.Text, p *source.Problems,
	warn func(at source.Span, what, do string)) {
	if _, faults := form.Parse(raw.Address); len(faults) > 0 {
		for _, f := range faults {
			p.Add(badExtra(address, f))
		}
		return
	}
	m := extraMessage(raw)
	if place, ok := d.Find(m.Address); ok {
		p.Add(extraParameter(address.Span, m, place))
		return
	}
	if !d.CheckSize(m, "the message to "+m.Address, address.Span, p) {
		return
	}
	if d.Store != nil {
		if _, _, ok := d.Store.Match(m); ok {
			warn(address.Span, m.String()+" makes the mixer store a scene in the middle of the show",
				"remove it, unless you want that")
		}
	}
	if d.Recall != nil {
		if _, _, ok := d.Recall.Match(m); ok {
			warn(address.Span, m.String()+" makes the mixer recall a scene, which overwrites what the cues have set",
				"remove it, unless you want that")
		}
	}
}
