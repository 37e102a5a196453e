package run

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/cue"
)

// hush closes every worn mic, and every channel outside the show that is open at a mixer: it may be what is heard. Fixed
// mics stay open. The answer does not say that they are closed: screens do once the mixers have confirmed it.
func (e *Engine) hush(now time.Time) string {
	var others []int
	for _, f := range e.feeds {
		others = append(others, f.Outside().Hush()...)
	}
	did := e.closeWorn(now)
	switch {
	case len(others) > 0:
		return "hushed: closing every worn mic, and " + channelList(others) + outsideTheShow
	case !did:
		return "already hushed"
	}
	return "hushed: closing every worn mic"
}

const outsideTheShow = " (not in the show)"

// channelList names channels by their numbers, each once.
func channelList(channels []int) string {
	slices.Sort(channels)
	var words []string
	for _, n := range slices.Compact(channels) {
		words = append(words, fmt.Sprintf("channel %d", n))
	}
	return strings.Join(words, ", ")
}

// closeWorn closes every worn mic, manual ones too: a mic that someone opened at the mixer during a hush must close as
// well. It reports whether there was anything to close.
func (e *Engine) closeWorn(now time.Time) bool {
	did := !e.overrides.Hush
	e.overrides.Hush = true
	for _, c := range e.target.Channels {
		if c.Kind == cue.Worn && e.endManual(c.Channel) {
			did = true
		}
	}
	e.apply(now)
	for _, f := range e.feeds {
		f.Interrupt(now)
	}
	return did
}

func (e *Engine) unhush(now time.Time) string {
	if !e.overrides.Hush {
		return "not hushed"
	}
	e.overrides.Hush = false
	var others []int
	for _, f := range e.feeds {
		others = append(others, f.Outside().Unhush()...)
	}
	e.apply(now)
	if len(others) > 0 {
		return "unhushed; open again: " + channelList(others) + outsideTheShow
	}
	return "unhushed"
}
