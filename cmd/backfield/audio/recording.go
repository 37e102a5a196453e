package audio

import (
	"fmt"
	"io"
	"math"
	"slices"
	"time"

	"backfield/cue"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/audible"
	"backfield/osc/mixer"
	"backfield/osc/virtual"
	"backfield/osc/wave"
)

// Limits, so that a mixer that runs for hours does not fill the memory.
const (
	maxLength   = 10 * time.Minute
	maxSettings = 1_000_000 // of all channels: 10 minutes at more than a thousand messages a second
	maxTracks   = 64
	leadS       = 0.25 // before the first channel opens
)

// scale is the scale of the channels' own tones in Hz: a pentatonic one from A3 up, over four octaves.
var scale = []int{
	220, 247, 277, 330, 370, 440, 494, 554, 659, 740, 880, 988, 1109, 1319, 1480, 1760, 1976, 2217, 2637, 2960,
}

// toneOf is the tone in Hz of the i-th channel that opens, different for each of maxTracks: those after the scale's end
// are a little sharp.
func toneOf(i int) (hz int) { return scale[i%len(scale)] + 7*(i/len(scale)) }

// Recording is what a simulated mixer received, from the first channel that opens on. Make one with NewRecording.
type Recording struct {
	mixer    *mixer.Mixer
	law      sound.Law
	own      *audible.SoundLoop // nil: a tone for each channel
	channels map[int]*recorded
	order    []int // the channels with a track, as they opened
	zones    int   // the highest zone with a send so far

	began    time.Time // zero before the first channel opens
	settings int       // of all tracks
	full     time.Time // from when on nothing is kept; zero before that
	more     int       // channels without a track, since there are too many
}

// recorded is one channel.
type recorded struct {
	now      audible.ChannelSetting
	sends    map[int]float64 // by zone, in dB
	settings []audible.ChannelSetting
	missing  bool // it opened when there were maxTracks already
}

// NewRecording makes a recording for a mixer with nothing in it, whose delay moves as its file says. own is what plays on
// every channel, nil for tones.
func NewRecording(d *mixer.Mixer, law sound.Law, own *audible.SoundLoop) *Recording {
	return &Recording{mixer: d, law: law, own: own, channels: map[int]*recorded{}}
}

// Start takes all values that the mixer has when it starts, also after a reboot.
func (r *Recording) Start(now time.Time, s virtual.DeviceState) {
	for _, c := range s.Channels {
		x := r.channel(c.Channel)
		x.now = audible.ChannelSetting{LevelDB: float64(c.LevelDB), Muted: !c.Open}
		if c.Pan != nil {
			x.now.Pan = *c.Pan
		}
		if c.DelayMS != nil {
			x.now.DelayMS = *c.DelayMS
		}
		x.sends = nil
		r.note(now, c.Channel, x)
	}
}

// Take takes a value that the mixer took.
func (r *Recording) Take(now time.Time, m osc.Message) {
	place, known := r.mixer.Find(m.Address)
	if !known || len(m.Args) != 1 {
		return
	}
	v, known := r.mixer.Value(place.Param, m.Args[0])
	if !known {
		return
	}
	c := r.channel(place.Channel)
	switch place.Param {
	case cue.ParamMute:
		c.now.Muted = v != 0
	case cue.ParamLevel:
		c.now.LevelDB = v
	case cue.ParamPan:
		c.now.Pan = v
	case cue.ParamDelay:
		c.now.DelayMS = v
	case cue.ParamSend:
		if c.sends == nil {
			c.sends = map[int]float64{}
		}
		c.sends[place.Zone] = v
		r.zones = max(r.zones, place.Zone)
	default:
		return
	}
	r.note(now, place.Channel, c)
}

func (r *Recording) channel(n int) *recorded {
	c := r.channels[n]
	if c == nil {
		c = &recorded{now: audible.ChannelSetting{LevelDB: math.Inf(-1), Muted: true}}
		r.channels[n] = c
	}
	return c
}

