package audible

import (
	"testing"

	"backfield/layout/sound"
)

// BenchmarkVoice is a second of one channel, at rest and while its delay glides.
func BenchmarkVoice(b *testing.B) {
	for name, ms := range map[string]float64{"rest": 0, "glide": 8} {
		b.Run(name, func(b *testing.B) {
			v := NewVoice(Tone(rate, 440, 0), Interpolates, sound.ConstantPower, ChannelSetting{DelayMS: 20})
			left, right := make([]float64, rate/50), make([]float64, rate/50)
			i := 0
			for b.Loop() {
				for range 50 {
					i++
					v.Set(ChannelSetting{DelayMS: 20 + ms*float64(i%1000)/50})
					v.Add(left, right)
				}
			}
		})
	}
}
