package plain

import (
	"math"

	"backfield/layout"
)

// bells keeps the patterns: they depend on radius and temperature alone.
var bells = map[[2]float64]*bell{}

func (s *PlainScene) bell(h Horn) *bell {
	key := [2]float64{h.RadiusM, s.AirC}
	if bells[key] == nil {
		bells[key] = newBell(h.RadiusM, s.AirC)
	}
	return bells[key]
}

// power is Lw by band at some dynamics, before the corrections for band and player.
func (h Horn) power(dynamics float64) Octaves {
	o := h.Shape
	for b := range o {
		if h.RadiusM > 0 {
			o[b] += 0.15 * dynamics * max(0, math.Log2(midbandHz(b)/500))
		}
	}
	return o.plus(h.Power + dynamics - o.Flat())
}

// OwnAt is a player's own sound at a place, by band.
func (s *PlainScene) OwnAt(m Musician, p layout.Point) Octaves {
	if !m.Plays || m.NoDot {
		return silence()
	}
	h := s.Horns[m.Instrument]
	o := h.power(m.Dynamics).plus(s.Band + m.Own)
	pattern := s.bell(h)
	off := pattern.at(angleDeg(s.axis(m.At, m.FacingDeg, s.BellUp), towards(m.At, p)))
	r := apart(m.At, p)
	air := s.air(r)
	for b := range o {
		o[b] += pattern.index[b] + off[b] - 20*lg(r) - spherical - air[b]
	}
	return o
}

// wornLevel is the level at a player's mic at some dynamics, by band.
func (s *PlainScene) wornLevel(m Musician, dynamics float64) Octaves {
	h := s.Horns[m.Instrument]
	o := h.power(dynamics).plus(s.Band + m.Own)
	index := s.bell(h).index
	for b := range o {
		o[b] += index[b] - 20*lg(math.Hypot(m.Mic.FromBellM, h.RadiusM)) - spherical
	}
	return o
}

// fixedPattern is the pattern of a fixed mic toward a point in dB, the same in all bands.
func (s *PlainScene) fixedPattern(f FixedEar, p layout.Point) float64 {
	u := angleDeg(s.axis(f.At, f.FacingDeg, 0), towards(f.At, p)) * math.Pi / 180
	return 20 * lg(max(math.Abs(f.K+(1-f.K)*math.Cos(u)), 0.1))
}

// FixedLevel is the level at a fixed mic by band, as played.
func (s *PlainScene) FixedLevel(f FixedEar) Octaves {
	o := silence()
	for _, m := range s.Players {
		o = o.with(s.OwnAt(m, f.At).plus(s.fixedPattern(f, m.At)))
	}
	return o
}

// WornGain is A of a player's mic, from the level at the mic to the level at 1 m of one stack, fader and send at 0.
func (s *PlainScene) WornGain(m Musician) float64 {
	return s.Nominal + m.Mic.Meter - s.wornLevel(m, 0).Flat()
}

// FixedGain is A of a fixed mic; NaN if it never hears anyone.
func (s *PlainScene) FixedGain(f FixedEar) float64 { return s.Nominal + f.Meter - f.Highest }

// attenuation is what a stack's pattern takes off toward a point, by band: 0 or less.
func (k Speaker) attenuation(p layout.Point) Octaves {
	point, aim := towards(k.At, p), towards(k.At, k.Aim)
	az := math.Mod(azimuthDeg(point)-azimuthDeg(aim), 360)
	if math.Hypot(point.x, point.y) == 0 || math.Hypot(aim.x, aim.y) == 0 {
		az = 0 // straight above or below there is no azimuth
	}
	if az > 180 {
		az -= 360
	}
	if az < -180 {
		az += 360
	}
	el := elevationDeg(point) - elevationDeg(aim)
	var o Octaves
	for b := range o {
		control := 25400 / (k.MouthM * midbandHz(b))
		h := min(360, max(k.WideDeg, control))
		v := min(360, max(k.HighDeg, control))
		o[b] = -min(6*(math.Pow(2*az/h, 2)+math.Pow(2*el/v, 2)), k.FrontBack[b])
	}
	return o
}

