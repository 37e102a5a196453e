package run

import (
	"fmt"
	"slices"
	"time"

	"backfield/cue"
	"backfield/cue/step"
	"backfield/osc/feed"
)

// View is a run at one instant, for a screen.
type View struct {
	Title       string          `json:"title"`
	Step        string          `json:"step"` // the current snapshot's id; empty before the first cue
	Name        string          `json:"name"`
	Now         ScoreMoment     `json:"now"`
	ShowS       float64         `json:"show_s"`
	Running     bool            `json:"running"`
	Stopped     string          `json:"stopped"` // why the clock is stopped, such as "after a jump"; empty if it runs
	Rate        float64         `json:"rate"`
	BPM         float64         `json:"bpm"` // as played
	Hush        bool            `json:"hush"`
	Only        string          `json:"only"`        // who is open while all others are closed, or ""
	Open        map[int]float64 `json:"-"`           // dB, by channel, of what the show has open
	Rows        []ChannelRow    `json:"rows"`        // what the mixers have, of the channels that the operator must see
	Bench       []ChannelRow    `json:"-"`           // the same with every channel of the show, also the closed ones
	Next        *NextCue        `json:"next"`        // nil at the end of the show
	WaitCounts  float64         `json:"wait_counts"` // from the last pressed cue
	NextAuto    *NextCue        `json:"next_auto"`   // the next automatic cue before that; nil if there is none
	Ticks       []Tick          `json:"ticks"`
	Mixers      []MixerView     `json:"mixers"`
	Holds       []string        `json:"holds"`
	Swaps       []string        `json:"swaps"`
	Nudges      []string        `json:"nudges"`
	Problem     string          `json:"problem"`       // the latest that is not answered
	ProblemAgoS float64         `json:"problem_ago_s"` // how long ago it was reported
	Notice      string          `json:"notice"`        // what others did who have no say here
	NoticeAgoS  float64         `json:"notice_ago_s"`
	ByOthers    int             `json:"by_others"`       // accepted commands of pages and other machines, so far
	Pair        *PairView       `json:"pair,omitempty"`  // nil without another laptop; its driver's
	Ring        *FeedbackView   `json:"ring,omitempty"`  // nil where nothing may be said of feedback
	Outer       *OuterView      `json:"outer,omitempty"` // nil where the run has its own time; its driver's
}

// OuterView is how the time of another machine is, which the run goes by.
type OuterView struct {
	Text  string `json:"text"`
	Alarm bool   `json:"alarm"` // the operator must know it at once
}

// FeedbackView is how close the open mics are to feedback, by estimate.
type FeedbackView struct {
	First     []string `json:"first"`     // those that ring first, if the margin is under what is wanted; else nil
	MarginDB  float64  `json:"margin_db"` // what is left until they ring
	WantedDB  float64  `json:"wanted_db"`
	TakeDB    float64  `json:"give_or_take_db"`
	Unwatched string   `json:"unwatched,omitempty"` // which reading cannot be used, and why; or ""
}

// PairView is how this laptop stands to the other one, which stands by for it or is stood by for.
type PairView struct {
	Sends    bool   `json:"sends"`    // this laptop sends to the mixers; else the view is what the other one does
	Headline string `json:"headline"` // for the top of the screen, such as "STANDBY: this laptop sends nothing. ..."
	Press    string `json:"press"`    // what the key does about it, such as "takes over"; or empty
	Gone     bool   `json:"gone"`     // the headline comes before everything: the other is gone, or neither sends
	Ask      string `json:"ask"`      // what the operator has to decide or should know; empty for nothing
	AskPress string `json:"ask_press"`
	Alone    bool   `json:"alone"`   // this laptop sends and the other is silent, which is not acknowledged
	Yielded  bool   `json:"yielded"` // the other took over unasked, and is well: there is nothing to do here
	Waits    bool   `json:"waits"`   // no other laptop has come yet; the headline says how to start one
	Term     int    `json:"term"`    // rises with each takeover
	Entries  int    `json:"entries"` // of the journal on this laptop
	Missing  int    `json:"missing"` // entries that the other laptop has written and this one has not got

	// On a laptop that stands by, the mixers as the other one hears them, as are the view's rows; nil where not known.
	Mixers []MixerView `json:"mixers,omitempty"`
}

