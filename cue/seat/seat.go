// Package seat says what one seat hears of one mic at one moment: when the player's own sound and each stack arrive, how
// loud, and from where; if the stacks are in time; and all of that in other ways of feeding the stacks, to compare. It
// opens no file and makes no sound.
package seat

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sync"

	"backfield/cue"
	"backfield/cue/balance"
	"backfield/cue/clock"
	"backfield/cue/compile"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/rig"
	"backfield/layout/seatname"
)

// Way is how the mic gets to the stacks.
type Way string

// The ways.
const (
	Compiled Way = "compiled" // as the show's snapshots have it
	NoDelay  Way = "none"     // the same with a delay of 0
	Stereo   Way = "stereo"   // with a left and a right bus, and a path of its own
	Zones    Way = "zones"    // with a bus for each stack, and a path of its own
)

// WayView is a way that may be asked for.
type WayView struct {
	Way      Way    `json:"way"`
	Words    string `json:"words"`    // for a button
	Possible bool   `json:"possible"` // for this show
	Why      string `json:"why"`      // it is not; else ""
}

// Question is what is asked.
type Question struct {
	Seat seatname.NamedSeat
	Mic  string // the player or the fixed mic
	At   clock.Moment
	Way  Way
}

// HeardSound is one sound at a seat.
type HeardSound struct {
	From         string     `json:"from"`         // the player, or the stack
	Kind         string     `json:"kind"`         // "player" or "stack"
	TimeMS       float64    `json:"timeMS"`       // after the note leaves the player: flight, latency and delays
	LeaveMS      float64    `json:"leaveMS"`      // when it leaves its source, without the flight
	At           [3]float64 `json:"at"`           // of its source: x, y and height, in meters
	LevelDB      float64    `json:"levelDB"`      // against the loudest at this seat, which has 0
	LevelDBA     *float64   `json:"levelDBA"`     // as it is; null until noise and brass were measured
	AzimuthDeg   float64    `json:"azimuthDeg"`   // from the seat in plan: 0 straight to the field, 90 to the right
	ElevationDeg float64    `json:"elevationDeg"` // above the horizontal
	DistanceM    float64    `json:"distanceM"`    // from the seat
	Counts       bool       `json:"counts"`       // a stack at most 10 dB under the loudest stack at this seat
	Echo         bool       `json:"echo"`         // heard as an echo
	EchoUnderDB  *float64   `json:"echoUnderDB"`  // of an echo: how much softer than all stacks before it it is
}

// The kinds of arrivals.
const (
	PlayerKind = "player"
	StackKind  = "stack"
)

// Heard is what a seat hears, which is also what the page gets.
type Heard struct {
	Seat    string  `json:"seat"`  // "row 12, seat 66", "press box"
	Block   string  `json:"block"` // of the stands; "" where there is only one
	Row     int     `json:"row"`   // from 1 at the front; 0 for the press box and for surveyed seats
	Number  int     `json:"number"`
	Index   int     `json:"index"` // in FieldView.Seats; -1 for the press box, and for a seat without a weight
	XM      float64 `json:"x"`
	YM      float64 `json:"y"`
	ZM      float64 `json:"z"`
	Player  string  `json:"player"` // or the fixed mic
	Channel int     `json:"channel"`
	Role    string  `json:"role"`
	Cue     string  `json:"cue"`    // the cue that the numbers are from
	Closed  bool    `json:"closed"` // the mic is closed here; the numbers are for its next opening
	Rests   bool    `json:"rests"`  // the player rests here; the levels are those of playing
	DelayMS float64 `json:"delayMS"`
	FaderDB float64 `json:"faderDB"`

	SpeedMPS float64 `json:"speedMPS"` // of sound

	Way      Way          `json:"way"`
	Ways     []WayView    `json:"ways"`
	Arrivals []HeardSound `json:"arrivals"` // in order of time

	WindowMS [2]float64 `json:"windowMS"` // after the player, in which a stack is in time
	GapMS    *float64   `json:"gapMS"`    // the arrival gap; null where there is none
	InTime   *float64   `json:"inTime"`   // share of all seats in time at this moment, 0 to 1; null without stands
	State    State      `json:"state"`
	Verdict  string     `json:"verdict"` // a heading of a few words
	Why      string     `json:"why"`     // one sentence

	Levels       LevelSource `json:"levels"`
	GiveOrTakeDB float64     `json:"giveOrTakeDB"` // of the stacks against the player; 0 where the player is assumed
	LevelTakeDB  float64     `json:"levelTakeDB"`  // of each levelDBA; 0 where there is none
}

