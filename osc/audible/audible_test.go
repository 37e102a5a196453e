package audible

import (
	"math"
	"math/rand/v2"
	"testing"

	"backfield/layout/sound"
)

var off = math.Inf(-1)

// render is the left side of a channel that is panned there: its settings are taken at their times.
func render(of SoundLoop, manner Manner, dipDB, seconds float64, settings ...ChannelSetting) []float64 {
	v := NewVoice(of, manner, sound.Linear, settings[0])
	v.DipDB = dipDB
	left := make([]float64, int(seconds*float64(of.Rate)))
	right := make([]float64, len(left))
	at := 0
	for _, s := range append(settings[1:], ChannelSetting{AtS: seconds}) {
		next := min(int(math.Round(s.AtS*float64(of.Rate))), len(left))
		v.Add(left[at:next], right[at:next])
		v.Set(s)
		at = next
	}
	return left
}

// jump is a change of delay in one message.
func jump(from, to float64) []ChannelSetting {
	return []ChannelSetting{{DelayMS: from, Pan: -1}, {AtS: 0.5, DelayMS: to, Pan: -1}}
}

// glide is half a second of glide in ms/s, from 0.25 s on, rounded to steps in ms and sent 50 times a second.
func glide(slew, step float64) []ChannelSetting {
	list := []ChannelSetting{{DelayMS: 50, Pan: -1}}
	for i := 1; i <= 25; i++ {
		ms := slew * float64(i) / 50
		if step > 0 {
			ms = math.Floor(ms/step+0.5) * step
		}
		list = append(list, ChannelSetting{AtS: 0.25 + float64(i)/50, DelayMS: 50 + ms, Pan: -1})
	}
	return list
}

// figures are the worst splatter in dB and the most bend in cents over the phases of a tone.
func figures(hz int, manner Manner, dipDB float64, settings []ChannelSetting) (dB, bend float64) {
	dB = off
	for i := range 4 { // the other half of a period sounds the same
		y := render(Tone(rate, hz, float64(i)/8), manner, dipDB, 1, settings...)
		dB, bend = max(dB, splatter(y, float64(hz))), max(bend, cents(y, float64(hz)))
	}
	return dB, bend
}

// What a path sounds like on a mixer that interpolates or crossfades, and why nothing else may be sent under a
// signal: jumps, glides on a mixer that jumps, and dips that are not to off are far over the same limits.
func TestPathsAreClean(t *testing.T) {
	for _, hz := range []int{300, 1000} {
		for _, c := range []struct {
			name     string
			manner   Manner
			settings []ChannelSetting
			most     float64 // splatter, dB
			clean    bool    // at most the splatter, and 14 cents; else more than it
		}{
			{"a steady delay", Jumps, glide(0, 0), -88, true},
			{"8 ms/s", Interpolates, glide(8, 0.1), -40, true},
			{"4 ms/s", Interpolates, glide(4, 0.1), -48, true},
			{"8 ms/s, back", Interpolates, glide(-8, 0.1), -40, true},
			{"8 ms/s by crossfades", Crossfades, glide(8, 0.1), -40, true},
			{"8 ms/s where the mixer jumps", Jumps, glide(8, 0.1), -40, false},
			{"4 ms/s where the mixer jumps", Jumps, glide(4, 0.1), -48, false},
			{"a jump of 0.1 ms", Jumps, jump(50, 50.1), -40, false},
			{"a jump of 7.3 ms", Jumps, jump(50, 57.3), -40, false},
			{"a dip of 20 dB", Dips, jump(50, 57.3), -40, false},
		} {
			dB, bend := figures(hz, c.manner, -20, c.settings)
			t.Logf("%d Hz, %s: %.1f dB, %.1f cents", hz, c.name, dB, bend)
			if clean := dB <= c.most && bend <= 14; clean != c.clean {
				t.Errorf("%d Hz, %s: %.1f dB, %.1f cents; clean is %t, want %t", hz, c.name, dB, bend, clean, c.clean)
			}
		}
	}
}

// The figures by which the rules for mixers were chosen, at 1 kHz.
func TestFigures(t *testing.T) {
	for _, c := range []struct {
		name     string
		manner   Manner
		dipDB    float64
		settings []ChannelSetting
		want     float64
	}{
		{"a jump of 0.1 ms", Jumps, off, jump(50, 50.1), -20.1},
		{"a jump of 0.5 ms, half a period", Jumps, off, jump(50, 50.5), -10},
		{"a jump of 1.3 ms", Jumps, off, jump(50, 51.3), -11.8},
		{"a jump of 30.25 ms", Jumps, off, jump(50, 80.25), -12.9},
		{"8 ms/s where the mixer jumps", Jumps, off, glide(8, 0.1), -14.6},
		{"8 ms/s where it interpolates", Interpolates, off, glide(8, 0.1), -45},
		{"8 ms/s without steps", Interpolates, off, glide(8, 0), -47},
		{"4 ms/s without steps", Interpolates, off, glide(4, 0), -53},
		{"a dip of 20 dB", Dips, -20, jump(50, 60.5), -29.9},
		{"a dip of 60 dB", Dips, -60, jump(50, 60.5), -47.1}, // the two ramps of 20 ms
		{"a dip to off", Dips, off, jump(50, 60.5), -47.1},
	} {
		if dB, _ := figures(1000, c.manner, c.dipDB, c.settings); math.Abs(dB-c.want) > 0.3 {
			t.Errorf("%s: %.1f dB, want %.1f", c.name, dB, c.want)
		}
	}
}

