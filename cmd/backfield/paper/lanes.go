package paper

import "slices"

// sounding draws under the bars when the wearers of the mics play, as far as the music says: thicker where louder, with
// a gap for each breath mark.
func (d *chartDrawing) sounding(top, row float64) {
	for _, b := range d.p.Sounding {
		i := slices.IndexFunc(d.lines, func(l chartLine) bool { return l.channel == b.Channel })
		if i < 0 {
			continue
		}
		// pp, 16 dB below forte, is a third as thick as ff
		high := row * 0.13 * min(max((b.LoudDB+22)/28, 0.3), 1)
		fromS := b.FromS
		for _, toS := range append(slices.Clone(b.BreathsS), b.ToS) {
			if from, to := max(fromS, d.fromS), min(toS, d.toS); to > from+grazeS {
				gap := 0.0
				if toS < b.ToS {
					gap = 1.5
				}
				d.put(`<rect x="%.1f" y="%.1f" width="%.1f" height="%.2f"/>`, d.x(from),
					top+row*(float64(i)+0.91)-high/2, max(d.x(to)-d.x(from)-gap, 0.6), high)
			}
			fromS = toS
		}
	}
}
