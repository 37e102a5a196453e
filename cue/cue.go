// Package cue has the snapshot, which is the mixer's full state at one moment, and the files that hold it. The packages
// below it read the score and compile it. Code that sends, shows or compares a compiled show needs only this package.
package cue

import (
	"encoding/json"
	"fmt"
	"math"
	"strconv"
)

// ClockTime writes seconds as minutes and seconds to the tenth: "2:07.5".
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
	EndS     float64      `json:"end_s"` // the end of the show, in seconds from its first downbeat
	Rig      UsedRig      `json:"rig"`
	Params   []MixerParam `json:"params,omitempty"` // the mixer's own parameters, as every channel has them
	Cues     []Snapshot   `json:"cues"`
}

// NoCues says what to do about a show without cues, where one is asked for.
const NoCues = "the show has none yet: add [[cue]] entries with id, at and open to show.toml (backfield help score)"

// MixerParam is one of the mixer's own parameters, which mixer.toml adds to those that are computed.
type MixerParam struct {
	Name   string `json:"name"`
	Unit   string `json:"unit,omitempty"` // for people: "dB", "%"
	Switch bool   `json:"switch,omitempty"`
	Fade   bool   `json:"fade,omitempty"` // it moves for as long as the levels do; else it steps
}

// ValueText writes a value of the parameter: "3 dB", "-1.5", "on".
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

// UsedRig is the part of the rig that the numbers depend on, so that a comparison can say why a number changed.
type UsedRig struct {
	LatencyMS float64     `json:"latency_ms"`         // of worn mics
	WiredMS   *float64    `json:"wired_ms,omitempty"` // the same of wired ones; nil for LatencyMS
	LineMS    *float64    `json:"line_ms,omitempty"`  // and of lines
	Reference Location    `json:"reference"`
	Stacks    []UsedStack `json:"stacks"`
	Delay     Settings    `json:"delay"`
}

// Settings are the score's and mixer's settings that all numbers share.
type Settings struct {
	Policy   string  `json:"policy"`
	LeadMS   float64 `json:"lead_ms"`
	WindowMS float64 `json:"window_ms"`
	Seats    int     `json:"seats"`  // in the stands, 0 without
	Feed     string  `json:"feed"`   // stereo or zones
	PanBy    string  `json:"pan_by"` // tangent or stands
	PanLaw   string  `json:"pan_law"`
	PanWidth float64 `json:"pan_width"`
	Moves    Moves   `json:"moves,omitempty"`     // how the mixer's delay may change while it can be heard
	SlewMSPS float64 `json:"slew_ms_s,omitempty"` // the fastest change of an open delay, ms a second
	MarginMS float64 `json:"margin_ms,omitempty"` // how near the window's edges a seat counts in part

	// BoxMS is the show's bound on the arrival gap at the press box, in ms; nil if it has none. Roles and cues may have
	// their own.
	BoxMS *[2]float64 `json:"box_ms,omitempty"`
}

// Location is a point in meters: x from the 50 toward side 2, y from the front sideline toward the back, z up.
type Location struct {
	X float64 `json:"x_m"`
	Y float64 `json:"y_m"`
	Z float64 `json:"z_m"`
}

// UsedStack is one loudspeaker stack as the numbers use it.
type UsedStack struct {
	Name string `json:"name"`
	Location
	Left    float64 `json:"left"`
	Right   float64 `json:"right"`
	TrimDB  float64 `json:"trim_db"`
	DelayMS float64 `json:"delay_ms"`
	Zone    int     `json:"zone,omitempty"` // the bus that feeds it, in a rig with zones
}

// Snapshot is the full state of the mixer's channels at one cue.
type Snapshot struct {
	ID         string    `json:"id"`
	At         string    `json:"at"`       // as written: "1:33", "set 7 + 4"
	Movement   int       `json:"movement"` // from 1
	Count      float64   `json:"count"`    // from 1, the downbeat of the movement
	Set        string    `json:"set"`      // the last set reached by then
	TimeS      float64   `json:"time_s"`
	Name       string    `json:"name"`
	FadeCounts float64   `json:"fade_counts"`        // of the levels that rise or change, and of those that close
	FadeS      float64   `json:"fade_s"`             // the same in seconds, at the written tempo
	FadeOut    *FadeTime `json:"fade_out,omitempty"` // of the channels that close, if it is another; see Closing
	Auto       bool      `json:"auto,omitempty"`     // a cue that goes without a press, some counts after another
	Also       []Extra   `json:"also,omitempty"`     // sent once, when the cue goes, in this order
	Channels   []Channel `json:"channels"`           // by channel number, the same channels in every cue
}

// FadeTime is how long levels take, in counts and in seconds at the written tempo.
type FadeTime struct {
	Counts float64 `json:"counts"`
	S      float64 `json:"s"`
}

// Closing is how long the channels that close take to be silent. They are muted after that.
func (s *Snapshot) Closing() FadeTime {
	if s.FadeOut != nil {
		return *s.FadeOut
	}
	return FadeTime{s.FadeCounts, s.FadeS}
}