// note keeps what a channel holds from now on, if it was heard before or is heard now.
func (r *Recording) note(now time.Time, n int, c *recorded) {
	s := r.inStereo(c)
	heard := !s.Muted && !math.IsInf(s.LevelDB, -1)
	if c.settings == nil && (!heard || c.missing) {
		return
	}
	if r.began.IsZero() {
		r.began = now
	}
	since := now.Sub(r.began)
	if r.full.IsZero() && (since > maxLength || r.settings >= maxSettings) {
		r.full = now
	}
	if !r.full.IsZero() {
		return
	}
	if c.settings == nil {
		if len(r.order) == maxTracks {
			c.missing = true
			r.more++
			return
		}
		r.order = append(r.order, n)
		before := s
		before.Muted = true
		c.settings = []audible.ChannelSetting{before}
	}
	s.AtS = leadS + since.Seconds()
	if last := &c.settings[len(c.settings)-1]; last.AtS == s.AtS && len(c.settings) > 1 {
		*last = s // of one packet only the end is heard
		return
	}
	c.settings = append(c.settings, s)
	r.settings++
}

// inStereo is what a channel holds. Sends to zones become a pan and a level: the zones stand from left to right, by
// number.
func (r *Recording) inStereo(c *recorded) audible.ChannelSetting {
	s := c.now
	if len(c.sends) == 0 {
		return s
	}
	left, right := 0.0, 0.0
	for zone := 1; zone <= r.zones; zone++ {
		dB, known := c.sends[zone]
		if !known || math.IsInf(dB, -1) {
			continue
		}
		place := 0.0
		if r.zones > 1 {
			place = 2*float64(zone-1)/float64(r.zones-1) - 1
		}
		l, r := sound.ConstantPower.Gains(place)
		left += l * sound.Gain(dB)
		right += r * sound.Gain(dB)
	}
	s.Pan = math.Atan2(right, left)*4/math.Pi - 1
	s.LevelDB += 20 * math.Log10(math.Hypot(left, right))
	return s
}

// Write renders the recording up to an instant and writes the file, then says what is in it. Without an open channel
// there is no file.
func (r *Recording) Write(path string, end time.Time, say io.Writer) error {
	if len(r.order) == 0 {
		fmt.Fprintf(say, "no channel opened, so there is nothing to hear: %s was not written\n", path)
		return nil
	}
	manner := audible.Jumps
	if r.mixer.Moves == cue.Glides {
		manner = audible.Interpolates
	}
	law := r.law
	if r.zones > 0 {
		law = sound.ConstantPower
	}
	var tracks []audible.SoundTrack
	for i, n := range r.order {
		of := r.own
		if of == nil {
			tone := audible.Tone(rate, toneOf(i), 0)
			of = &tone
		}
		tracks = append(tracks, audible.SoundTrack{Sound: *of, Settings: r.channels[n].settings})
	}
	kept := end
	if !r.full.IsZero() {
		kept = r.full
	}
	length := leadS + min(kept.Sub(r.began), maxLength).Seconds()
	hz := tracks[0].Sound.Rate
	file := wave.NewStereo(hz, int(length*float64(hz))+1)
	fmt.Fprintf(say, "rendering %s of sound\n", cue.ClockTime(length))
	audible.Mix(tracks, manner, law, length, into(file))
	if err := write(path, file); err != nil {
		return err
	}
	r.report(path, length, leadS+end.Sub(r.began).Seconds()-length, file.Clipped, say)
	return nil
}

// report says what is in the file: how long it is, and how much of the run is missing at its end, in s.
func (r *Recording) report(path string, length, missing float64, clipped int, say io.Writer) {
	fmt.Fprintf(say, "%s: %s of sound, %s\n", path, cue.ClockTime(length),
		source.Count(float64(len(r.order)), "channel"))
	if r.own == nil {
		for _, n := range slices.Sorted(slices.Values(r.order)) {
			fmt.Fprintf(say, "  channel %d is the tone of %d Hz\n", n, toneOf(slices.Index(r.order, n)))
		}
	}
	if missing > 0.05 {
		fmt.Fprintf(say, "the recording was full at %s: the %s after that are not in it\n",
			cue.ClockTime(length), cue.ClockTime(missing))
	}
	if r.more > 0 {
		fmt.Fprintf(say, "%s opened when %d had: not in the file\n", source.Count(float64(r.more), "channel"),
			maxTracks)
	}
	if clipped > 0 {
		fmt.Fprintf(say, "the channels add up to more than the file can hold: %s cut off, which distorts\n",
			source.Count(float64(clipped), "sample")+" were")
	}
}