// ChannelRow is a channel as a mixer has it: one for each that is open in the show or at a mixer, or that differs. With
// several mixers it is the one where the channel is worst.
type ChannelRow struct {
	Channel int     `json:"channel"`
	Own     int     `json:"own"` // the show's channel that it stands in for as a spare; else itself
	Held    bool    `json:"held"`
	NudgeDB float64 `json:"nudge_db"` // the player's nudges in this run
	Player  string  `json:"player"`
	Kind    string  `json:"kind"`
	Role    string  `json:"role"`
	Mixer   string  `json:"mixer"`
	feed.MixerChannel
}

// Tick is an automatic step before the next cue.
type Tick struct {
	ID     string  `json:"id"`
	Counts float64 `json:"counts"` // written counts to it
}

// NextCue is an upcoming cue and what it changes.
type NextCue struct {
	ID           string        `json:"id"`
	At           string        `json:"at"`
	Name         string        `json:"name"`
	Counts       float64       `json:"counts"` // written counts to it; below 0 when it is overdue
	InS          float64       `json:"in_s"`   // at the tempo as played
	Auto         bool          `json:"auto"`   // needs no press while the clock runs
	step.Summary               // what it changes
	Intent       *step.Summary `json:"intent,omitempty"` // what it would change without the hush; nil if not hushed
}

// MixerView is the state of one mixer.
type MixerView struct {
	To          string   `json:"to"`
	Up          bool     `json:"up"`
	Reason      string   `json:"reason"` // why it is down
	Waiting     bool     `json:"waiting"`
	Unconfirmed int      `json:"unconfirmed"` // values; 0 for a mixer that cannot confirm
	Confirms    bool     `json:"confirms"`    // whether it can confirm
	NoReply     bool     `json:"no_reply"`    // it has not replied for too long
	ReplyAgoS   float64  `json:"reply_ago_s"`
	Restarted   bool     `json:"restarted"`   // it has restarted and does not yet hold what it should again
	Overwritten bool     `json:"overwritten"` // many of its values have changed at once just now
	Contested   bool     `json:"contested"`   // another program sends to it, and the operator has to decide
	SlowS       float64  `json:"slow_s"`      // how long it takes to reply, if that is long; else 0
	Manual      []string `json:"manual"`      // parameters that someone moved there
	Unknown     int      `json:"unknown"`     // channels outside the show that may be open there
	NotClosed   []int    `json:"not_closed"`  // channels that are to be closed and are not confirmed
}

// View returns the run as it is now.
func (e *Engine) View(now time.Time) View {
	v := View{
		Title: e.setup.Show.Title, Step: e.route.ID(e.step), ShowS: e.clock.NowS(now), Running: e.clock.Running,
		Stopped: e.clock.Why.Words(),
		Rate:    e.clock.Rate, Hush: e.overrides.Hush, Notice: e.notice, NoticeAgoS: now.Sub(e.noticeAt).Seconds(),
		Open: e.openLevels(now), Holds: e.heldWords(),
		Nudges: e.overrides.NudgeWords(), ByOthers: e.byOthers,
	}
	v.Rows, v.Bench = e.rows(now)
	v.Problem, v.ProblemAgoS = e.lastProblem(now)
	if e.step >= 0 {
		v.Name = e.route.Cues[e.step].Name
	}
	if e.setup.Time != nil {
		v.Now = e.setup.Time.At(v.ShowS)
		v.BPM = v.Now.BPM * v.Rate
		v.WaitCounts, v.Ticks = e.waitForNext(v.ShowS)
	}
	if e.setup.Ring != nil {
		v.Ring = e.setup.Ring(v.ShowS, v.Rows)
	}
	v.Next, v.NextAuto = e.ahead(now)
	for _, f := range e.feeds {
		v.Mixers = append(v.Mixers, e.mixerView(f, now))
	}
	if x := e.overrides.Only; x != nil {
		v.Only = e.who(e.overrides.Spare(x.Channel))
	}
	for _, s := range e.overrides.Swaps {
		v.Swaps = append(v.Swaps, fmt.Sprintf("%s to channel %d", e.who(s.Channel), s.Spare))
	}
	return v
}

func (e *Engine) openLevels(now time.Time) map[int]float64 {
	levels := map[int]float64{}
	for _, c := range e.target.Channels {
		if dB, _, open := e.motion.LevelDB(c.Channel, now); open {
			levels[c.Channel] = dB
		}
	}
	return levels
}

// heldWords lists the held channels. One that is closed and open in the cue has no row anywhere else.
func (e *Engine) heldWords() (list []string) {
	for _, n := range e.overrides.HeldChannels() {
		who := e.who(n)
		if e.step >= 0 && e.overrides.HeldShut(n, &e.route.Cues[e.step]) {
			who += " closed (the cue has it open)"
		}
		list = append(list, who)
	}
	return list
}

