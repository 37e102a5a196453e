package trigger

import (
	"math"
	"strings"
	"testing"

	"backfield/osc"
	"backfield/osc/run"
	"backfield/osc/wire"
)

func m(address string, args ...osc.Arg) osc.Message { return osc.Message{Address: address, Args: args} }

func TestMessage(t *testing.T) {
	f32 := func(v float64) osc.Arg { return osc.Float32(float32(v)) }
	for _, x := range []struct {
		m    osc.Message
		want string // the command, "" for none, or "error: " and what it says
	}{
		{m("/backfield/go"), "go"},
		{m("/backfield/go", osc.Int32(1)), "go"},
		{m("/backfield/go", osc.Int64(-1)), `error: one number, not below 0, or boolean; it came with "-1"`},
		{m("/backfield/unhush", f32(-0.5)), "error: not below 0"},
		{m("/backfield/hush", osc.Int32(-1)), "hush"},
		{m("/backfield/go", f32(0.25)), "go"},
		{m("/backfield/go", osc.Float64(1.0)), "go"},
		{m("/backfield/go", osc.Bool(true)), "go"},
		{m("/backfield/go", osc.Float64(math.Inf(1))), "go"},
		{m("/backfield/go", osc.Bool(false)), ""},
		{m("/backfield/go", osc.Int32(0)), ""},
		{m("/backfield/go", osc.Int64(0)), ""},
		{m("/backfield/go", f32(0)), ""},
		{m("/backfield/hush", osc.Float64(math.Copysign(0, -1))), ""},
		{m("/backfield/go", osc.Float64(math.NaN())), "error: /backfield/go takes no argument, or a button's"},
		{m("/backfield/go", f32(math.NaN())), "error: takes no argument"},
		{m("/backfield/go", osc.String("1")), "error: takes no argument"},
		{m("/backfield/go", osc.Int32(1), osc.Int32(1)), "error: takes no argument"},
		{m("/backfield/back"), "back"},
		{m("/backfield/hush"), "hush"},
		{m("/backfield/unhush", osc.Bool(true)), "unhush"},
		{m("/backfield/start"), "start"},
		{m("/backfield/stop"), "stop"},

		{m("/backfield/jump", osc.String("12A")), "jump 12A"},
		{m("/backfield/jump", osc.Int32(12)), "jump 12"},
		{m("/backfield/jump", osc.Int64(12)), "jump 12"},
		{m("/backfield/jump", osc.String("set 14 + 4")), "jump set 14 + 4"},
		{m("/backfield/jump", osc.String(" 2:33 ")), "jump 2:33"},
		{m("/backfield/jump"), "error: /backfield/jump takes a cue's id or a count"},
		{m("/backfield/jump", f32(12)), "jump 12"},
		{m("/backfield/jump", f32(12.5)), `error: one string or whole number; it came with "12.5"`},
		{m("/backfield/jump", f32(1<<25)), "error: /backfield/jump takes"},
		{m("/backfield/jump", osc.Float64(math.NaN())), "error: /backfield/jump takes"},
		{m("/backfield/jump", osc.Float64(math.Inf(1))), "error: /backfield/jump takes"},
		{m("/backfield/jump", osc.Bool(true)), "error: /backfield/jump takes"},
		{m("/backfield/jump", osc.String("1"), osc.String("2")), "error: /backfield/jump takes"},
		{m("/backfield/jump", osc.String("")), "error: type it like this"},
		{m("/backfield/jump", osc.String(" \t")), "error: type it like this"},
		{m("/backfield/jump", osc.String("2\x07")), "error: cannot be typed"},
		{m("/backfield/jump", osc.String("\xff")), "error: cannot be typed"},
		{m("/backfield/jump", osc.String(`"12`)), "error: closing quote is missing"},
		{m("/backfield/jump", osc.String(`"12"`)), "error: cannot be part of a command"},
		{m("/backfield/jump", osc.String(strings.Repeat("1", 101))), "error: takes"},

		{m("/backfield/hold", osc.String("Tpt 3")), `hold "Tpt 3"`},
		{m("/backfield/hold", osc.String("Flügel")), `hold Flügel`},
		{m("/backfield/release", osc.String("7")), "release 7"},
		{m("/backfield/hold", osc.Int32(7)), "error: a name, as one string"},
		{m("/backfield/swap", osc.String("Tpt 3"), osc.Int32(21)), `swap "Tpt 3" to 21`},
		{m("/backfield/swap", osc.String("back"), osc.Int32(3)), `swap back to 3`},
		{m("/backfield/swap", osc.String("Tpt 3"), osc.Int64(0)), `swap "Tpt 3" back`},
		{m("/backfield/swap", osc.String("Tpt 3"), osc.Int32(-1)), "error: a string and a whole number"},
		{m("/backfield/swap", osc.String("Tpt 3"), osc.Int64(1<<40)), "error: a string and a whole number"},
		{m("/backfield/swap", osc.String("Tpt 3"), f32(21)), `swap "Tpt 3" to 21`},
		{m("/backfield/swap", osc.String("Tpt 3"), f32(21.5)), "error: a string and a whole number"},
		{m("/backfield/swap", osc.String("Tpt 3")), "error: a string and a whole number"},
		{m("/backfield/swap", osc.String("Tpt 3"), osc.Int32(21), osc.Int32(21)), "error: a string and a whole number"},
		{m("/backfield/nudge", osc.String("Tpt 3"), f32(1.1)), `nudge "Tpt 3" +1.1`},
		{m("/backfield/nudge", osc.String("Tpt 3"), osc.Float64(-1.5)), `nudge "Tpt 3" -1.5`},
		{m("/backfield/nudge", osc.String("Tpt 3"), osc.Int32(1)), `nudge "Tpt 3" +1`},
		{m("/backfield/nudge", osc.String("Tpt 3"), f32(12.5)), "error: can be -12 to +12 dB"},
		{m("/backfield/nudge", osc.String("Tpt 3"), osc.Float64(math.NaN())), "error: type it like this"},
		{m("/backfield/nudge", osc.String("Tpt 3"), osc.Float64(math.Inf(-1))), "error: type it like this"},
		{m("/backfield/nudge", osc.String("Tpt 3"), osc.Bool(true)), "error: a string and a number"},
		{m("/backfield/nudge", f32(1), osc.String("Tpt 3")), "error: a string and a number"},

		{m("/backfield/to", osc.String("12A")), "error: /backfield/to is now /backfield/jump"},
		{m("/backfield/restore"), "error: /backfield/restore is now /backfield/unhush"},
		{m("/backfield/quit"), `error: /backfield/quit takes the text "end the run", as one string; it came with nothing`},
		{m("/backfield/quit", f32(1)), `error: it came with "1"`},
		{m("/backfield/quit", osc.String("quit")), `error: it came with "quit"`},
		{m("/backfield/quit", osc.String("End the run")), "quit"},
		{m("/backfield/status"), "error: is not a command"},
		{m("/backfield/takeover"), "error: is not a command"},
		{m("/backfield/*"), "error: is not a command"},
		{m("/backfield/{go,back}"), "error: is not a command"},
		{m("/backfield/Go"), "error: is not a command"},
		{m("/backfield/go/"), "error: is not a command"},
		{m("//go"), "error: is not a command"},
		{m("/go"), "error: is not a command"},
	} {
		c, act, err := Message(x.m)
		what, isError := strings.CutPrefix(x.want, "error: ")
		switch {
		case isError:
			if err == nil || !strings.Contains(err.Error(), what) || act || c != (run.Command{}) {
				t.Errorf("%v: %v, %v, %v; want the error %q", x.m, c, act, err, what)
			}
		case err != nil || act != (x.want != "") || act && c.String() != x.want:
			t.Errorf("%v: %v, %v, %v; want %q", x.m, c, act, err, x.want)
		}
	}
}

