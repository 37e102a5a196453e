package timecode_test

import (
	"fmt"
	"math"
	"testing"

	"backfield/osc/timecode"
)

// Counts of drop frame as they are published: 1 800 at 00:01:00;02, 17 982 in ten minutes, 107 892 in an hour,
// 2 589 408 in a day (SMPTE ST 12-1; from memory).
func TestCounts(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		text string
		rate timecode.Rate
		want int
	}{
		{"00:00:59;29", timecode.Drop, 1799}, {"00:01:00;02", timecode.Drop, 1800}, {"00:02:00;02", timecode.Drop, 3598},
		{"00:09:59;29", timecode.Drop, 17981}, {"00:10:00;00", timecode.Drop, 17982}, {"01:00:00;00", timecode.Drop, 107892},
		{"23:59:59;29", timecode.Drop, 2589407}, {"01:00:00:00", timecode.NTSC, 108000}, {"01:00:00:00", timecode.PAL, 90000},
		{"01:00:00:00", timecode.Film, 86400}, {"00:00:01:23", timecode.Film, 47},
	} {
		c, err := timecode.Parse(tc.text, tc.rate)
		if err != nil || c.Count() != tc.want || timecode.At(tc.want, tc.rate) != c || c.String() != tc.text {
			t.Errorf("%s: %v, count %d, back %v, error %v", tc.text, c, c.Count(), timecode.At(tc.want, tc.rate), err)
		}
	}
}

// An hour of drop frame is 3.6 ms short of an hour of the clock: 107 892 frames of 1001/30000 s are 3 599.9964 s.
func TestSeconds(t *testing.T) {
	t.Parallel()
	c := timecode.Code{Hours: 1, Rate: timecode.Drop}
	if math.Abs(c.S()-3599.9964) > 1e-9 {
		t.Error(c.S())
	}
	if got := timecode.AtS(c.S(), timecode.Drop); got != c {
		t.Error(got)
	}
}

// Every frame of a day has its own code, in order, and no code that is dropped.
func TestEveryFrame(t *testing.T) {
	t.Parallel()
	for rate := timecode.Film; rate <= timecode.NTSC; rate++ {
		before := ""
		for n := 0; ; n++ {
			c := timecode.At(n, rate)
			if n > 0 && c == (timecode.Code{Rate: rate}) {
				if want := []int{24 * 86400, 25 * 86400, 2589408, 30 * 86400}[rate]; n != want {
					t.Errorf("%v: %d frames in a day, want %d", rate, n, want)
				}
				break
			}
			if c.Count() != n || !c.Valid() {
				t.Fatalf("%v: frame %d is %v, which counts %d", rate, n, c, c.Count())
			}
			if n%997 == 0 {
				if s := c.String(); s <= before {
					t.Fatalf("%s after %s", s, before)
				} else if again, err := timecode.Parse(s, rate); err != nil || again != c {
					t.Fatalf("%s: %v, %v", s, again, err)
				}
				before = c.String()
			}
		}
	}
}

func TestRefused(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		text string
		rate timecode.Rate
		want string
	}{
		{"", timecode.PAL, `"" is no time code; write hours:minutes:seconds:frames, such as 01:00:00:00`},
		{"01:02:03", timecode.PAL, `"01:02:03" is no time code; write hours:minutes:seconds:frames, such as 01:00:00:00`},
		{"01:02:03:004", timecode.PAL, `"01:02:03:004" is no time code: "004" must be a number of one or two digits`},
		{"01:02:-3:04", timecode.PAL, `"01:02:-3:04" is no time code: "-3" must be a number of one or two digits`},
		{"24:00:00:00", timecode.PAL, `"24:00:00:00" is no time code of 25 frames a second: hours go from 0 to 23`},
		{"00:60:00:00", timecode.PAL, `"00:60:00:00" is no time code of 25 frames a second: minutes go from 0 to 59`},
		{"00:00:60:00", timecode.PAL, `"00:00:60:00" is no time code of 25 frames a second: seconds go from 0 to 59`},
		{"00:00:00:25", timecode.PAL, `"00:00:00:25" is no time code of 25 frames a second: frames go from 0 to 24`},
		{"00:01:00;01", timecode.Drop, `"00:01:00;01" is no time code of 29.97 drop frames a second: frames 0 and 1 of this minute are dropped`},
		{"00:01:00:02", timecode.Drop, `"00:01:00:02": write a semicolon before the frames for drop frame, and only for it`},
		{"00:01:00;02", timecode.NTSC, `"00:01:00;02": write a semicolon before the frames for drop frame, and only for it`},
	} {
		if _, err := timecode.Parse(tc.text, tc.rate); err == nil || err.Error() != tc.want {
			t.Errorf("%q: %v", tc.text, err)
		}
	}
}

