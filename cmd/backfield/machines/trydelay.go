package machines

import (
	"context"
	"fmt"
	"io"
	"math"
	"time"

	"backfield/cue"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/wire"
)

// delayStep is one message of a try: which delay, after how long, and what to say before it.
type delayStep struct {
	after time.Duration
	ms    float64
	say   string
}

const (
	tryFromMS  = 20.0
	tryGlideMS = 8.0 // within a second: the fastest glide of a path, unless the score says otherwise
	tryTicks   = 50  // messages in that second
)

// tryJumpsMS are where the delay jumps. No tone has a whole number of periods in each of the jumps, which would hide a
// click.
var tryJumpsMS = []float64{30.3, 23.7, 41.9, 27.1, 35.4}

// TryMaxMS is the longest delay that a try sends.
func TryMaxMS() float64 {
	most := tryFromMS + tryGlideMS
	for _, ms := range tryJumpsMS {
		most = max(most, ms)
	}
	return most
}

// delaySteps are all messages of a try: jumps, then glides up and down, back to where it began.
func delaySteps() []delayStep {
	const pause = 1500 * time.Millisecond
	steps := []delayStep{{0, tryFromMS, fmt.Sprintf("delay %g ms", tryFromMS)}}
	for _, ms := range append(tryJumpsMS, tryFromMS) {
		steps = append(steps, delayStep{pause, ms, fmt.Sprintf("jump to %g ms", ms)})
	}
	from := tryFromMS
	for _, way := range []float64{tryGlideMS, -tryGlideMS, tryGlideMS, -tryGlideMS} {
		for i := 1; i <= tryTicks; i++ {
			step := delayStep{time.Second / tryTicks, from + way*float64(i)/tryTicks, ""}
			step.ms = math.Round(step.ms*10) / 10
			if i == 1 {
				step.after, step.say = pause, fmt.Sprintf("glide to %g ms in a second", from+way)
			}
			steps = append(steps, step)
		}
		from += way
	}
	return steps
}

// TryDelay sends jumps and glides of one channel's delay to a mixer, so that someone can hear whether it clicks, and
// says on out what comes. It takes about 20 s, and ends early with the context. The error is from sending.
func TryDelay(ctx context.Context, link wire.Link, d *mixer.Mixer, channel int, out io.Writer) error {
	place := mixer.Control{Channel: channel, Param: cue.ParamDelay}
	last, due := math.NaN(), time.Now()
	for _, s := range delaySteps() {
		due = due.Add(s.after) // so that a late message does not delay the rest
		select {
		case <-ctx.Done():
		case <-time.After(time.Until(due)):
		}
		if ctx.Err() != nil {
			break
		}
		if s.say != "" {
			fmt.Fprintln(out, s.say)
		}
		arg, _ := d.Arg(place, s.ms)
		message := osc.Message{Address: d.Address(place), Args: []osc.Arg{arg}}
		packets, err := wire.Pack([]osc.Message{message}, d.Bundle, d.MaxPacket)
		if err != nil {
			return err
		}
		for _, p := range packets {
			if err := link.Write(p); err != nil {
				return err
			}
		}
		last, _ = d.Value(place.Param, arg)
	}
	if !math.IsNaN(last) {
		fmt.Fprintf(out, "end: channel %d has a delay of %g ms; set what it had before\n", channel, last)
	}
	return nil
}