// rows lists, in the order of their numbers, the channels of the show and those outside it that are open at a mixer: those
// that the operator must see, and all.
func (e *Engine) rows(now time.Time) (list, all []ChannelRow) {
	channels, o := e.target.Channels, &e.overrides
	for _, f := range e.feeds {
		for _, n := range f.Outside().Open() {
			if !slices.ContainsFunc(channels, is(n)) {
				channels = append(slices.Clip(channels), cue.Channel{Channel: n})
			}
		}
	}
	for _, c := range channels {
		var worst *ChannelRow
		for _, f := range e.feeds {
			row := ChannelRow{c.Channel, o.Own(c.Channel), o.Held(c.Channel), o.NudgedDB(c.Player), c.Player, c.Kind,
				c.Role, f.To(), f.Channel(c.Channel, now)}
			if worst == nil || row.Listed() && !worst.Listed() ||
				row.Listed() == worst.Listed() && row.Sign.Rank() > worst.Sign.Rank() {
				worst = &row
			}
		}
		if worst != nil {
			all = append(all, *worst)
		}
	}
	slices.SortStableFunc(all, func(a, b ChannelRow) int { return a.Channel - b.Channel })
	return slices.DeleteFunc(slices.Clone(all), func(r ChannelRow) bool { return !r.Listed() }), all
}

// ahead is the cue that the next go starts, and the next automatic step before that; nil if there is none.
func (e *Engine) ahead(now time.Time) (next, auto *NextCue) {
	i := e.route.Upcoming(e.step)
	if i < len(e.route.Cues) {
		next = e.preview(i, now)
	}
	if i > e.step+1 {
		auto = e.preview(e.step+1, now)
	}
	return next, auto
}

func (e *Engine) mixerView(f *feed.Feed, now time.Time) MixerView {
	s := f.Status()
	d := MixerView{
		To: s.To, Up: s.Up, Reason: s.Reason, Waiting: s.Waiting, Unconfirmed: s.Unconfirmed, Confirms: s.Confirms,
		NoReply: s.NoReply, ReplyAgoS: -1, Restarted: s.Restarted, Contested: s.Contested, Overwritten: s.Overwritten,
		SlowS: s.Slow.Seconds(), Unknown: s.Unknown, NotClosed: s.NotClosed,
	}
	if !s.HeardAt.IsZero() {
		d.ReplyAgoS = now.Sub(s.HeardAt).Seconds()
	}
	for _, m := range f.Moves() {
		d.Manual = append(d.Manual, fmt.Sprintf("%s: %s", e.who(m.Channel), m.What))
	}
	return d
}

// waitForNext is the number of counts from the last pressed cue to the next, and the automatic steps in between.
func (e *Engine) waitForNext(nowS float64) (counts float64, ticks []Tick) {
	next := e.route.Upcoming(e.step)
	for i := e.step + 1; i < next; i++ {
		ticks = append(ticks, Tick{e.route.ID(i), e.setup.Time.Counts(nowS, e.route.Cues[i].TimeS)})
	}
	if next == len(e.route.Cues) {
		return 0, ticks
	}
	fromS := 0.0
	if last := e.route.LastPressed(e.step); last >= 0 {
		fromS = e.route.Cues[last].TimeS
	}
	return e.setup.Time.Counts(fromS, e.route.Cues[next].TimeS), ticks
}

// preview describes an upcoming step.
func (e *Engine) preview(i int, now time.Time) *NextCue {
	s, nowS := &e.route.Cues[i], e.clock.NowS(now)
	n := &NextCue{
		ID: s.ID, At: s.At, Name: s.Name, InS: (s.TimeS - nowS) / e.clock.Rate, Auto: e.route.Automatic(i),
	}
	if e.setup.Time != nil {
		n.Counts = e.setup.Time.Counts(nowS, s.TimeS)
	}
	o := e.overrides // what the operator has changed stays, but not only
	o.Only = nil
	then := e.snapshot(&o, i, now)
	n.Summary = step.Between(e.setup.Show.Params, &e.target, &then).Summary()
	if o.Hush {
		o.Hush = false
		was, will := e.snapshot(&o, e.step, now), e.snapshot(&o, i, now)
		n.Intent = new(step.Between(e.setup.Show.Params, &was, &will).Summary())
	}
	return n
}
