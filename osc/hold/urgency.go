package hold

// Urgency is the order in which what differs is sent. Within a channel a later urgency waits for an earlier one, so
// that nobody is open with the pan or delay of another moment; over all channels closing goes first.
type Urgency int8

// From the most urgent to the least.
const (
	Closing   Urgency = iota // mutes of channels that close
	Silencing                // their levels
	Moving                   // delays, pans, sends
	Opening                  // mutes of channels that open; where the mixer's level is not known, levels first
	Fading                   // levels, and what else is heard on its way
	Urgencies = iota         // how many there are
)

// Urgency is how urgent a row is for one mixer. opened says whether mics may be open there at all. blind says that the
// level which the mixer has on the row's channel is not known: then the level is set before the mute is taken off.
func (t *TargetTable) Urgency(i int, opened, blind bool) Urgency {
	r := &t.rows[i]
	open := opened && r.channel.open
	switch {
	case r.role == tunes && open && r.fade != nil && r.fade.Length > 0: // heard on its way: no sooner than the levels
		return Fading
	case r.role == tunes:
		return Moving
	case !open && r.role == mutes:
		return Closing
	case !open:
		return Silencing
	case blind == (r.role == levels):
		return Opening
	}
	return Fading
}