// State is the verdict as a word for a program.
type State string

// The states.
const (
	Early    State = "early"
	InTime   State = "in-time"
	Late     State = "late"
	Echo     State = "echo"      // in time, and another stack is an echo
	Unheard  State = "unheard"   // no stack carries the mic
	NoPlayer State = "no-player" // a line
)

// LevelSource says where the levels of the arrivals are from.
type LevelSource string

// The sources.
const (
	Measured  LevelSource = "measured"  // noise and brass were read at the site
	Estimated LevelSource = "estimated" // from the tables of balance
	// The stacks are right against each other, and the player is taken to be as loud as the loudest of them: for a fixed
	// mic, and where an instrument is not known.
	Assumed LevelSource = "assumed"
)

// Audience is a compiled show as the seats hear it. It is safe for concurrent use.
type Audience struct {
	r      *compile.Result
	loud   *balance.Loudness // nil: how loud the players are cannot be computed
	mu     sync.Mutex
	others map[int]*compile.Result // by line: with the other feed
}

// New prepares a show, which has compiled. loud may be nil.
func New(r *compile.Result, loud *balance.Loudness) *Audience {
	return &Audience{r: r, loud: loud, others: map[int]*compile.Result{}}
}

// CueAt is the cue that holds at a moment: the last one at it or before, or the first one of the show.
func (a *Audience) CueAt(m clock.Moment) int {
	n := 0
	for i := range a.r.Cues {
		if !m.Before(a.r.Cues[i].At) {
			n = i
		}
	}
	return n
}

var errNoCue = errors.New("the show has no cue yet, so no mic is open; write one, or try backfield suggest --cues")

// MicOf is the player who wears a channel at a moment, or the fixed mic.
func (a *Audience) MicOf(channel int, m clock.Moment) (name string, err error) {
	if len(a.r.Show.Cues) == 0 {
		return "", errNoCue
	}
	snapshot := &a.r.Show.Cues[a.CueAt(m)]
	for i := range snapshot.Channels {
		if c := &snapshot.Channels[i]; c.Channel == channel && c.Player == "" {
			return "", fmt.Errorf("nobody wears channel %d in cue %s", channel, snapshot.ID)
		} else if c.Channel == channel {
			return c.Player, nil
		}
	}
	return "", fmt.Errorf("no channel %d: it is in neither the roster nor the rig", channel)
}

// Hear answers a question. The error says why there is no answer.
func (a *Audience) Hear(q Question) (*Heard, error) {
	x, at, closed, err := a.ask(q)
	if err != nil {
		return nil, err
	}
	w := x.w
	h := &Heard{
		Seat: q.Seat.Name, Block: q.Seat.Block, Row: q.Seat.Row, Number: q.Seat.Number, Index: q.Seat.Index,
		XM: q.Seat.At.X, YM: q.Seat.At.Y, ZM: q.Seat.At.Z, Player: w.Name, Channel: w.Channel, Role: w.Role, Cue: at,
		Closed: closed, DelayMS: x.delayMS, FaderDB: x.faderDB, Way: q.Way, Ways: a.ways(),
		SpeedMPS: x.setup.System.SpeedMPS,
		WindowMS: [2]float64{x.setup.Window().LeastMS, x.setup.Window().MostMS},
	}
	x.arrive(h)
	x.judge(h)
	return h, nil
}

