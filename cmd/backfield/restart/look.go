package restart

import (
	"context"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/layout/source"
	"backfield/osc"
	"backfield/osc/mixer"
	"backfield/osc/ping"
	"backfield/osc/wire"
)

const (
	tries      = 3                      // of a question without a reply
	replyWait  = 500 * time.Millisecond // for a reply
	mostListed = 12                     // lines of what differs
)

// MixerHolds is what a mixer was found to have. The lists are nil for a mixer that cannot be asked.
type MixerHolds struct {
	Asked, Replied int
	Open           []string // channels of the show that are open there
	Outside        []string // open channels that the show does not use
	Differs        []string // what else is not as the show wants it
	Moves          int      // delays, pans and sends that differ, as they do after any other cue
}

// Look asks a mixer for what it has, over its own link, and compares it with a snapshot of the show. It sends questions
// only. The error is one of the link.
func Look(ctx context.Context, d *mixer.Mixer, to string, s *cue.Snapshot) (MixerHolds, error) {
	link, err := wire.Open(to)
	if err != nil {
		return MixerHolds{}, err
	}
	defer link.Close()
	wanted, controls := wants(d, s)
	held := map[string]osc.Arg{}
	open := slices.Clone(controls)
	for n := 0; n < tries && len(open) > 0 && ctx.Err() == nil; n++ {
		r, err := ping.Ask(ctx, link, d, ping.QueryPlan{
			Count: len(open), Every: time.Second / time.Duration(d.Rate), Wait: replyWait, Controls: open,
			Heard: func(m osc.Message) {
				if len(m.Args) == 1 {
					held[m.Address] = m.Args[0]
				}
			},
		})
		if err != nil {
			return MixerHolds{}, err
		}
		if r.PortClosed && len(held) == 0 {
			return MixerHolds{Asked: len(controls)}, fmt.Errorf("%s is up, but its OSC port is closed", to)
		}
		open = slices.DeleteFunc(open, func(x mixer.Control) bool { _, ok := held[d.Address(x)]; return ok })
	}
	f := compare(d, s, wanted, held)
	f.Asked, f.Replied = len(controls), len(controls)-len(open)
	return f, ctx.Err()
}

// wants is what a snapshot wants, by address, and every control to ask for: those of the show's channels, and what opens
// the others.
func wants(d *mixer.Mixer, s *cue.Snapshot) (wanted []mixer.ControlMessage, controls []mixer.Control) {
	wanted = d.Settings(s)
	shows := map[int]bool{}
	for _, x := range wanted {
		controls = append(controls, x.Control)
		shows[x.Channel] = true
	}
	for n := 1; n <= d.Channels; n++ {
		for _, param := range []string{cue.ParamMute, cue.ParamLevel} {
			if x := (mixer.Control{Channel: n, Param: param}); !shows[n] && d.Has(param) {
				controls = append(controls, x)
			}
		}
	}
	return wanted, controls
}

// compare lists what a mixer holds and a snapshot does not want. Mutes and levels are about what is open.
func compare(d *mixer.Mixer, s *cue.Snapshot, wanted []mixer.ControlMessage, held map[string]osc.Arg) (f MixerHolds) {
	names := map[int]string{}
	for _, c := range s.Channels {
		names[c.Channel] = c.Player
	}
	for n := 1; n <= d.Channels; n++ {
		words, open := openWords(d, n, held)
		who, shows := names[n]
		switch {
		case open && shows:
			f.Open = append(f.Open, fmt.Sprintf("ch %d %s %s", n, who, words))
		case open:
			f.Outside = append(f.Outside, fmt.Sprintf("ch %d %s", n, words))
		}
	}
	for _, x := range wanted {
		has, known := held[x.Message.Address]
		want := x.Message.Args[0]
		switch same := !known || has.Same(want, d.EchoTolerance(0)); {
		case same || x.Param == cue.ParamMute || x.Param == cue.ParamLevel:
		case x.Param == cue.ParamDelay || x.Param == cue.ParamPan || x.Param == cue.ParamSend:
			f.Moves++
		default:
			f.Differs = append(f.Differs, fmt.Sprintf("ch %d %s: %s %s there, %s in the show", x.Channel,
				names[x.Channel], x.Param, d.Words(x.Param, has), d.Words(x.Param, want)))
		}
	}
	return f
}

// openWords says at which level a channel is open at the mixer. open is false where it is closed, or nothing is known.
func openWords(d *mixer.Mixer, n int, held map[string]osc.Arg) (words string, open bool) {
	value := func(param string) (v float64, words string, known bool) {
		arg, ok := held[d.Address(mixer.Control{Channel: n, Param: param})]
		if !ok || !d.Has(param) {
			return 0, "", false
		}
		v, known = d.Value(param, arg)
		return v, d.Words(param, arg), known
	}
	mute, _, muteKnown := value(cue.ParamMute)
	level, said, levelKnown := value(cue.ParamLevel)
	switch {
	case muteKnown && mute == 1, levelKnown && math.IsInf(level, -1), !muteKnown && !levelKnown:
		return "", false
	case levelKnown:
		return "at " + said, true
	}
	return "at a level that it did not say", true
}

// Print writes what was found at a mixer, and what the run will do about it. It returns the error of w.
func (f MixerHolds) Print(w io.Writer, to, cueID string) error {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	switch {
	case f.Replied == 0 && f.Asked > 0:
		say("%s: NO REPLY to %s: check power and cable", to, count(f.Asked, "question"))
	case f.Replied < f.Asked:
		say("%s: replied to %d of %s; look at the mixer for the rest", to, f.Replied, count(f.Asked, "question"))
	default:
		say("%s: replied to all of %s", to, count(f.Asked, "question"))
	}
	if f.Replied > 0 && len(f.Open) == 0 {
		say("  no mic of the show is known to be open there")
	}
	list := func(head string, items []string) {
		if len(items) == 0 {
			return
		}
		say("  %s", head)
		for _, x := range items[:min(len(items), mostListed)] {
			say("    %s", x)
		}
		if more := len(items) - mostListed; more > 0 {
			say("    and %d more", more)
		}
	}
	list("OPEN THERE; the run closes them as it starts:", f.Open)
	list("open there and not in the show; the run leaves them, and hush closes them:", f.Outside)
	list(fmt.Sprintf("not as in cue %s; the run sets them:", cueID), f.Differs)
	if f.Moves > 0 {
		say("  %s not as in cue %s; the run sets them", count(f.Moves, "delay, pan or send value"), cueID)
	}
	if f.Replied == f.Asked && f.Moves == 0 && len(f.Open)+len(f.Outside)+len(f.Differs) == 0 {
		say("  everything is as in cue %s, closed", cueID)
	}
	_, err := io.WriteString(w, b.String())
	return err
}

func count(n int, noun string) string { return source.Count(float64(n), noun) }
