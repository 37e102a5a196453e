package run

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"backfield/cue"
	"backfield/osc/desk"
)

// View is what a screen shows of a run at one instant.
type View struct {
	Title   string     `json:"title"`
	Step    string     `json:"step"` // the snapshot that is meant; empty before the first
	Name    string     `json:"name"`
	Now     Place      `json:"now"`
	ShowS   float64    `json:"show_s"`
	Running bool       `json:"running"`
	Rate    float64    `json:"rate"`
	BPM     float64    `json:"bpm"` // as it is played
	Hush    bool       `json:"hush"`
	Open    []OpenMic  `json:"open"`
	Next    *NextCue   `json:"next"` // nil after the last
	Way     float64    `json:"way"`  // counts from the last cue that was pressed to the next one, as the score is written
	Self    *NextCue   `json:"self"` // what goes by itself before that; nil for nothing
	Ticks   []Tick     `json:"ticks"`
	Desks   []DeskView `json:"desks"`
	Holds   []string   `json:"holds"`
	Swaps   []string   `json:"swaps"`
	Nudges  []string   `json:"nudges"`
	Trouble string     `json:"trouble"`
	AgoS    float64    `json:"ago_s"` // how long ago that was
}

// OpenMic is a channel that is open.
type OpenMic struct {
	Channel int     `json:"channel"`
	Player  string  `json:"player"`
	Kind    string  `json:"kind"`
	Role    string  `json:"role"`
	LevelDB float64 `json:"level_db"` // at this instant
	Moving  bool    `json:"moving"`   // its level is on its way
}

// Tick is a step that goes by itself before the next cue.
type Tick struct {
	ID     string  `json:"id"`
	Counts float64 `json:"counts"` // to it, as the score is written
}

// NextCue is a cue to come and what it changes.
type NextCue struct {
	ID      string   `json:"id"`
	At      string   `json:"at"`
	Name    string   `json:"name"`
	Counts  float64  `json:"counts"` // to it, as the score is written; below 0 when it is overdue
	InS     float64  `json:"in_s"`   // at the tempo that is played
	Opens   []string `json:"opens"`
	Closes  []string `json:"closes"`
	Levels  []string `json:"levels"`  // "Tpt 3 -9 to 0 dB"
	Moves   int      `json:"moves"`   // open channels whose pan, delay, sends or own parameters move
	Besides []string `json:"besides"` // what it sends besides its channels

	ByItself bool `json:"by_itself"` // it needs no press once the clock runs
}

// DeskView is how a desk is doing.
type DeskView struct {
	To          string   `json:"to"`
	Up          bool     `json:"up"`
	Reason      string   `json:"reason"` // why it is not
	Waiting     bool     `json:"waiting"`
	Unconfirmed int      `json:"unconfirmed"` // 0 for one that confirms nothing
	Answers     bool     `json:"answers"`     // whether it is one that confirms
	Silent      bool     `json:"silent"`      // it has answered nothing for too long
	HeardAgoS   float64  `json:"heard_ago_s"`
	InHand      []string `json:"in_hand"`
}