// ask finds what a question is about, the cue that the numbers are from, and if the mic is closed at that moment.
func (a *Audience) ask(q Question) (x *asked, at string, closed bool, err error) {
	if len(a.r.Show.Cues) == 0 {
		return nil, "", false, errNoCue
	}
	i := a.CueAt(q.At)
	w, at, closed, err := a.r.Explain(a.r.Cues[i].Cue.ID.V, q.Mic)
	if err != nil {
		return nil, "", false, err
	}
	x = &asked{Audience: a, seat: q.Seat, w: w, cue: i, at: q.At, fixed: a.r.Lines.List[w.Line].Fixed}
	if x.place, err = x.where(); err != nil {
		return nil, "", false, err
	}
	if closed { // the channel waits with the values that it opens with
		x.at = w.From
		x.cue = slices.IndexFunc(a.r.Show.Cues, func(s cue.Snapshot) bool { return s.ID == at })
	}
	return x, at, closed, x.feed(q.Way)
}

// MicGap is the arrival gap of one open mic at a seat.
type MicGap struct {
	Player string  `json:"player"`
	GapMS  float64 `json:"gapMS"`
	State  State   `json:"state"`
}

// Gaps lists the open worn mics of a moment as a seat hears them, as compiled, in the order of the channels. A mic that
// no stack carries is left out.
func (a *Audience) Gaps(seat seatname.NamedSeat, at clock.Moment) []MicGap {
	list := []MicGap{}
	if len(a.r.Show.Cues) == 0 {
		return list
	}
	for _, c := range a.r.Show.Cues[a.CueAt(at)].Channels {
		if !c.Open || c.Kind != cue.Worn {
			continue
		}
		x, _, _, err := a.ask(Question{Seat: seat, Mic: c.Player, At: at, Way: Compiled})
		if err != nil || !slices.ContainsFunc(x.gains, func(g float64) bool { return g > 0 }) {
			continue
		}
		ms, echoes := x.gap()
		list = append(list, MicGap{c.Player, ms, stateOf(ms, x.setup.Window(), len(echoes) > 0)})
	}
	return list
}

// ways are those that there may be.
func (a *Audience) ways() []WayView {
	list := []WayView{{Way: Compiled, Words: "As compiled", Possible: true}, {Way: NoDelay, Words: "No delay",
		Possible: true}, {Way: Stereo, Words: "Stereo", Possible: true}, {Way: Zones, Words: "Zones", Possible: true}}
	if len(a.r.Rig.MainStacks()) < 2 {
		list[2].Possible, list[2].Why = false, "the rig has one stack"
		list[3].Possible, list[3].Why = list[2].Possible, list[2].Why
	}
	return list
}

// asked is a question that is being answered.
type asked struct {
	*Audience
	seat  seatname.NamedSeat
	w     *work.Derivation
	cue   int // that the numbers are from
	at    clock.Moment
	place layout.Point // of the player
	fixed *rig.Mic     // nil for a worn one

	setup            *work.CompileSetup
	gains            []float64 // amplitudes at 1 m from each stack, without the fader
	delayMS, faderDB float64
}

// where is the player's place at the moment.
func (x *asked) where() (layout.Point, error) {
	if x.fixed != nil {
		return x.fixed.At, nil
	}
	p, ok := x.r.Drill.Player(x.w.Name)
	var at layout.Point
	if ok {
		at, ok = p.At(x.r.Drill, x.at.Movement, x.at.Elapsed)
	}
	if !ok {
		return at, fmt.Errorf("%s has no dot at this count", x.w.Name)
	}
	at.Z = x.w.Place.Start.Z
	return at, nil
}