func azimuthDeg(v vector) float64 { return math.Atan2(v.x, -v.y) * 180 / math.Pi }

func elevationDeg(v vector) float64 { return math.Atan2(v.z, math.Hypot(v.x, v.y)) * 180 / math.Pi }

// stackAt is a stack at a place for 0 dB at 1 m on its axis, trim in, by band.
func (s *PlainScene) stackAt(k Speaker, p layout.Point) Octaves {
	o := k.attenuation(p)
	r := apart(k.At, p)
	air := s.air(r)
	for b := range o {
		o[b] += k.Trim - 20*lg(r) - air[b]
	}
	return o
}

// off is whether a send is too low to count.
func off(send float64) bool { return send < -80 }

// StereoSend is the send of a channel to a stack, 20 lg(left l + right r), for the gains l and r of the mixer's pan law.
func StereoSend(k Speaker, l, r float64) float64 { return 20 * lg(k.BusLeft*l+k.BusRight*r) }

// cutDB is what a channel's low cut takes off, by band.
func (c PlainChannel) cutDB() Octaves {
	var o Octaves
	for b := range o {
		o[b] = 10 * lg(1+math.Pow(c.LowCut/midbandHz(b), 4))
	}
	return o
}

// through is what a channel's stacks make of a level at its mic, at a place, by band.
func (s *PlainScene) through(c PlainChannel, mic Octaves, gain float64, p layout.Point) Octaves {
	total := silence()
	if math.IsNaN(gain) {
		return total
	}
	cut := c.cutDB()
	for i, k := range s.Speakers {
		if off(c.Sends[i]) {
			continue
		}
		o := s.stackAt(k, p)
		for b := range o {
			o[b] += mic[b] + gain + c.Fader + c.Sends[i] - cut[b]
		}
		total = total.with(o)
	}
	return total
}

// WornAt is the loudspeaker sound of a player's mic at a place, by band.
func (s *PlainScene) WornAt(m Musician, p layout.Point) Octaves {
	if m.Mic == nil || !m.Plays || m.NoDot {
		return silence()
	}
	return s.through(m.Mic.PlainChannel, s.wornLevel(m, m.Dynamics), s.WornGain(m), p)
}

// FixedAt is the loudspeaker sound of a fixed mic at a place, by band.
func (s *PlainScene) FixedAt(f FixedEar, p layout.Point) Octaves {
	return s.through(f.PlainChannel, s.FixedLevel(f), s.FixedGain(f), p)
}

// loop is the loop gain of one mic by band.
func (s *PlainScene) loop(c PlainChannel, gain float64, at layout.Point, pattern func(layout.Point) float64) Octaves {
	total := silence()
	if math.IsNaN(gain) {
		return total
	}
	cut := c.cutDB()
	for i, k := range s.Speakers {
		if off(c.Sends[i]) {
			continue
		}
		o := k.attenuation(at)
		for b := range o {
			o[b] += gain + c.Fader + c.Sends[i] + k.Trim + pattern(k.At) - 20*lg(apart(k.At, at)) - cut[b]
		}
		total = total.with(o)
	}
	return total
}

// WornLoop is the loop gain of a player's mic by band. A mic without a place has none.
func (s *PlainScene) WornLoop(m Musician) Octaves {
	if m.Mic == nil || m.NoDot {
		return silence()
	}
	return s.loop(m.Mic.PlainChannel, s.WornGain(m), m.At, func(layout.Point) float64 { return 0 })
}

// FixedLoop is the loop gain of a fixed mic by band.
func (s *PlainScene) FixedLoop(f FixedEar) Octaves {
	return s.loop(f.PlainChannel, s.FixedGain(f), f.At,
		func(p layout.Point) float64 { return s.fixedPattern(f, p) }).plus(f.Ring)
}