// The nibbles of 01:37:52:16 at 30 frames a second, and its full frame. The layout is that of MIDI Time Code, RP-004/008:
// the piece's number in the upper half; frames, seconds, minutes, hours, each the low nibble first; the rate in bits 1 and
// 2 of the last. (The code is that of a worked example known from memory: 10 01 24 33 45 52 61 76 with its pieces in order.)
func TestPieces(t *testing.T) {
	t.Parallel()
	c := timecode.Code{Hours: 1, Minutes: 37, Seconds: 52, Frames: 16, Rate: timecode.NTSC}
	var got []byte
	for n := range 8 {
		got = append(got, c.Piece(n))
	}
	if want := "00 11 24 33 45 52 61 76"; fmt.Sprintf("% x", got) != want {
		t.Errorf("% x", got)
	}
	if got, want := fmt.Sprintf("% x", c.FullFrame()), "7f 7f 01 01 61 25 34 10"; got != want {
		t.Error(got)
	}
	if back, ok := timecode.ReadFullFrame(c.FullFrame()); !ok || back != c {
		t.Error(back, ok)
	}
	for _, other := range [][]byte{nil, {0x7F, 0x7F, 1, 2, 1, 2, 3, 4}, {0x7E, 0x7F, 1, 1, 1, 2, 3, 4}, {0x7F, 0x7F, 1, 1, 1, 99, 3, 4}} {
		if c, ok := timecode.ReadFullFrame(other); ok {
			t.Errorf("% x is %v", other, c)
		}
	}
}

// play sends the quarter frames of a code from a count on, and calls for each with the time that is true then.
func play(a *timecode.Assembler, from timecode.Code, quarters int, each func(n int, trueS float64, got timecode.QuarterTime)) {
	for n := range quarters {
		c := timecode.At(from.Count()+n/8*2, from.Rate)
		each(n, (float64(from.Count())+float64(n)/4)/from.Rate.FPS(), a.Add(c.Piece(n%8)))
	}
}

// From the eighth quarter frame on, each says the time of its own, also over minutes that drop frames.
func TestAssembler(t *testing.T) {
	t.Parallel()
	for rate := timecode.Film; rate <= timecode.NTSC; rate++ {
		var a timecode.Assembler
		from := timecode.Code{Minutes: 58, Seconds: 55, Rate: rate}
		play(&a, from, 80*4*int(rate.FPS()), func(n int, trueS float64, got timecode.QuarterTime) {
			if got.Known != (n >= 7) || got.Backward || got.Known && (math.Abs(got.S-trueS) > 1e-9 || got.Rate != rate) {
				t.Fatalf("%v, quarter frame %d: %+v, want %v", rate, n, got, trueS)
			}
		})
	}
}

// A jump in the middle of a set, and a lost piece, are never a wrong time.
func TestJumps(t *testing.T) {
	t.Parallel()
	for at := range 24 {
		for _, by := range []int{2, 3, 8, 500, -4, -700, 30 * 3600} {
			var a timecode.Assembler
			from := timecode.Code{Hours: 1, Seconds: 10, Rate: timecode.NTSC}
			play(&a, from, at, func(int, float64, timecode.QuarterTime) {})
			again := 0
			for n := at; n < at+32; n++ { // the same numbers of pieces go on, with another code
				c := timecode.At(from.Count()+n/8*2+by, from.Rate)
				got := a.Add(c.Piece(n % 8))
				trueS := (float64(from.Count()+by) + float64(n)/4) / 30
				before := (float64(from.Count()) + float64(n)/4) / 30
				// Until a piece differs, nobody can know; a code that was put together from both is wrong for one set at most.
				if got.Known && math.Abs(got.S-trueS) > 1e-9 && math.Abs(got.S-before) > 1e-9 && n > at+8 {
					t.Fatalf("jump of %d at %d: quarter frame %d says %v, want %v", by, at, n, got.S, trueS)
				}
				if got.Known && math.Abs(got.S-trueS) < 1e-9 {
					again++
				}
			}
			if again < 16 {
				t.Errorf("after a jump of %d at %d: %d of 32 are known", by, at, again)
			}
		}
	}
	var a timecode.Assembler
	from := timecode.Code{Hours: 1, Rate: timecode.PAL}
	for n := range 40 {
		if n == 19 {
			continue // lost
		}
		got := a.Add(timecode.At(from.Count()+n/8*2, from.Rate).Piece(n % 8))
		if want := n >= 7 && n < 19 || n >= 31; got.Known != want {
			t.Errorf("quarter frame %d known: %v, want %v", n, got.Known, want)
		}
	}
}

func TestBackward(t *testing.T) {
	t.Parallel()
	var a timecode.Assembler
	from := timecode.Code{Hours: 1, Rate: timecode.PAL}
	for n := 63; n >= 0; n-- {
		got := a.Add(timecode.At(from.Count()+n/8*2, from.Rate).Piece(n % 8))
		if got.Known || got.Backward != (n <= 56) {
			t.Errorf("quarter frame %d: %+v", n, got)
		}
	}
}

func FuzzAssembler(f *testing.F) {
	f.Add([]byte{0x00, 0x11, 0x24, 0x33, 0x45, 0x52, 0x61, 0x76, 0x02})
	f.Fuzz(func(t *testing.T, raw []byte) {
		var a timecode.Assembler
		for _, b := range raw {
			if got := a.Add(b & 0x7F); got.Known && !(got.S >= 0 && got.S < 86401*1.001) {
				t.Fatalf("%+v", got)
			}
		}
		timecode.ReadFullFrame(raw)
	})
}

func FuzzParse(f *testing.F) {
	f.Add("01:02:03;04", 2)
	f.Fuzz(func(t *testing.T, text string, rate int) {
		r := timecode.Rate(((rate % 4) + 4) % 4)
		if c, err := timecode.Parse(text, r); err == nil {
			if again, err := timecode.Parse(c.String(), r); err != nil || again != c {
				t.Fatalf("%q is %v, which is %v: %v", text, c, again, err)
			}
		}
	})
}
