// Package audible renders what a mixer does to a sound while its delay, level, mute and pan change: clicks, splatter,
// the pitch of a glide, the shape of a fade. Samples in, samples out: it opens no file and reads no clock.
package audible

import (
	"math"

	"backfield/layout/sound"
)

// Manner is how a mixer's delay changes while it sounds.
type Manner int

// The manners.
const (
	Jumps        Manner = iota // at once, between two samples: it clicks
	Interpolates               // the delay goes straight to the new one within RampS, so the pitch bends
	Crossfades                 // the old delay fades out while the new one fades in, within RampS
	Dips                       // it jumps in a dip of DipS, in which nothing sounds
)

// RampS is the time, in s, that a level, a mute or a pan takes to a new value, and a delay that interpolates or
// crossfades. Mixers smooth their controls over a few ms to some tens of ms.
const RampS = 0.020

// DipS is the whole length of a dip in s: RampS down, RampS of silence with the change in its middle, RampS up.
const DipS = 3 * RampS

// SoundLoop is a sound that repeats without end: samples of one period, full scale ±1, and how many there are a second.
type SoundLoop struct {
	Rate    int
	Samples []float64
}

// Tone is a sine of a whole number of Hz with amplitude 1, one second long. phase is that of its first sample, as a
// part of a period.
func Tone(rate, hz int, phase float64) SoundLoop {
	s := make([]float64, rate)
	for i := range s {
		s[i] = math.Sin(2 * math.Pi * (float64(i*hz%rate)/float64(rate) + phase))
	}
	return SoundLoop{rate, s}
}

// ChannelSetting is everything that a mixer holds for a channel from an instant on.
type ChannelSetting struct {
	AtS     float64 // seconds from the start
	DelayMS float64 // at least 0
	LevelDB float64 // minus infinity is off
	Pan     float64 // -1 is left, 1 is right
	Muted   bool
}

// gains are the amplitudes on the left and on the right.
func (s ChannelSetting) gains(law sound.Law) (left, right float64) {
	if s.Muted || math.IsInf(s.LevelDB, -1) {
		return 0, 0
	}
	left, right = law.Gains(s.Pan)
	a := sound.Gain(s.LevelDB)
	return a * left, a * right
}

// Voice is one channel of a mixer with a sound in it. Make one with NewVoice.
type Voice struct {
	DipDB float64 // how deep a dip goes, in dB; minus infinity from the start

	sound  SoundLoop
	manner Manner
	law    sound.Law
	ramp   int // samples of RampS
	tap    tap // at the delay
	old    tap // of a crossfade, at the delay that fades out
	n      int // the next sample

	left, right ramp
	delay       ramp // in samples, also where it goes next
	from        float64
	fade        ramp // of a crossfade: 0 is from, 1 is delay.now
	wanted      float64
	dip         int // samples of a dip that are over; 0 is none
}

// NewVoice puts a sound into a channel that has held its first setting for long.
func NewVoice(of SoundLoop, manner Manner, law sound.Law, first ChannelSetting) *Voice {
	v := &Voice{DipDB: math.Inf(-1), sound: of, manner: manner, law: law, fade: ramp{now: 1, to: 1}}
	v.ramp = max(1, int(math.Round(RampS*float64(of.Rate))))
	v.wanted = v.samples(first)
	v.delay = ramp{now: v.wanted, to: v.wanted}
	l, r := first.gains(law)
	v.left, v.right = ramp{now: l, to: l}, ramp{now: r, to: r}
	return v
}

func (v *Voice) samples(s ChannelSetting) float64 {
	return max(0, s.DelayMS) / 1000 * float64(v.sound.Rate)
}

// Set changes what the channel holds from the next sample on, in the mixer's manner.
func (v *Voice) Set(s ChannelSetting) {
	l, r := s.gains(v.law)
	v.left.aim(l, v.ramp)
	v.right.aim(r, v.ramp)
	v.wanted = v.samples(s)
}

// Add renders the next samples and adds them to the two sides, which are equally long.
func (v *Voice) Add(left, right []float64) {
	for i := range left {
		v.move()
		l, r, dip := v.left.next(), v.right.next(), v.dipGain()
		if l != 0 || r != 0 {
			y := v.heard() * dip
			left[i] += l * y
			right[i] += r * y
		}
		v.delay.next()
		v.fade.next()
		v.n++
	}
}

// move starts what the wanted delay asks for.
func (v *Voice) move() {
	switch v.manner {
	case Jumps:
		v.delay.set(v.wanted)
	case Interpolates:
		v.delay.aim(v.wanted, v.ramp)
	case Crossfades:
		if v.fade.left == 0 && v.delay.to != v.wanted { // one crossfade is finished before the next begins
			v.from = v.delay.to
			v.delay.set(v.wanted)
			v.fade.set(0)
			v.fade.aim(1, v.ramp)
		}
	case Dips:
		switch {
		case v.dip > 0:
			v.dip++
			if v.dip == v.ramp*3/2 {
				v.delay.set(v.wanted)
			}
			if v.dip > 3*v.ramp {
				v.dip = 0
			}
		case v.delay.to != v.wanted:
			v.dip = 1
		}
	}
}

// dipGain is the amplitude that a dip leaves.
func (v *Voice) dipGain() float64 {
	if v.dip == 0 {
		return 1
	}
	part := min(float64(v.dip), float64(3*v.ramp-v.dip), float64(v.ramp)) / float64(v.ramp) // 0 outside, 1 inside
	return 1 - part*(1-sound.Gain(v.DipDB))
}

// heard is the sound at the delay's output.
func (v *Voice) heard() float64 {
	y := v.tap.at(v.sound.Samples, v.n, v.delay.now)
	if v.fade.now < 1 {
		y = v.fade.now*y + (1-v.fade.now)*v.old.at(v.sound.Samples, v.n, v.from)
	}
	return y
}

// ramp is a value that goes straight to another.
type ramp struct {
	now, to, step float64
	left          int // samples until it is there
}

func (r *ramp) set(v float64) { *r = ramp{now: v, to: v} }

// aim starts toward a value, to be there after some samples. It changes nothing if the value goes there already.
func (r *ramp) aim(to float64, samples int) {
	if to != r.to {
		r.to, r.step, r.left = to, (to-r.now)/float64(samples), samples
	}
}

// next is the value now; then it moves on by a sample.
func (r *ramp) next() (now float64) {
	now = r.now
	switch {
	case r.left > 1:
		r.now += r.step
		r.left--
	case r.left == 1:
		r.now, r.left = r.to, 0
	}
	return now
}
