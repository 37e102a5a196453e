package audible

import (
	"math"
	"testing"

	"backfield/osc/hold"
)

// Why a fade goes in equal steps of loudness. Each shape is rendered as a run sends it, 50 levels a second in steps of
// 0.1 dB, from off to 0 dB within 3 s. Loudness is Stevens', in quiet and in noise that is 30 dB under the tone: the
// loudness of both less that of the noise, the simplest model of masking. The fastest tenth of the fade against the mean
// says how much it rushes; 1 is even.
func TestFadeSoundsEven(t *testing.T) {
	shapes := map[string]func(part float64) float64{
		"straight in dB": func(part float64) float64 { return -50 + 50*part },
		"in amplitude":   func(part float64) float64 { return 20 * math.Log10(part) },
		"in loudness":    func(part float64) float64 { return hold.FadeLevel(off, 0, part) },
	}
	for _, c := range []struct {
		shape              string
		noiseDB            float64
		faint, fast, slack float64 // share of the time under 5 % of the loudness; the fastest tenth over the mean
	}{
		{"straight in dB", off, 0.13, 2.9, 0.1}, {"straight in dB", -30, 0.45, 3.3, 0.1},
		{"in amplitude", off, 0.01, 2.5, 0.1}, {"in amplitude", -30, 0.04, 1.7, 0.1},
		{"in loudness", off, 0.05, 1.05, 0.02}, {"in loudness", -30, 0.15, 1.19, 0.02},
	} {
		faint, fast := evenness(shapes[c.shape], c.noiseDB)
		t.Logf("%s, noise %g dB: %.0f %% of the time faint, fastest %.2f of the mean", c.shape, c.noiseDB, 100*faint, fast)
		if math.Abs(faint-c.faint) > 0.02 || math.Abs(fast-c.fast) > c.slack {
			t.Errorf("%s, noise %g dB: %.3f of the time faint, fastest %.2f of the mean; want %g and %g", c.shape, c.noiseDB,
				faint, fast, c.faint, c.fast)
		}
	}
}

// evenness renders an opening and measures it.
func evenness(shape func(part float64) float64, noiseDB float64) (faint, fast float64) {
	const seconds, ticks, perTick = 3, 150, 480
	list := []ChannelSetting{{LevelDB: off, Pan: -1}}
	for i := 1; i <= ticks; i++ {
		level := math.Round(10*shape(float64(i)/ticks)) / 10
		list = append(list, ChannelSetting{AtS: float64(i-1) * seconds / ticks, LevelDB: level, Pan: -1})
	}
	y := render(Tone(rate, 1000, 0), Jumps, off, seconds, list...)
	noise := math.Pow(10, noiseDB/10)
	var loud []float64 // at each 10 ms
	for at := 0; at < len(y); at += perTick {
		power := 0.0
		for _, x := range y[at : at+perTick] {
			power += 2 * x * x / perTick
		}
		loud = append(loud, (math.Pow(power+noise, 0.3)-math.Pow(noise, 0.3))/(math.Pow(1+noise, 0.3)-math.Pow(noise, 0.3)))
	}
	const tenth = 30
	for i, l := range loud {
		if l < 0.05 {
			faint += 1 / float64(len(loud))
		}
		before := 0.0
		if i >= tenth {
			before = loud[i-tenth]
		}
		fast = max(fast, (l-before)*float64(len(loud))/tenth)
	}
	return faint, fast
}
