// Package cue holds the picture at one moment: the snapshot, and its text form. The sub-rooms read the
// score and compile it; whatever sends, shows or compares a compiled show needs only this package.
package cue

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
)

// ClockTime words seconds as minutes and seconds to the tenth: "2:07.5".
func ClockTime(s float64) string {
	n := int(math.Round(math.Abs(s) * 10))
	sign := ""
	if s < 0 && n > 0 {
		sign = "-"
	}
	return fmt.Sprintf("%s%d:%02d.%d", sign, n/600, n/10%60, n%10)
}

// Show is a compiled show: every cue's full state, and the rig that it was computed for.
type Show struct {
	Format   int          `json:"format"`
	Title    string       `json:"show"`
	Venue    string       `json:"venue"`
	AirC     float64      `json:"air_c"`
	SoundMPS float64      `json:"sound_mps"`
	EndS     float64      `json:"end_s"` // of the show, in seconds since its first downbeat
	Rig      UsedRig      `json:"rig"`
	Params   []MixerParam `json:"params,omitempty"` // the mixer's own parameters, as every channel has them
	Cues     []Snapshot   `json:"cues"`
}

// Own is a parameter that the mixer file has of its own, besides those that are computed.
type MixerParam struct {
	Name   string `json:"name"`
	Unit   string `json:"unit,omitempty"` // for people: "dB", "%"
	Switch bool   `json:"switch,omitempty"`
	Fade   bool   `json:"fade,omitempty"` // it moves as long as the levels do; else it steps
}

// Words is a value of the parameter for people: "3 dB", "-1.5", "on".
func (o MixerParam) ValueText(v float64) string {
	switch {
	case o.Switch && v != 0:
		return "on"
	case o.Switch:
		return "off"
	}
	text := strconv.FormatFloat(v, 'f', -1, 64)
	if o.Unit != "" {
		text += " " + o.Unit
	}
	return text
}

// Rig is what of the rig the numbers depend on, so that a comparison can say why a number moved.
type UsedRig struct {
	LatencyMS float64     `json:"latency_ms"`
	Reference Location    `json:"reference"`
	Stacks    []UsedStack `json:"stacks"`
	Delay     Settings    `json:"delay"`
}

// Settings are the score's and mixer's settings that all numbers share.
type Settings struct {
	Policy   string  `json:"policy"`
	LeadMS   float64 `json:"lead_ms"`
	WindowMS float64 `json:"window_ms"`
	Seats    int     `json:"seats"`  // of the stand
	Feed     string  `json:"feed"`   // stereo or zones
	PanBy    string  `json:"pan_by"` // tangent or stand-fit
	PanLaw   string  `json:"pan_law"`
	PanWidth float64 `json:"pan_width"`
}

// Place is a point in metres: x from the 50 towards side 2, y from the front sideline towards the back, z up.
type Location struct {
	X float64 `json:"x_m"`
	Y float64 `json:"y_m"`
	Z float64 `json:"z_m"`
}

// Stack is one loudspeaker position as it was used.
type UsedStack struct {
	Name string `json:"name"`
	Location
	Left    float64 `json:"left"`
	Right   float64 `json:"right"`
	TrimDB  float64 `json:"trim_db"`
	DelayMS float64 `json:"delay_ms"`
	Zone    int     `json:"zone,omitempty"` // the bus that feeds it, in a rig with zones
}

// Snapshot is the full state of the mixer's channels that one cue stands for.
type Snapshot struct {
	ID         string    `json:"id"`
	At         string    `json:"at"`       // as written: "1:33", "set 7 + 4"
	Movement   int       `json:"movement"` // from 1
	Count      float64   `json:"count"`    // from 1, the downbeat of the movement
	Set        string    `json:"set"`      // the set reached at or before this moment
	TimeS      float64   `json:"time_s"`
	Name       string    `json:"name"`
	FadeCounts float64   `json:"fade_counts"`
	FadeS      float64   `json:"fade_s"`
	Waypoint   bool      `json:"follow_on"`
	Auto       bool      `json:"auto,omitempty"` // a cue of the score that goes by itself, some counts after another
	Also       []Extra   `json:"also,omitempty"` // sent once, when it goes, in this order
	Channels   []Channel `json:"channels"`       // by channel number, the same channels in every cue
}

