package feed

import (
	"math"
	"time"

	"backfield/cue"
	"backfield/osc"
)

// ChannelSign says in a word how a channel at a mixer stands to the show.
type ChannelSign string

// The signs, from calm to urgent.
const (
	ChannelOK        ChannelSign = "ok"         // the mixer has confirmed what the show wants
	ChannelSent      ChannelSign = "sent"       // the mixer cannot confirm
	ChannelWaiting   ChannelSign = "waiting"    // not yet confirmed, or nothing is heard from the mixer
	ChannelOutside   ChannelSign = "outside"    // the show does not use it, and it is open at the mixer
	ChannelManual    ChannelSign = "manual"     // someone moved a fader or another parameter, not the mute
	ChannelMuted     ChannelSign = "muted"      // someone muted it at the mixer, and the show has it open
	ChannelStillOpen ChannelSign = "still open" // someone opened it at the mixer, and the show has it closed
)

// channelSigns lists all signs, from calm to urgent.
var channelSigns = []ChannelSign{
	ChannelOK, ChannelSent, ChannelWaiting, ChannelOutside, ChannelManual, ChannelMuted, ChannelStillOpen,
}

// Rank is how urgent a sign is, 0 for the calmest.
func (s ChannelSign) Rank() int {
	for n, sign := range channelSigns {
		if sign == s {
			return n
		}
	}
	return len(channelSigns)
}

// MixerChannel is a channel at one mixer: what the mixer last said of it, and what the show has it at now. A level of
// minus infinity is off, null in JSON.
type MixerChannel struct {
	Sign       ChannelSign `json:"sign"`
	LevelKnown bool        `json:"level_known"` // the mixer has said its level
	LevelDB    cue.Level   `json:"level_db"`    // at the mixer
	MuteKnown  bool        `json:"mute_known"`  // the mixer has said its mute
	Muted      bool        `json:"muted"`       // at the mixer
	ShowOpen   bool        `json:"show_open"`
	ShowDB     cue.Level   `json:"show_db"` // at this instant of a fade
	Fading     bool        `json:"fading"`  // the show's level fades
	Moved      []string    `json:"moved"`   // what is manual, in words
	Acked      bool        `json:"acked"`   // the operator has acknowledged that it is still open
}

// Channel returns a channel as this mixer has it.
func (f *Feed) Channel(channel int, now time.Time) MixerChannel {
	if f.outside.Has(channel) {
		dB, known, open := f.outside.Channel(channel)
		if !open {
			return MixerChannel{Sign: ChannelOK, ShowDB: cue.Silent}
		}
		return MixerChannel{
			Sign: ChannelOutside, MuteKnown: true, LevelKnown: known, LevelDB: dB, ShowDB: cue.Silent,
		}
	}
	mute, level := f.table.Switches(channel)
	c := MixerChannel{Sign: ChannelOK, ShowOpen: f.table.Open(channel), ShowDB: cue.Silent}
	if v, ok := f.saidValue(level); ok {
		c.LevelKnown, c.LevelDB = true, cue.Level(v)
	}
	if v, ok := f.saidValue(mute); ok {
		c.MuteKnown, c.Muted = true, v == 1
	}
	if level >= 0 && c.ShowOpen {
		v, _ := f.mixer.Value(cue.ParamLevel, f.table.Want(level))
		c.ShowDB, c.Fading = cue.Level(v), f.table.Fading(level, now)
	}
	c.Moved, c.Acked = f.moved(channel), f.manual.acked[channel]
	c.Sign = f.sign(channel, &c, now)
	return c
}

// FaderOffsetDB is how far a channel's fader at the mixer is over the show's level, in dB, below 0 under it. known is
// false if the show has the channel closed, or if one of the two is unknown or off.
func (f *Feed) FaderOffsetDB(channel int) (dB float64, known bool) {
	_, level := f.table.Switches(channel)
	at, said := f.saidValue(level)
	if !said || !f.table.Open(channel) {
		return 0, false
	}
	show, ok := f.mixer.Value(cue.ParamLevel, f.want(level))
	return at - show, ok && !math.IsInf(at, 0) && !math.IsNaN(at) && !math.IsInf(show, 0)
}

func (f *Feed) sign(channel int, c *MixerChannel, now time.Time) ChannelSign {
	mute, _ := f.table.Switches(channel)
	switch {
	case f.KeptOpen(channel):
		return ChannelStillOpen
	case f.manual.rows[mute] && c.ShowOpen && c.Muted:
		return ChannelMuted
	case len(c.Moved) > 0:
		return ChannelManual
	case !f.mixer.CanConfirm():
		return ChannelSent
	case !f.Reached() || f.replies.overdue:
		return ChannelWaiting
	}
	for _, i := range f.table.ChannelRows(channel) {
		if s := &f.slots[i]; !s.Confirmed && !s.unsendable && !f.table.Fading(i, now) &&
			!f.glidesNow(i, glideKnown, now) {
			return ChannelWaiting
		}
	}
	return ChannelOK
}

// notClosed lists the channels that are to be closed and that nobody keeps open, of which nothing says that they are.
func (f *Feed) notClosed() (list []int) {
	for n := range f.table.Channels() {
		if len(f.table.ChannelRows(n)) > 0 && !f.table.Open(n) && !f.KeptOpen(n) && !f.isClosed(n) {
			list = append(list, n)
		}
	}
	return append(list, f.outside.Unconfirmed()...)
}

// isClosed reports whether the mixer is there and has confirmed the mute or the level that closes a channel.
func (f *Feed) isClosed(channel int) bool {
	mute, level := f.table.Switches(channel)
	for _, i := range []int{mute, level} {
		if i < 0 || i >= len(f.slots) || !f.slots[i].Confirmed {
			continue
		}
		if closed, ok := f.table.Closed(i); ok && f.slots[i].Holds(closed) {
			return f.Reached() && !f.replies.overdue
		}
	}
	return false
}

// saidValue is what the mixer last said of a row, in the snapshot's unit. ok is false for unknown.
func (f *Feed) saidValue(row int) (v float64, ok bool) {
	if row < 0 || row >= len(f.slots) || f.slots[row].said == (osc.Arg{}) {
		return 0, false
	}
	return f.mixer.Value(f.table.Place(row).Param, f.slots[row].said)
}

// OpenAtMixer reports whether the channel can be heard, as far as the mixer has said. A channel of which nothing was
// heard is not counted as open.
func (c *MixerChannel) OpenAtMixer() bool {
	return c.MuteKnown && !c.Muted && (!c.LevelKnown || c.LevelDB != cue.Silent)
}

// Listed reports whether the operator must see the channel: it is open in the show or at the mixer, or it differs.
func (c *MixerChannel) Listed() bool {
	return c.ShowOpen || c.OpenAtMixer() || c.Sign.Rank() >= ChannelManual.Rank()
}