// feed finds what the channel does in a way of feeding the stacks.
func (x *asked) feed(way Way) error {
	snapshot := &x.r.Show.Cues[x.cue]
	channel := slices.IndexFunc(snapshot.Channels, func(c cue.Channel) bool { return c.Channel == x.w.Channel })
	c := &snapshot.Channels[channel]
	counts := func(fromS, toS float64) float64 { return x.r.Clock.Counts(x.r.Clock.At(fromS), x.r.Clock.At(toS)) }
	now := snapshot.GlideAt(c, x.r.Clock.Seconds(x.at), x.r.Show.Rig.Delay.Moves, counts)
	x.setup, x.delayMS, x.faderDB = x.r.Setup, now.DelayMS, float64(now.LevelDB)
	for _, v := range x.ways() {
		if v.Way == way && !v.Possible {
			return fmt.Errorf("%s is not possible here: %s", way, v.Why)
		}
	}
	switch {
	case way == Compiled || way == NoDelay || way == Stereo && !x.r.Rig.Zones || way == Zones && x.r.Rig.Zones:
		if x.gains = x.setup.System.Gains(now.Pan); x.r.Rig.Zones {
			x.gains = x.sent(c, now)
		}
		if way == NoDelay {
			x.delayMS = 0
		}
	case way == Stereo || way == Zones:
		x.otherFeed()
	default:
		return fmt.Errorf("no way %q; it is compiled, none, stereo or zones", way)
	}
	return nil
}

// sent are the gains that the sends of a channel give, as they are sent at the cue's moment, and after it as the place
// along the row of stacks moves.
func (x *asked) sent(c *cue.Channel, now cue.Gliding) []float64 {
	sends := c.Sends
	if c.Place == nil || now.Place != *c.Place {
		sends = cue.PlaceLevels(now.Place, x.r.Show.Rig.RowOfStacks())
	}
	stacks := x.r.Rig.MainStacks()
	amplitudes := make([]float64, len(stacks))
	for k := range stacks {
		if z := slices.IndexFunc(sends, func(s cue.Send) bool { return s.Zone == stacks[k].Zone }); z >= 0 {
			amplitudes[k] = math.Pow(10, float64(sends[z].LevelDB)/20)
		}
	}
	return x.setup.System.Through(amplitudes)
}

// otherFeed finds the path that the mic would have with the other feed. Its line alone is computed, once.
func (x *asked) otherFeed() {
	x.mu.Lock()
	defer x.mu.Unlock()
	other := x.others[x.w.Line]
	if other == nil {
		fed := x.r.Rig.AsStereo()
		if !x.r.Rig.Zones {
			fed = x.r.Rig.AsZones()
		}
		other = x.r.OnRig(fed, x.w.Line)
		x.others[x.w.Line] = other
	}
	n := slices.IndexFunc(other.Derivations[x.cue], func(w *work.Derivation) bool { return w.Line == x.w.Line })
	w := other.Derivations[x.cue][n] // who is open does not depend on the feed
	k := w.Stretch.At(w.Lo, x.at)
	x.setup, x.gains, x.delayMS = other.Setup, other.Setup.GainsAt(w.Stretch.Want[k]), w.Stretch.SentMS[k]
}

// playing is the performer who wears the mic, and the mic, as this way sends it: nil where nobody knows how loud it is.
func (x *asked) playing() (p *level.Playing, m *level.WornMic) {
	if x.loud == nil || x.fixed != nil {
		return nil, nil
	}
	p = x.loud.Moment(x.cue, x.at)
	n := slices.IndexFunc(p.Worn, func(m level.WornMic) bool { return m.Name == x.w.Name })
	if n < 0 {
		return nil, nil
	}
	m = &p.Worn[n]
	p.Performers[m.Wearer].At = x.place
	x.asSent(&m.Strip)
	return p, m
}

// asSent gives a strip the sends and the fader of this way.
func (x *asked) asSent(m *level.Strip) {
	m.FaderDB = x.faderDB
	m.SendDB = make([]float64, len(x.gains))
	for k, g := range x.gains {
		m.SendDB[k] = 20*math.Log10(g) - x.loud.Stadium.Stacks[k].TrimDB // -Inf where it is off
	}
}