// FadeWords says how long the cue fades, in counts and if wanted in seconds: "fade 2 counts (0.91 s), out 8 counts
// (3.64 s)"; "" for a cue that does not.
func (s *Snapshot) FadeWords(seconds bool) string {
	words := func(f FadeTime) string {
		if !seconds {
			return countsText(f.Counts)
		}
		return fmt.Sprintf("%s (%.2f s)", countsText(f.Counts), f.S)
	}
	in, out := FadeTime{s.FadeCounts, s.FadeS}, s.Closing()
	switch {
	case in == out && in.Counts > 0:
		return "fade " + words(in)
	case in == out:
		return ""
	case in.Counts > 0:
		return "fade " + words(in) + ", out " + words(out)
	}
	return "fade out " + words(out)
}

func countsText(n float64) string {
	if n == 1 {
		return "1 count"
	}
	return strconv.FormatFloat(n, 'f', -1, 64) + " counts"
}

// EarlyOpening is a mic that opens before its cue, so that it is up when the cue's count comes. It is in the snapshot
// before that cue, in which the channel is closed until then. Nobody presses for it: the clock opens it at TimeS. It
// has the cue's pan, delay, sends and parameters, which a closed channel has already.
type EarlyOpening struct {
	Movement int     `json:"movement"` // of the cue that it opens for
	Count    float64 `json:"count"`    // of that movement; under 1 in the wait before its downbeat
	TimeS    float64 `json:"time_s"`   // as Snapshot.TimeS
	Player   string  `json:"player"`
	Role     string  `json:"role"`
	LevelDB  Level   `json:"level_db"`
	FadeS    float64 `json:"fade_s"` // at the written tempo; it has ended when the cue's count comes
}

// OpenCostDB is what n open mics cost in gain before feedback compared to one, in dB: 10 log10 n, 3 dB for each
// doubling (common practice, from the incoherent sum of the number of open mics, "NOM").
func OpenCostDB(n int) float64 { return 10 * math.Log10(float64(max(n, 1))) }

// Kinds of mic.
const (
	Worn  = "worn"
	Fixed = "fixed"
)

// Channel is one mixer input in one snapshot. A closed channel has no role and no level; its pan and delay are those
// that it needs next, so that they move while nobody hears it.
type Channel struct {
	Channel  int          `json:"channel"`
	Player   string       `json:"player"`
	Kind     string       `json:"kind"`
	Role     string       `json:"role"`
	Open     bool         `json:"open"`
	LevelDB  Level        `json:"level_db"`
	Pan      float64      `json:"pan"`
	DelayMS  float64      `json:"delay_ms"`
	Place    *float64     `json:"place,omitempty"`  // in a rig with zones: along the row of stacks, 0 the leftmost
	Glide    []Knot       `json:"glide,omitempty"`  // of an open channel, up to the next cue; none where nothing moves
	Sends    []Send       `json:"sends,omitempty"`  // by zone, in a rig with zones; of the place
	Params   []ParamValue `json:"params,omitempty"` // the mixer's own, in the order of Show.Params
	Location              // where the mic is when the cue begins
	End      Location     `json:"end"` // where the mic is when the next snapshot begins

	// Early is of a closed channel that the next cue opens before its count; else nil.
	Early *EarlyOpening `json:"opens_early,omitempty"`

	// SceneMS is the delay that a scene in the mixer holds, where that is not DelayMS: the one of a mixer that moves
	// nothing while the channel is open, in ms. See Snapshot.Scene.
	SceneMS *float64 `json:"scene_delay_ms,omitempty"`

	Fit   *SeatFit `json:"fit,omitempty"` // of an open channel in a show with stands
	Notes []string `json:"notes"`
}

// ParamValue is a channel's value of one of the mixer's own parameters, in that parameter's unit; 1 (on) or 0 for a
// switch.
type ParamValue struct {
	Name  string  `json:"name"`
	Value float64 `json:"value"`
}

// Send is the level that a channel has on the bus of one zone.
type Send struct {
	Zone    int   `json:"zone"`
	LevelDB Level `json:"level_db"`
}

// The parameters that every mixer file maps to addresses. Values come from Channel.Value. A mixer may have parameters of
// its own, which are in Channel.Params.
const (
	ParamMute  = "mute" // 1 closed, 0 open
	ParamLevel = "level"
	ParamPan   = "pan"
	ParamDelay = "delay"
	ParamSend  = "send" // one for each zone: Channel.Sends
)

// Value returns one parameter of the channel, in the parameter's unit (mute 1 or 0, level dB, pan -1 to 1, delay ms, one
// of the mixer's own as in ParamValue). ok is false if the snapshot does not have it.
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

// Level is a level in dB. A closed channel has minus infinity, which is null in JSON.
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

// Find returns the cue with an id.
func (s *Show) Find(id string) (*Snapshot, bool) {
	for i := range s.Cues {
		if s.Cues[i].ID == id {
			return &s.Cues[i], true
		}
	}
	return nil, false
}
