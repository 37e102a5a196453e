package cue

import (
	"encoding/json"
	"math"
)

// Knot is an open channel's values at one moment after its cue. From knot to knot they go straight in counts; where
// the movement changes between two knots, straight in seconds.
type Knot struct {
	Movement int      `json:"movement,omitempty"` // from 1; in a file only where it is not the cue's
	Count    float64  `json:"count"`              // from 1, of that movement
	TimeS    float64  `json:"time_s"`             // at the written tempo, as Snapshot.TimeS
	DelayMS  float64  `json:"delay_ms"`           // see Moves
	Pan      float64  `json:"pan"`                // in stereo
	Place    *float64 `json:"place,omitempty"`    // in a rig with zones, as Channel.Place; else nil
	LevelDB  *Level   `json:"level_db,omitempty"` // where the make-up moves the level; else nil
}

// MarshalJSON writes the pan or the place, whichever the rig has.
func (k Knot) MarshalJSON() ([]byte, error) {
	type fields Knot
	x := struct {
		fields
		Pan *float64 `json:"pan,omitempty"`
	}{fields: fields(k)}
	if k.Place == nil {
		x.Pan = &k.Pan
	}
	return json.Marshal(x)
}

// Moves says how a mixer's delay may change while it can be heard.
type Moves string

// The kinds of mixers.
const (
	Glides  Moves = "glide"  // it interpolates or crossfades: the delay goes straight from knot to knot
	AtCues  Moves = "cues"   // it clicks: a knot's delay holds from there on, and may change at a cue of the score
	Closed  Moves = "closed" // it clicks: the delay moves only while the channel is closed
	Stepped Moves = ""       // a show of format 1: everything holds from one knot to the next
)

// Gliding is what glides of an open channel, at one instant.
type Gliding struct {
	DelayMS float64
	Pan     float64
	Place   float64
	LevelDB Level
}

// Gliding is what glides of a channel at its snapshot's moment.
func (c *Channel) Gliding() Gliding {
	at := Gliding{DelayMS: c.DelayMS, Pan: c.Pan, LevelDB: c.LevelDB}
	if c.Place != nil {
		at.Place = *c.Place
	}
	return at
}

// CountsBetween is the number of counts from one time of the show to another, at the written tempo.
type CountsBetween func(fromS, toS float64) float64

// GlideAt is what glides of an open channel of a snapshot, at a time of the show. Before the snapshot's moment it is the
// snapshot's values, after the last knot that knot's. counts may be nil: then all lines are straight in seconds.
func (s *Snapshot) GlideAt(c *Channel, timeS float64, moves Moves, counts CountsBetween) Gliding {
	at := c.Gliding()
	fromS, movement := s.TimeS, s.Movement
	for _, k := range c.Glide {
		to := k.after(at)
		if timeS < k.TimeS {
			return at.toward(to, part(fromS, timeS, k.TimeS, movement == k.Movement, counts), moves)
		}
		at, fromS, movement = to, k.TimeS, k.Movement
	}
	return at
}

// GlideAtCount is GlideAt for a count of a movement.
func (s *Snapshot) GlideAtCount(c *Channel, movement int, count float64, moves Moves) Gliding {
	at := c.Gliding()
	fromMovement, from := s.Movement, s.Count
	for _, k := range c.Glide {
		to := k.after(at)
		if movement < k.Movement || movement == k.Movement && count < k.Count {
			part := 0.0
			if fromMovement == k.Movement && k.Count > from {
				part = max(0, min((count-from)/(k.Count-from), 1))
			}
			return at.toward(to, part, moves)
		}
		at, fromMovement, from = to, k.Movement, k.Count
	}
	return at
}

// after is the knot's values, after those at the knot before: a knot without a place or a level keeps them.
func (k *Knot) after(before Gliding) Gliding {
	to := Gliding{DelayMS: k.DelayMS, Pan: k.Pan, Place: before.Place, LevelDB: before.LevelDB}
	if k.Place != nil {
		to.Place = *k.Place
	}
	if k.LevelDB != nil {
		to.LevelDB = *k.LevelDB
	}
	return to
}

// part is how far a time is on the way from one to another, 0 to 1: in counts within a movement, else in seconds.
func part(fromS, atS, toS float64, inMovement bool, counts CountsBetween) float64 {
	done, all := atS-fromS, toS-fromS
	if inMovement && counts != nil {
		done, all = counts(fromS, atS), counts(fromS, toS)
	}
	if !(all > 0) {
		return 0
	}
	return max(0, min(done/all, 1))
}

// toward is the values a part of the way to the next knot's.
func (g Gliding) toward(to Gliding, part float64, moves Moves) Gliding {
	if moves == Stepped {
		return g
	}
	line := func(a, b float64) float64 { return a + (b-a)*part }
	if moves == Glides {
		g.DelayMS = line(g.DelayMS, to.DelayMS)
	}
	g.Pan, g.Place = line(g.Pan, to.Pan), line(g.Place, to.Place)
	if g.LevelDB != to.LevelDB {
		g.LevelDB = Level(line(float64(g.LevelDB), float64(to.LevelDB)))
	}
	return g
}

// PlaceSends are the amplitudes of the sends to n stacks, from left to right, that a place along their row stands for:
// stack k gets cos(90 deg f) and stack k + 1 sin(90 deg f), k the whole part of the place and f the rest. Their powers
// add up to 1 (constant power).
func PlaceSends(place float64, n int) []float64 {
	sends := make([]float64, n)
	if n == 0 {
		return sends
	}
	k := int(max(0, min(math.Floor(place), float64(n-1))))
	f := max(0, min(place-float64(k), 1))
	if k == n-1 || f == 0 {
		sends[k] = 1
		return sends
	}
	sends[k], sends[k+1] = math.Cos(f*math.Pi/2), math.Sin(f*math.Pi/2)
	return sends
}
