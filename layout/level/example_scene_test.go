package level_test

import (
	"math"
	"testing"

	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// near fails where a value is off by more than tol.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > tol {
		t.Errorf("%s: %.4f, want %.4f", what, got, want)
	}
}

// half is what a number printed with two digits may be off by, and a bit.
const half = 0.0051

func instrument(name string) *level.Instrument {
	i, ok := level.InstrumentByName(name)
	if !ok {
		panic(name)
	}
	return i
}

// panned are the sends of a pan to the stacks left and right, under the constant-power law.
func panned(pan float64) []float64 {
	l, r := sound.ConstantPower.Gains(pan)
	return []float64{level.StereoSendDB(1, 0, l, r), level.StereoSendDB(0, 1, l, r)}
}

// The small scene of the worked examples 9 to 12.
var (
	smallBox    = layout.Point{X: 0, Y: -36.576, Z: 18.288}
	smallStacks = []level.AimedStack{
		level.DefaultStack(layout.Point{X: -24, Y: -2, Z: 2.5}, layout.Point{X: -27.6, Y: -28, Z: 10}),
		level.DefaultStack(layout.Point{X: 24, Y: -2, Z: 2.5}, layout.Point{X: 27.6, Y: -28, Z: 10}),
	}
	smallSeats = []stands.Seat{
		{At: layout.Point{X: -20, Y: -14, Z: 3}, Weight: 1}, {At: layout.Point{X: 0, Y: -20, Z: 6}, Weight: 2},
		{At: layout.Point{X: 25, Y: -40, Z: 17}, Weight: 1}, {At: layout.Point{X: 0, Y: -44, Z: 19}, Weight: 1},
	}
)

func smallStadium(nominal, band float64) *level.Stadium {
	return level.NewStadium(level.Conditions{Air: level.Air{C: 24, HumidityPct: 50}, Box: smallBox, Seats: smallSeats,
		Stacks: smallStacks, BellUpDeg: 10, NominalDB: nominal, BandDB: band})
}

func smallScene(band float64) *level.Playing {
	at := func(x, y, z float64) layout.Point { return layout.Point{X: x, Y: y, Z: z} }
	return &level.Playing{
		Performers: []level.Performer{
			{Name: "T", Section: "trumpet", Instrument: instrument("trumpet"), At: at(0, 2.86, 1.5), Featured: true},
			{Name: "B1", Section: "baritone", Instrument: instrument("baritone"), At: at(-6, 20, 1.5), DynamicsDB: -4},
			{Name: "B2", Section: "baritone", Instrument: instrument("baritone"), At: at(6, 20, 1.5), DynamicsDB: -4},
			{Name: "B3", Section: "baritone", Instrument: instrument("baritone"), At: at(12, 21, 1.5), DynamicsDB: -4,
				Facing: level.FacingDeg(30)},
			{Name: "U", Section: "tuba", Instrument: instrument("tuba"), At: at(0, 24, 1.7), DynamicsDB: -4,
				Facing: level.Back},
			{Name: "S", Section: "snare", Instrument: instrument("snare"), At: at(3, 30, 1), DynamicsDB: -12},
		},
		Worn: []level.WornMic{
			{Strip: level.Strip{Name: "T", FaderDB: -3, SendDB: panned(0)}, Wearer: 0, FromBellM: 0.12},
			{Strip: level.Strip{Name: "B1", FaderDB: -12, SendDB: panned(-0.2)}, Wearer: 1,
				FromBellM: 0.12},
		},
		Fixed: []level.FixedMic{{Strip: level.Strip{Name: "field", FaderDB: -9, SendDB: panned(0)}, Kind: "field",
			At: at(0, -0.6, 1.2), OmniShare: level.CardioidMic, Facing: level.Back, HighestDB: 80 + band}},
	}
}
