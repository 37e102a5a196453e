// Package explain writes how one mic's numbers in one cue were computed, step by step, from what the compiler keeps of
// it, so that you can check them with a calculator.
package explain

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"backfield/cmd/backfield/compiled"
	"backfield/cmd/backfield/show"
	"backfield/cue"
	"backfield/cue/work"
	"backfield/layout/sound"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// Write writes how the numbers of one player or fixed mic in a cue were computed. mic is its name or the number of its
// channel. The error says why there are none.
func Write(out io.Writer, s *show.Loaded, cueID, mic string) error {
	e, name, closed, err := explained(out, s, cueID, mic)
	if err != nil {
		return err
	}
	if closed {
		e.closed(name)
	}
	e.all()
	return nil
}

// explained finds the derivation of a mic in a cue, or where it opens next if it is closed there.
func explained(out io.Writer, s *show.Loaded, cueID, mic string) (e *explainer, name string, closed bool, err error) {
	if name, err = nameOf(s, cueID, mic); err != nil {
		return nil, "", false, err
	}
	w, at, closed, err := s.Explain(cueID, name)
	if err != nil {
		return nil, "", false, err
	}
	snapshot, _ := s.Show.Find(at)
	asked, _ := s.Show.Find(cueID)
	return &explainer{Writer: out, s: s, w: w, snapshot: snapshot, asked: asked}, name, closed, nil
}

// nameOf is who wears a channel in a cue, or the fixed mic's name, if mic is the number of a channel. A name that is in
// the show stays a name, even if it is a number.
func nameOf(s *show.Loaded, cueID, mic string) (name string, err error) {
	number, err := strconv.Atoi(mic)
	snapshot, known := s.Show.Find(cueID)
	if err != nil || !known || slices.Contains(s.Lines.MicNames(), mic) {
		return mic, nil
	}
	for _, c := range snapshot.Channels {
		switch {
		case c.Channel == number && c.Player == "":
			return "", fmt.Errorf("nobody wears channel %d in cue %s", number, cueID)
		case c.Channel == number:
			return c.Player, nil
		}
	}
	return "", fmt.Errorf("no channel %d: it is in neither the roster nor the rig", number)
}

// explainer writes one derivation. Every number comes from it; only the intermediate steps of the formulas are computed
// here.
type explainer struct {
	io.Writer
	s        *show.Loaded
	w        *work.Derivation
	snapshot *cue.Snapshot // of the numbers
	asked    *cue.Snapshot // what the user asked for: another one if the mic is closed there
	now      *seatSheet    // at the cue's moment; see needs
}

func (e *explainer) seats() string { return source.Count(float64(e.s.Show.Rig.Delay.Seats), "seat") }

func (e *explainer) say(format string, args ...any) { fmt.Fprintf(e, format+"\n", args...) }

func (e *explainer) closed(name string) {
	when := "where the channel opens next"
	if e.asked.TimeS > e.snapshot.TimeS {
		when = "where it was last open"
	}
	if e.w.Name != name {
		when += ", for " + e.w.Name
	}
	moving := "Pan and delay"
	if len(e.w.Params) > 0 {
		moving = "Pan, delay and the mixer's own parameters"
	}
	e.say("%s is closed in cue %s: muted, level off. %s are those of cue %s,\n%s, so that they move while nobody "+
		"hears it.", name, e.asked.ID, moving, e.snapshot.ID, when)
	for i := range e.asked.Channels {
		if x := e.asked.Channels[i].Early; x != nil && e.asked.Channels[i].Channel == e.w.Channel {
			e.say("It opens before cue %s, at %s, so that it is up when the cue's count comes.", e.snapshot.ID,
				moment(x.Movement, x.Count, x.TimeS))
		}
	}
	e.say("")
}

