// Package timecode counts time code (SMPTE ST 12-1), and puts together what MIDI sends of it. It does no I/O and reads
// no clock.
//
// Sources, from memory: SMPTE ST 12-1 for the frame rates and the frames that are dropped, MIDI Time Code (MIDI
// Manufacturers Association, RP-004/008) for quarter frames and full frames.
package timecode

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Rate is how many frames a second has, in the order of MIDI time code.
type Rate int

// The four rates of MIDI time code. Drop is 30 000 / 1001 frames a second, counted as 30 with two numbers left out at
// the start of each minute but every tenth.
const (
	Film Rate = iota // 24 frames a second
	PAL              // 25
	Drop             // 29.97
	NTSC             // 30
)

// Names are what the rates are called.
var Names = []string{"24", "25", "29.97 drop", "30"}

func (r Rate) String() string { return Names[r] }

// FPS is how many frames pass in a second.
func (r Rate) FPS() float64 {
	return [...]float64{24, 25, 30000.0 / 1001, 30}[r]
}

// most is how many numbers of frames a second has.
func (r Rate) most() int { return [...]int{24, 25, 30, 30}[r] }

// dropped is how many numbers of frames are left out at the start of a minute.
const dropped = 2

// Code is a moment in time code.
type Code struct {
	Hours, Minutes, Seconds, Frames int
	Rate                            Rate
}

// Parse reads "01:02:03:04"; a semicolon before the frames means drop frame and is needed for it.
func Parse(text string, rate Rate) (Code, error) {
	c := Code{Rate: rate}
	head, frames, semicolon := text, "", strings.LastIndexByte(text, ';')
	if semicolon < 0 {
		semicolon = strings.LastIndexByte(text, ':')
	}
	if semicolon >= 0 {
		head, frames = text[:semicolon], text[semicolon+1:]
	}
	parts := append(strings.Split(head, ":"), frames)
	if len(parts) != 4 {
		return c, fmt.Errorf("%q is no time code; write hours:minutes:seconds:frames, such as 01:00:00:00", text)
	}
	for i, to := range []*int{&c.Hours, &c.Minutes, &c.Seconds, &c.Frames} {
		n, err := strconv.ParseUint(parts[i], 10, 8)
		if err != nil || len(parts[i]) > 2 {
			return c, fmt.Errorf("%q is no time code: %q must be a number of one or two digits", text, parts[i])
		}
		*to = int(n)
	}
	if (text[semicolon] == ';') != (rate == Drop) {
		return c, fmt.Errorf("%q: write a semicolon before the frames for drop frame, and only for it", text)
	}
	if why := c.wrong(); why != "" {
		return c, fmt.Errorf("%q is no time code of %s frames a second: %s", text, rate, why)
	}
	return c, nil
}

// Valid reports whether there is such a code.
func (c Code) Valid() bool { return c.wrong() == "" }

// wrong is why there is no such code, "" if there is one.
func (c Code) wrong() string {
	switch {
	case c.Rate < Film || c.Rate > NTSC:
		return "there is no such rate"
	case c.Hours < 0 || c.Hours > 23:
		return "hours go from 0 to 23"
	case c.Minutes < 0 || c.Minutes > 59:
		return "minutes go from 0 to 59"
	case c.Seconds < 0 || c.Seconds > 59:
		return "seconds go from 0 to 59"
	case c.Frames < 0 || c.Frames >= c.Rate.most():
		return fmt.Sprintf("frames go from 0 to %d", c.Rate.most()-1)
	case c.Rate == Drop && c.Seconds == 0 && c.Frames < dropped && c.Minutes%10 != 0:
		return "frames 0 and 1 of this minute are dropped"
	}
	return ""
}

// String is the code as it is written, with a semicolon before the frames of drop frame.
func (c Code) String() string {
	sign := ':'
	if c.Rate == Drop {
		sign = ';'
	}
	return fmt.Sprintf("%02d:%02d:%02d%c%02d", c.Hours, c.Minutes, c.Seconds, sign, c.Frames)
}

// Count is how many frames have passed since 00:00:00:00.
func (c Code) Count() int {
	minutes := 60*c.Hours + c.Minutes
	n := c.Rate.most()*(60*minutes+c.Seconds) + c.Frames
	if c.Rate == Drop {
		n -= dropped * (minutes - minutes/10)
	}
	return n
}

// S is how many seconds have passed since 00:00:00:00.
func (c Code) S() float64 { return float64(c.Count()) / c.Rate.FPS() }

// At is the code of a count of frames; the day begins again after its last frame.
func At(count int, rate Rate) Code {
	day := Code{23, 59, 59, rate.most() - 1, rate}.Count() + 1
	count = ((count % day) + day) % day
	if rate == Drop { // put the dropped numbers back in
		const tenth, minute = 17982, 1798
		tens, rest := count/tenth, count%tenth
		count += dropped * 9 * tens
		if rest >= minute+dropped {
			count += dropped * ((rest - dropped) / minute)
		}
	}
	n := rate.most()
	s := count / n
	return Code{s / 3600, s / 60 % 60, s % 60, count % n, rate}
}

// AtS is the code at a time after 00:00:00:00, in seconds.
func AtS(s float64, rate Rate) Code { return At(int(math.Floor(s*rate.FPS()+1e-6)), rate) }
