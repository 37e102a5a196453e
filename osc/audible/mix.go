package audible

import (
	"math"

	"backfield/layout/sound"
)

// SoundTrack is a channel with a sound in it and everything that it received, by time. It has at least one setting, which it
// holds from the start.
type SoundTrack struct {
	Sound    SoundLoop
	Settings []ChannelSetting
}

// Mix renders tracks of one rate together, and gives the two sides to a function piece by piece. The pieces belong to
// Mix. Full scale is ±1 for one channel at 0 dB, so the sum may be more.
func Mix(tracks []SoundTrack, manner Manner, law sound.Law, seconds float64, to func(left, right []float64)) {
	if len(tracks) == 0 {
		return
	}
	rate := tracks[0].Sound.Rate
	voices := make([]*Voice, len(tracks))
	taken := make([]int, len(tracks)) // settings
	for i, t := range tracks {
		voices[i], taken[i] = NewVoice(t.Sound, manner, law, t.Settings[0]), 1
	}
	left, right := make([]float64, rate/10), make([]float64, rate/10)
	all := int(math.Round(seconds * float64(rate)))
	for at := 0; at < all; at += len(left) {
		n := min(len(left), all-at)
		clear(left)
		clear(right)
		for i, v := range voices {
			done := 0
			for ; taken[i] < len(tracks[i].Settings); taken[i]++ {
				s := tracks[i].Settings[taken[i]]
				until := int(math.Round(s.AtS*float64(rate))) - at
				if until >= n {
					break
				}
				if until > done {
					v.Add(left[done:until], right[done:until])
					done = until
				}
				v.Set(s)
			}
			v.Add(left[done:n], right[done:n])
		}
		to(left[:n], right[:n])
	}
}