// View looks at the run.
func (e *Engine) View(now time.Time) View {
	v := View{Title: e.Show.Title, Step: e.id(e.step), ShowS: e.clock.at(now), Running: e.clock.Running, Rate: e.clock.Rate, Hush: e.hush, Trouble: e.trouble, AgoS: now.Sub(e.troubleAt).Seconds()}
	if e.step >= 0 {
		v.Name = e.Show.Cues[e.step].Name
	}
	if e.Time != nil {
		v.Now = e.Time.At(v.ShowS)
		v.BPM = v.Now.BPM * v.Rate
	}
	for _, c := range e.meant.Channels {
		if l := e.levels[c.Channel]; l != nil {
			v.Open = append(v.Open, OpenMic{c.Channel, c.Player, c.Kind, c.Role, l.fade.at(now), !l.fade.over(now)})
		}
	}
	if i := e.upcoming(); i < len(e.Show.Cues) {
		v.Next = e.preview(i, now)
		if i > e.step+1 {
			v.Self = e.preview(e.step+1, now)
		}
	}
	if v.Next == nil && e.step+1 < len(e.Show.Cues) {
		v.Self = e.preview(e.step+1, now)
	}
	if e.Time != nil {
		v.Way, v.Ticks = e.way(v.ShowS)
	}
	for _, f := range e.feeds {
		d := DeskView{To: f.to, Up: f.up && !f.trying, Reason: f.reason, Waiting: f.queued(), Answers: f.answers(), Silent: f.silent, HeardAgoS: -1}
		if d.Answers {
			d.Unconfirmed = f.unconfirmed()
		}
		if !f.heardAt.IsZero() {
			d.HeardAgoS = now.Sub(f.heardAt).Seconds()
		}
		for _, c := range sortedKeys(f.inHand) {
			d.InHand = append(d.InHand, fmt.Sprintf("%s: %s", e.who(c), f.inHand[c]))
		}
		v.Desks = append(v.Desks, d)
	}
	v.Holds = e.whoAll(sortedKeys(e.holds))
	for _, s := range e.swaps {
		v.Swaps = append(v.Swaps, fmt.Sprintf("%s to channel %d", e.who(s.Channel), s.Spare))
	}
	var seen []string
	for _, n := range e.nudges {
		if !slices.Contains(seen, n.Name) {
			seen = append(seen, n.Name)
			v.Nudges = append(v.Nudges, fmt.Sprintf("%s %+g dB", n.Name, e.nudged(n.Name)))
		}
	}
	return v
}

// way measures the wait for the next cue, and what goes by itself in it.
func (e *Engine) way(nowS float64) (counts float64, ticks []Tick) {
	next := e.upcoming()
	for i := e.step + 1; i < next; i++ {
		ticks = append(ticks, Tick{e.id(i), e.Time.Counts(nowS, e.Show.Cues[i].TimeS)})
	}
	if next == len(e.Show.Cues) {
		return 0, ticks
	}
	last := e.step
	for last >= 0 && !e.pressed(last) {
		last--
	}
	fromS := 0.0
	if last >= 0 {
		fromS = e.Show.Cues[last].TimeS
	}
	return e.Time.Counts(fromS, e.Show.Cues[next].TimeS), ticks
}

// preview tells what a step will change.
func (e *Engine) preview(i int, now time.Time) *NextCue {
	s := &e.Show.Cues[i]
	n := &NextCue{ID: s.ID, At: s.At, Name: s.Name, InS: (s.TimeS - e.clock.at(now)) / e.clock.Rate, ByItself: e.byItself(i)}
	if e.Time != nil {
		n.Counts = e.Time.Counts(e.clock.at(now), s.TimeS)
	}
	then := e.mean(i) // with all that the operator has changed
	for _, c := range then.Channels {
		var was cue.Channel
		for _, m := range e.meant.Channels {
			if m.Channel == c.Channel {
				was = m
			}
		}
		switch {
		case c.Open && !was.Open:
			n.Opens = append(n.Opens, c.Player)
		case !c.Open && was.Open:
			n.Closes = append(n.Closes, was.Player)
		case c.Open && was.LevelDB != c.LevelDB:
			n.Levels = append(n.Levels, fmt.Sprintf("%s %.4g to %.4g dB", c.Player, float64(was.LevelDB), float64(c.LevelDB)))
		}
		if c.Open && was.Open && (c.Pan != was.Pan || c.DelayMS != was.DelayMS || !slices.Equal(c.Sends, was.Sends) || !slices.Equal(c.Params, was.Params)) {
			n.Moves++
		}
	}
	for _, m := range desk.Raw(s) {
		n.Besides = append(n.Besides, m.String())
	}
	return n
}