// Messages that come up to 10 ms late, as over a network, cost about 6 dB.
func TestLateMessages(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	for range 5 {
		late := glide(8, 0.1)
		for i := range late[1:] {
			late[i+1].AtS += 0.01 * r.Float64()
		}
		if dB, bend := figures(1000, Interpolates, off, late); dB > -39 || bend > 16 {
			t.Errorf("late messages of 8 ms/s: %.1f dB, %.1f cents", dB, bend)
		}
	}
}

// What the renderer itself adds is under -90 dB: for any delay that stays, and for one that glides without steps,
// against the tone as it would be.
func TestRendererIsExact(t *testing.T) {
	for _, hz := range []int{20, 300, 1000, 5000, 12_000, 19_000} {
		for _, c := range []struct {
			manner  Manner
			from    float64
			changes float64 // ms within 20 ms
		}{{Jumps, 0, 0}, {Jumps, 12.34567, 0}, {Jumps, 99.999, 0}, {Jumps, 499.0104, 0}, {Interpolates, 40, 0.2},
			{Interpolates, 10, -1.3}} {
			y := render(Tone(rate, hz, 0.2), c.manner, off, 0.02, ChannelSetting{DelayMS: c.from, Pan: -1},
				ChannelSetting{DelayMS: c.from + c.changes, Pan: -1})
			all, wrong := 0.0, 0.0
			for n, got := range y {
				delay := (c.from + c.changes*float64(n)/(RampS*rate)) / 1000
				want := math.Sin(2 * math.Pi * (float64(hz)*(float64(n)/rate-delay) + 0.2))
				all += want * want
				wrong += (got - want) * (got - want)
			}
			if dB := 10 * math.Log10(wrong/all); dB > -90 {
				t.Errorf("%d Hz at %g ms, moving %g: %.1f dB", hz, c.from, c.changes, dB)
			}
		}
	}
}

// Levels, mutes and pans reach their values within the ramp, without a step; off is silence.
func TestGains(t *testing.T) {
	constant := SoundLoop{1000, []float64{1}}
	v := NewVoice(constant, Jumps, sound.ConstantPower, ChannelSetting{LevelDB: off})
	add := func(n int) (left, right []float64) {
		left, right = make([]float64, n), make([]float64, n)
		v.Add(left, right)
		return left, right
	}
	if l, r := add(5); l[4] != 0 || r[4] != 0 {
		t.Errorf("a channel that is off sounds: %v, %v", l, r)
	}
	last := 0.0
	for _, c := range []struct {
		set         ChannelSetting
		left, right float64
	}{
		{ChannelSetting{LevelDB: -6, Pan: -1}, math.Pow(10, -0.3), 0},
		{ChannelSetting{LevelDB: -6}, math.Pow(10, -0.3) * math.Sqrt2 / 2, math.Pow(10, -0.3) * math.Sqrt2 / 2},
		{ChannelSetting{LevelDB: 0, Pan: 1}, 0, 1},
		{ChannelSetting{LevelDB: 0, Pan: 1, Muted: true}, 0, 0},
		{ChannelSetting{LevelDB: 0, Pan: -1}, 1, 0},
	} {
		v.Set(c.set)
		l, r := add(40)
		for i, x := range l {
			if step := math.Abs(x - last); step > 1.0/20+1e-9 {
				t.Errorf("to %+v: the left goes from %g to %g in sample %d", c.set, last, x, i)
			}
			last = x
		}
		if math.Abs(l[39]-c.left) > 1e-9 || math.Abs(r[39]-c.right) > 1e-9 {
			t.Errorf("%+v ends at %g, %g, want %g, %g", c.set, l[39], r[39], c.left, c.right)
		}
	}
}

// A dip and a crossfade that are asked for another delay meanwhile end with the last one.
func TestLastDelayWins(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	for _, m := range []Manner{Jumps, Interpolates, Crossfades, Dips} {
		for range 20 {
			list := []ChannelSetting{{Pan: -1}}
			for i := range 1 + r.IntN(8) {
				list = append(list, ChannelSetting{AtS: 0.01 * float64(i), DelayMS: r.Float64() * 30, Pan: -1})
			}
			y := render(Tone(rate, 440, 0), m, off, 0.4, list...)
			want := render(Tone(rate, 440, 0), Jumps, off, 0.4, list[len(list)-1])
			for i := len(y) - 100; i < len(y); i++ {
				if math.Abs(y[i]-want[i]) > 1e-9 {
					t.Fatalf("manner %d, %+v: sample %d is %g, want %g", m, list, i, y[i], want[i])
				}
			}
		}
	}
}