// MeanInside is the mean share of seats inside the window over the open worn mics, each weighing as long as it is
// open; ok is false where there is no stand or nobody opens.
func (s *Show) MeanInTime() (share float64, ok bool) {
	sum, total := 0.0, 0.0
	for i := range s.Cues {
		end := s.EndS
		if i+1 < len(s.Cues) {
			end = s.Cues[i+1].TimeS
		}
		holdsS := max(end-s.Cues[i].TimeS, 0)
		for _, ch := range s.Cues[i].Channels {
			if ch.Fit != nil && ch.Kind == Worn {
				sum, total = sum+holdsS*ch.Fit.InTime, total+holdsS
			}
		}
	}
	return sum / total, total > 0
}

// OpenCostDB is what n open mics cost in gain before feedback against one: 10 log10 n, 3 dB for each doubling
// (common practice, from the incoherent sum of the number of open mics, "NOM").
func OpenCostDB(n int) float64 { return 10 * math.Log10(float64(max(n, 1))) }

// Kinds of mic.
const (
	Worn  = "worn"
	Fixed = "fixed"
)

// Channel is one mixer input in one snapshot. A closed channel has no role and no level; its pan and delay
// are those that it will need next, so that they move while nobody hears it.
type Channel struct {
	Channel  int          `json:"channel"`
	Player   string       `json:"player"`
	Kind     string       `json:"kind"`
	Role     string       `json:"role"`
	Open     bool         `json:"open"`
	LevelDB  Level        `json:"level_db"`
	Pan      float64      `json:"pan"`
	DelayMS  float64      `json:"delay_ms"`
	Sends    []Send       `json:"sends,omitempty"`  // of a rig whose stacks hang on buses of their own, by zone
	Params   []ParamValue `json:"params,omitempty"` // the mixer's own, in the order of Show.Params
	Location              // where the mic is when the cue begins
	End      Location     `json:"end"`           // where it is when the next cue begins
	Fit      *SeatFit     `json:"fit,omitempty"` // of an open channel, where there is a stand
	Notes    []string     `json:"notes"`
}

// Param is what a channel has of one of the mixer's own parameters, in that parameter's own unit; of a switch 1 (on) or
// 0.
type ParamValue struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
}

// Send is the level that a channel has on the bus of one zone.
type Send struct {
	Zone    int   `json:"zone"`
	LevelDB Level `json:"level_db"`
}

// Fit is how a delay serves the stand: shares of the seats that hear the loudspeaker inside the window, ahead
// of the player (early), or more than the window behind him (late), the worst of either (late beyond the
// window), and the median lateness. Over all seats and the whole time that the snapshot holds.
type SeatFit struct {
	InTime       float64 `json:"inside"`
	Early        float64 `json:"early"`
	Late         float64 `json:"late"`
	WorstEarlyMS float64 `json:"worst_early_ms"`
	WorstLateMS  float64 `json:"worst_late_ms"`
	MedianMS     float64 `json:"median_ms"`
}

// Parameter names: what a mixer file maps to addresses. Values come from Channel.Value. A mixer may have others of its
// own, which are in Channel.Params.
const (
	ParamMute  = "mute" // 1 closed, 0 open
	ParamLevel = "level"
	ParamPan   = "pan"
	ParamDelay = "delay"
	ParamSend  = "send" // one for each zone: Channel.Sends
)

// Value returns what the snapshot wants of one mixer parameter of the channel, in the parameter's own unit
// (mute 1 or 0, level dB, pan -1 to 1, delay ms, one of the mixer's own as Param has it); ok is false for a parameter
// that the snapshot lacks.
func (c *Channel) Value(param string) (v float64, ok bool) {
	switch param {
	case ParamMute:
		if c.Open {
			return 0, true
		}
		return 1, true
	case ParamLevel:
		return float64(c.LevelDB), true
	case ParamPan:
		return c.Pan, true
	case ParamDelay:
		return c.DelayMS, true
	}
	for _, x := range c.Params {
		if x.Name == param {
			return x.Value, true
		}
	}
	return 0, false
}

// Level is a level in dB; minus infinity is a closed channel's, and null in JSON.
type Level float64

// Silent is the level of a closed channel.
var Silent = Level(math.Inf(-1))

// MarshalJSON writes null for a closed channel.
func (l Level) MarshalJSON() ([]byte, error) {
	if math.IsInf(float64(l), -1) {
		return []byte("null"), nil
	}
	return json.Marshal(float64(l))
}

// UnmarshalJSON reads what MarshalJSON writes.
func (l *Level) UnmarshalJSON(b []byte) error {
	if string(b) == "null" {
		*l = Silent
		return nil
	}
	return json.Unmarshal(b, (*float64)(l))
}

// Find returns the cue of that id.
func (s *Show) Find(id string) (*Snapshot, bool) {
	for i := range s.Cues {
		if s.Cues[i].ID == id {
			return &s.Cues[i], true
		}
	}
	return nil, false
}