// String is the view in a few lines, for a terminal without a screen.
func (v View) String() string {
	var b strings.Builder
	say := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	step := "before the first cue"
	if v.Step != "" {
		step = "cue " + v.Step
		if v.Name != "" {
			step += fmt.Sprintf(" %q", v.Name)
		}
	}
	clock := "the show clock stands"
	if v.Running {
		clock = fmt.Sprintf("%.0f bpm, %.1f %% of the tempo written", v.BPM, 100*v.Rate)
	}
	say("%s, %s at %d:%.4g; %s", step, cue.ClockTime(v.ShowS), v.Now.Movement, v.Now.Count, clock)
	var open []string
	for _, o := range v.Open {
		open = append(open, fmt.Sprintf("%s %.1f", o.Player, o.LevelDB))
	}
	if len(open) == 0 {
		open = []string{"nothing"}
	}
	say("open: %s", strings.Join(open, ", "))
	if v.Hush {
		say("HUSHED: every worn mic is closed until restore")
	}
	if v.Self != nil {
		say("by itself: %s", v.Self)
	}
	switch {
	case v.Next != nil && v.Next.ByItself:
		say("next, by itself: %s", v.Next)
	case v.Next != nil:
		say("next: %s", v.Next)
	default:
		say("next: no further cue")
	}
	for _, list := range []struct {
		name string
		what []string
	}{{"held", v.Holds}, {"swapped", v.Swaps}, {"nudged", v.Nudges}} {
		if len(list.what) > 0 {
			say("%s: %s", list.name, strings.Join(list.what, ", "))
		}
	}
	for _, d := range v.Desks {
		say("desk %s: %s", d.To, d)
		for _, h := range d.InHand {
			say("  in hand: %s", h)
		}
	}
	if v.Trouble != "" {
		say("last problem, %.0f s ago: %s", v.AgoS, v.Trouble)
	}
	return strings.TrimSuffix(b.String(), "\n")
}

// String is the cue in a line.
func (n *NextCue) String() string {
	text := fmt.Sprintf("cue %s at %s", n.ID, n.At)
	if n.Name != "" {
		text += fmt.Sprintf(" %q", n.Name)
	}
	text += ", " + n.Away()
	if what := n.Changes(); what != "" {
		text += "; " + what
	}
	return text
}

// Away tells how far off it is.
func (n *NextCue) Away() string {
	counts := math.Round(n.Counts*10) / 10
	if counts < 0 {
		return fmt.Sprintf("%g counts overdue", -counts)
	}
	return fmt.Sprintf("in %g counts", counts)
}

// Changes tells what it changes: "opens Tpt 3; closes Bari 1, Bari 2; Mello 1 -9 to 0 dB".
func (n *NextCue) Changes() string {
	var parts []string
	add := func(what string, names []string) {
		if len(names) > 0 {
			parts = append(parts, what+strings.Join(names, ", "))
		}
	}
	add("opens ", n.Opens)
	add("closes ", n.Closes)
	add("", n.Levels)
	if n.Moves > 0 {
		parts = append(parts, fmt.Sprintf("moves %d", n.Moves))
	}
	add("sends ", n.Besides)
	return strings.Join(parts, "; ")
}

// Done reports whether the desk holds what is meant, as far as it can be known.
func (d DeskView) Done() bool {
	return d.Up && !d.Silent && !d.Waiting && d.Unconfirmed == 0
}

// String is the desk's state in words.
func (d DeskView) String() string {
	switch {
	case !d.Up && d.Reason != "":
		return "DOWN: " + d.Reason
	case !d.Up:
		return "not reached yet"
	case d.Silent:
		return "SILENT: it answers nothing; is it on, and the cable in?"
	case d.Waiting:
		return "sending"
	case d.Answers && d.Unconfirmed > 0:
		return fmt.Sprintf("%d values not confirmed yet", d.Unconfirmed)
	case d.Answers:
		return "confirmed"
	}
	return "sent; this desk does not confirm"
}

func sortedKeys[V any](m map[int]V) []int {
	var keys []int
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