// Whatever a packet holds, a command comes out only if it reads back from how it is typed: so the journal has it whole.
func FuzzMessage(f *testing.F) {
	for _, x := range []osc.Message{m("/backfield/go"), m("/backfield/go", osc.Bool(true)),
		m("/backfield/jump", osc.String("set 14 + 4")), m("/backfield/jump", osc.Int32(3)),
		m("/backfield/hold", osc.String("Tpt 3")), m("/backfield/swap", osc.String("Tpt 3"), osc.Int32(0)),
		m("/backfield/nudge", osc.String(`a "b`), osc.Float32(1.1)),
		m("/backfield/nudge", osc.String("7"), osc.Float64(math.NaN()))} {
		f.Add(wire.Encode(x))
	}
	f.Fuzz(func(t *testing.T, packet []byte) {
		ms, err := wire.Decode(packet)
		if err != nil {
			return
		}
		for _, x := range ms {
			c, act, err := Message(x)
			if err != nil {
				if act || c != (run.Command{}) || err.Error() == "" {
					t.Errorf("%v: %v, %v beside the error %v", x, c, act, err)
				}
				continue
			}
			if again, err := run.Parse(c.String()); err != nil || again != c {
				t.Errorf("%v: %v reads back as %v, %v", x, c, again, err)
			}
			if !act && len(x.Args) != 1 {
				t.Errorf("%v does nothing", x)
			}
		}
	})
}
