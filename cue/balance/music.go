package balance

// hearParts takes from the parts of the music whether a player plays in a cue, and how loudly as it begins, or next.
// What the cue itself says goes before that.
func (l *Loudness) hearParts(i int, p *castPlayer, v *castPart) {
	at := l.x.Cues[i].At
	lane := l.x.Lanes.Of(p.name, at.Movement)
	if lane == nil {
		return
	}
	until := l.x.Clock.Movements[at.Movement-1].Counts
	if i+1 < len(l.x.Cues) && l.x.Cues[i+1].At.Movement == at.Movement {
		until = l.x.Cues[i+1].At.Elapsed
	}
	run, ok := lane.Next(at.Elapsed)
	v.plays, v.stated = ok && run.From < until-1e-6, true
	v.markedDB, v.marked = lane.DynamicsDB(at.Elapsed)
}
