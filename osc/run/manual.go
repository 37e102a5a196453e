package run

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc/feed"
	"backfield/osc/journal"
)

// Manual is what someone moved at a mixer. The feeds know which; here is what the show and the operator do about it.

// anyManual reports whether anything is manual at any mixer.
func (e *Engine) anyManual() bool {
	return slices.ContainsFunc(e.feeds, func(f *feed.Feed) bool { return len(f.Manual()) > 0 })
}

// openAndClose ends manual on the channels that the target opens, and returns those that it closes. before is the
// target before.
func (e *Engine) openAndClose(before []cue.Channel) (closes []int) {
	if !e.anyManual() {
		return nil
	}
	for i := range e.target.Channels {
		c := &e.target.Channels[i]
		switch was := isOpen(before, c.Channel); {
		case c.Open && !was:
			for _, f := range e.feeds {
				f.ShowOpens(c.Channel)
			}
		case !c.Open && was:
			closes = append(closes, c.Channel)
		}
	}
	return closes
}

func isOpen(list []cue.Channel, channel int) bool {
	i := slices.IndexFunc(list, is(channel))
	return i >= 0 && list[i].Open
}

// reportClosed notes in the journal the channels that the show has closed and a mixer keeps open, once they have faded
// out. On screens their rows say so.
func (e *Engine) reportClosed(now time.Time) {
	e.closes = slices.DeleteFunc(e.closes, func(channel int) bool {
		if e.table.Open(channel) {
			return isOpen(e.target.Channels, channel) // it opens again
		}
		for _, f := range e.feeds {
			if f.KeptOpen(channel) {
				text := "%s is STILL OPEN at %s: its mute was moved there; release closes it, ack keeps it"
				text = fmt.Sprintf(text, e.who(channel), f.To())
				e.record(journal.Entry{At: now, Kind: "problem", Text: text})
			}
		}
		return true
	})
}

// endManual returns a channel to the cues at every mixer where it is manual. It reports whether there is one.
func (e *Engine) endManual(channel int) (any bool) {
	for _, f := range e.feeds {
		any = f.Release(channel) || any
	}
	return any
}

// endManualBoth returns both channels of a swap to the cues. A manual one would stay open although the operator reads
// that it is closed, or stay closed although it should open.
func (e *Engine) endManualBoth(from, to int) {
	if from != to {
		e.endManual(from)
		e.endManual(to)
	}
}

// acknowledge notes that the operator knows that a channel is still open.
func (e *Engine) acknowledge(name string) (string, error) {
	channel, err := e.lookup(name)
	if err != nil {
		return "", err
	}
	did, open := false, false
	for _, channel := range []int{channel, e.overrides.Spare(channel)} {
		for _, f := range e.feeds {
			did = f.Acknowledge(channel) || did
			open = open || f.KeptOpen(channel)
		}
	}
	switch {
	case !open:
		return "", fmt.Errorf("%s is not still open%s", e.who(channel), e.stillOpen())
	case !did:
		return fmt.Sprintf("%s: acknowledged before", e.who(channel)), nil
	}
	return fmt.Sprintf("%s stays open at the mixer until it is closed there, or until release", e.who(channel)), nil
}

// stillOpen lists the channels that wait to be acknowledged, for the end of a refusal.
func (e *Engine) stillOpen() string {
	var open []int
	for _, f := range e.feeds {
		open = append(open, slices.DeleteFunc(f.Manual(), func(n int) bool { return !f.KeptOpen(n) })...)
	}
	if len(open) == 0 {
		return ""
	}
	slices.Sort(open)
	return "; still open: " + strings.Join(e.whoAll(slices.Compact(open)), ", ")
}

// resend has everything sent again to every mixer, also to one that another program sends to.
func (e *Engine) resend(now time.Time) string {
	for _, f := range e.feeds {
		f.Resend(now)
	}
	return "resending everything except what is manual"
}
