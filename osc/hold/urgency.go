package hold

// Urgency is the order in which differences are sent. Within a channel the later ones wait for the earlier ones, so
// that no mic is open with the pan or delay of another cue. Across all channels, closing goes first.
type Urgency int8

// From the most urgent to the least.
const (
	Closing   Urgency = iota // mutes of channels that close
	Silencing                // their levels
	Moving                   // delays, pans, sends
	Opening                  // mutes of channels that open; levels first if the mixer's level is unknown
	Fading                   // levels, and parameters that fade
	Gliding                  // delays, pans and sends of open channels along their paths
	Urgencies = iota         // how many there are
)

// Urgency is how urgent a row is for one mixer. opened says whether mics may be open there at all. blind says that the
// mixer's level on the row's channel is unknown, so the level is set before the channel is unmuted.
func (t *TargetTable) Urgency(i int, opened, blind bool) Urgency {
	r := &t.rows[i]
	open := opened && r.channel.open
	switch {
	case r.role == tunes && open && r.fade != nil && r.fade.Length > 0: // an audible fade goes with the levels
		return Fading
	case r.role == tunes:
		return Moving
	case (!open || r.channel.dips) && r.role == mutes:
		return Closing
	case !open:
		return Silencing
	case blind == (r.role == levels):
		return Opening
	}
	return Fading
}
