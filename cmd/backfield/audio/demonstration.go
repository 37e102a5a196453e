package audio

import (
	"fmt"
	"io"
	"math"

	"backfield/cue"
	"backfield/layout/sound"
	"backfield/osc/audible"
	"backfield/osc/hold"
	"backfield/osc/wave"
)

// example is a part of the demonstration.
type example struct {
	title    string
	manner   audible.Manner
	seconds  float64
	settings []audible.ChannelSetting
}

const (
	ticks  = 50   // messages a second
	fromMS = 20   // delay at the start
	jumpMS = 10.5 // at 500 Hz no whole number of periods, which could not be heard
	slew   = 8    // ms a second, the fastest glide of a path unless the score says otherwise
	gapS   = 1    // silence between two examples
)

// examples are what a crew should know by ear.
func examples() []example {
	off := math.Inf(-1)
	even := func(part float64) float64 { return hold.FadeLevel(off, 0, part) }
	straight := func(part float64) float64 { return -50 + 50*part }
	return []example{
		{"as it is: nothing changes", audible.Jumps, 3, jump(0)},
		{"one jump of 10.5 ms, on a mixer that clicks", audible.Jumps, 3, jump(jumpMS)},
		{"a glide of 8 ms a second, on a mixer that clicks", audible.Jumps, 4, glide()},
		{"the same glide, on a mixer that interpolates", audible.Interpolates, 4, glide()},
		{"the same glide, on a mixer that crossfades", audible.Crossfades, 4, glide()},
		{"a jump of 10.5 ms in a dip of 60 ms", audible.Dips, 3, jump(jumpMS)},
		{"a fade in and out, in equal steps of loudness, as in a run", audible.Jumps, 8, fade(even)},
		{"a fade in and out, straight in dB from -50", audible.Jumps, 8, fade(straight)},
	}
}

func jump(ms float64) []audible.ChannelSetting {
	return []audible.ChannelSetting{{DelayMS: fromMS}, {AtS: 1.5, DelayMS: fromMS + ms}}
}

// glide is 2 s long, in the steps of a path.
func glide() []audible.ChannelSetting {
	list := []audible.ChannelSetting{{DelayMS: fromMS}}
	for i := 1; i <= 2*ticks; i++ {
		ms := math.Round(slew*float64(i)/ticks*10) / 10
		list = append(list, audible.ChannelSetting{AtS: 1 + float64(i)/ticks, DelayMS: fromMS + ms})
	}
	return list
}

// fade goes up for 3 s and down for 3 s, with 1 s before and between.
func fade(shape func(part float64) float64) []audible.ChannelSetting {
	const seconds = 3
	list := []audible.ChannelSetting{{LevelDB: math.Inf(-1)}}
	for i := 1; i <= seconds*ticks; i++ {
		part := float64(i) / (seconds * ticks)
		list = append(list, audible.ChannelSetting{AtS: 1 + seconds*part, LevelDB: shape(part)})
	}
	for i := 1; i <= seconds*ticks; i++ {
		part := float64(i) / (seconds * ticks)
		list = append(list, audible.ChannelSetting{AtS: 2 + seconds + seconds*part, LevelDB: shape(1 - part)})
	}
	list[len(list)-1].LevelDB = math.Inf(-1)
	return list
}

// Demonstrate writes a file in which a tone, and then the user's own sound if there is one, goes through the examples,
// and lists them with their times.
func Demonstrate(path string, own *audible.SoundLoop, list io.Writer) error {
	hz := rate
	if own != nil {
		hz = own.Rate
	}
	file := wave.NewStereo(hz, 90*hz)
	at := 0.0
	play := func(name string, of audible.SoundLoop) {
		for _, x := range examples() {
			fmt.Fprintf(list, "%8s  %s: %s\n", cue.ClockTime(at), name, x.title)
			track := audible.SoundTrack{Sound: of, Settings: x.settings}
			audible.Mix([]audible.SoundTrack{track}, x.manner, sound.ConstantPower, x.seconds, into(file))
			file.Add(make([]float64, gapS*hz), make([]float64, gapS*hz))
			at += x.seconds + gapS
		}
	}
	play("tone", audible.Tone(hz, 500, 0))
	if own != nil {
		play("your sound", *own)
	}
	if err := write(path, file); err != nil {
		return err
	}
	fmt.Fprintf(list, "%8s  end of %s\n", cue.ClockTime(at), path)
	return nil
}