// who is the player's section and pack, and the channel.
func (e *explainer) who() string {
	w := e.w
	who := fmt.Sprintf("channel %d", w.Channel)
	if w.Kind != cue.Worn {
		return "fixed mic, " + who
	}
	if w.Pack != "" {
		who = "pack " + w.Pack + ", " + who
	}
	if w.Section != "" {
		who = w.Section + ", " + who
	}
	return who
}

func (e *explainer) all() {
	w := e.w
	e.say("%s (%s)\n%s\n", w.Name, e.who(), compiled.Title(e.snapshot))
	e.stretch()
	e.place()
	e.air()
	if w.Pan.Sends != nil {
		e.zones()
	} else {
		e.pan()
	}
	e.delay()
	e.glide()
	e.seatsNow()
	e.fit()
	e.level()
	e.loudness()
	e.params()
	if e.asked == e.snapshot {
		e.say("MUTE\n  open in this cue, as %s", w.Role)
	} else {
		e.say("MUTE\n  open in cue %s, as %s; closed in cue %s", e.snapshot.ID, w.Role, e.asked.ID)
	}
	if len(w.Notes) > 0 {
		e.say("\nNOTES")
		for _, n := range w.Notes {
			e.say("  %s", n)
		}
	}
	e.say("\nAS OSC, in cue %s", e.asked.ID)
	for _, m := range e.s.Mixer.Messages(nil, one(e.asked, w.Channel)) {
		e.say("  %s", m)
	}
}

// one is the snapshot with a single channel.
func one(s *cue.Snapshot, channel int) *cue.Snapshot {
	single := *s
	single.Channels = nil
	for _, c := range s.Channels {
		if c.Channel == channel {
			single.Channels = append(single.Channels, c)
		}
	}
	return &single
}

func (e *explainer) place() {
	w, d := e.w, e.s.Drill
	e.say("PLACE")
	switch player, ok := d.Player(w.Name); {
	case w.Kind == cue.Fixed:
		e.say("  placed at   %q", w.Place.Dot)
	case !ok:
	case w.Place.Leg.From == w.Place.Leg.To || w.Place.Leg.Part == 1:
		e.say("  dot         set %s, as written: %q", d.Sets[w.Place.Leg.To].Label, w.Place.Dot)
	case w.Place.Leg.Part == 0:
		e.say("  dot         set %s, as written: %q", d.Sets[w.Place.Leg.From].Label,
			player.Words(w.Place.Leg.From))
	default:
		from, to := d.Sets[w.Place.Leg.From], d.Sets[w.Place.Leg.To]
		walk := to.Arrive - to.Begin
		e.say("  walking     from set %s %q\n              to set %s %q,", from.Label,
			player.Words(w.Place.Leg.From), to.Label, player.Words(w.Place.Leg.To))
		e.say("              %.4g of %s done, so %.1f %% of the way: %s", w.Place.Leg.Part*float64(walk),
			source.Count(float64(walk), "count"), 100*w.Place.Leg.Part, d.Field.Dot(w.Place.Start))
	}
	at := w.Place.Start
	e.say("  meters      x %.4f (%.4g steps of 0.5715 m from the 50), y %.4f (%.4g steps of %.4f m from the front "+
		"sideline), z %.2f",
		at.X, at.X/unit.StepM, at.Y, at.Y/d.Field.DepthStepM, d.Field.DepthStepM, at.Z)
	if w.Place.Start != w.Place.End {
		e.say("  then walks  %s, before the next cue", d.Field.Walk(w.Place.Start, w.Place.End))
	}
	e.say("")
}

func (e *explainer) air() {
	t := e.s.Rig.AirC
	e.say("AIR\n  c = 343.2 sqrt((%.4g + 273.15) / 293.15) = %.3f m/s at %s   (ISO 9613-1)\n", t, sound.SpeedMPS(t),
		unit.AirText(t))
}

// Text is what Write writes.
func Text(s *show.Loaded, cueID, player string) (string, error) {
	var b strings.Builder
	err := Write(&b, s, cueID, player)
	return b.String(), err
}
