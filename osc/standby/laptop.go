// Package standby lets a second laptop stand by for the one that runs the show, and take over without both ever sending
// to the mixers at once. It holds the lines of the link between the two, the key that admits a standby, the state that
// the standby follows, and the decision who sends. A Laptop is a pure machine, in virtual time: it is given instants,
// lines and what is heard from the mixers, opens no socket and reads no clock.
//
// Every takeover raises a term number, which the lines carry. Laptop 1 takes odd terms and laptop 2 even ones, so no two
// laptops ever have the same, and the higher one sends. Where the link is cut, a laptop that sends has the mixers echo a
// value every so often (a beacon); so the other hears that it is at work before it begins to send itself.
package standby

import (
	"time"

	"backfield/osc/journal"
)

// How long things take. A laptop that was stopped for longer than frozen asks before it sends; nobody takes over from it
// in a shorter time without its consent.
const (
	beatEvery   = 100 * time.Millisecond
	quiet       = 500 * time.Millisecond // without a line the link is silent
	frozen      = 400 * time.Millisecond
	ackWait     = 300 * time.Millisecond // for laptop 1 to say that it is silent, and for an answer after a freeze
	listenFor   = 500 * time.Millisecond // to hear at the mixers whether the other laptop sends
	beaconEvery = 150 * time.Millisecond
	pauseFor    = 150 * time.Millisecond // when a mixer shows a value of another program
	strayFor    = time.Second            // values of another program within this time are of one cause
	manyStray   = 3                      // addresses that nobody moves at once at the mixer
	confirmFrom = 500 * time.Millisecond // a second press sooner is the same press
	confirmTo   = 10 * time.Second       // and one later is a new one
	triedFor    = 3 * time.Second        // another program that is heard so soon after the key has not stopped for it
)

// Mode is what a laptop is doing.
type Mode string

// The modes.
const (
	Watching  Mode = "watching"  // it follows the other laptop and sends the mixers nothing
	Asking    Mode = "asking"    // it has asked the other to go silent, and waits
	Listening Mode = "listening" // it listens at the mixers for the other
	Sending   Mode = "sending"
	Pausing   Mode = "pausing"  // it sends, but a mixer has just shown a value of another program
	Checking  Mode = "checking" // it sent, was stopped for a while, and asks the other who sends now
	Stopped   Mode = "stopped"  // another program may be sending: the operator decides
)

// MaySend reports whether a laptop in this mode is the one that sends, even if it pauses.
func (m Mode) MaySend() bool { return m == Sending || m == Pausing }

// LaptopOptions are how a laptop is set up.
type LaptopOptions struct {
	First     bool          // it is the one that begins the show
	Echo      bool          // the mixers say to everybody what anybody sends
	Mixers    int           // how many there are
	Automatic time.Duration // takes over by itself after this long of silence; 0 for never
}

// Laptop is one of the two. Make one with New. It is for one goroutine.
type Laptop struct {
	o    LaptopOptions
	mode Mode
	term int  // the highest that is known
	mine bool // it is this laptop's
	wish int  // the term that this laptop has asked for, 0 for none

	linked   bool
	partner  bool          // another laptop has been admitted
	left     bool          // the other has ended its run
	acked    bool          // the operator knows that it is silent
	heardAt  time.Time     // when a line last came
	deaf     time.Duration // how long the other had heard nothing, when it last said
	other    PairLine      // its last beat
	unsure   bool          // nothing has shown that the other is silent since this laptop began
	rival    bool          // and it does send, as it says
	regained bool          // it has gone silent since
	fought   bool          // after it did send
	promised time.Time     // when this laptop went silent for the other, which has not begun yet; zero for never
	beatAt   time.Time
	question int           // the number of the last Ask
	stall    time.Duration // how long this laptop was stopped, when it last was
	ousted   bool          // a mixer has shown another's values since

	base      time.Time // when this machine was made
	lastAt    time.Time // when this machine was last called
	until     time.Time // the end of Asking, Listening, Pausing or Checking
	askedAt   time.Time // when the operator was asked to press again; zero for not
	listening listening
	strays    map[string]time.Time // addresses of other programs' values, and when they came
	triedAt   time.Time            // when the operator last had a laptop that was stopped go on
	stoppedAt time.Time
	insist    bool      // it was stopped again after that, and the operator has read so
	forcedAt  time.Time // when the other's values were last passed over, as the operator insisted
	beaconAt  time.Time
	retryAt   time.Time // no automatic takeover before
	why       toDecide  // what the operator should know about the mode
	whyUntil  time.Time // until when that holds; zero for as long as the mode does
	silenced  string    // why the other laptop sends in place of this one, where that was not this one's consent
	screen    mixersHeard

	log     log
	state   journal.RunState
	hasLog  bool // something of the other's journal has come
	clock   offset
	entries []journal.Entry // of the other's, for this laptop's own journal
	out     []PairLine
	theirs  *PairLine // how far the other has the journal, nil for unknown
}

// listening is what is heard while a laptop listens at the mixers.
type listening struct {
	purpose purpose
	heard   []bool // by mixer
	foreign bool
	probeAt time.Time
}

type purpose int

const (
	byKey purpose = iota
	bySilence
	afterFreeze
)

// New makes a laptop. The first one sends at once.
func New(o LaptopOptions, now time.Time) *Laptop {
	l := &Laptop{o: o, mode: Watching, base: now, lastAt: now, heardAt: now, strays: map[string]time.Time{}}
	l.state.Clock.Rate = 1
	if o.First {
		l.mode, l.term, l.mine = Sending, 1, true
	}
	return l
}

// Linked says that the link is up and the other laptop is admitted.
func (l *Laptop) Linked(now time.Time) {
	l.notice(now)
	l.linked, l.partner, l.left, l.acked, l.heardAt, l.deaf = true, true, false, false, now, 0
	l.insist, l.forcedAt = false, time.Time{}
	l.out, l.theirs, l.beatAt, l.clock, l.screen = nil, nil, now, offset{}, mixersHeard{}
	l.have()
	l.beat(now)
	if l.mode == Watching { // what was said of its silence no longer holds
		l.askedAt, l.why = time.Time{}, toDecide{}
	}
	switch { // it can be asked after all
	case l.mode == Listening && l.listening.purpose == byKey:
		l.askSilence(now)
	case l.mine && l.listening.purpose == afterFreeze && (l.mode == Listening || l.mode == Stopped):
		l.ask(now)
	}
}

// Cut says that the link is down.
func (l *Laptop) Cut(now time.Time) {
	l.notice(now)
	l.linked, l.out, l.theirs = false, nil, nil
	if l.mode == Checking || l.mode == Asking {
		l.unproven(now)
	}
}

// quietLink reports whether nothing gets through on the link, in one direction or both.
func (l *Laptop) quietLink(now time.Time) bool {
	return !l.linked || now.Sub(l.heardAt) > quiet || l.deaf > quiet
}

// Receive takes a line from the other laptop.
func (l *Laptop) Receive(line PairLine, now time.Time) {
	l.notice(now)
	if !l.linked {
		return
	}
	l.heardAt = now
	if line.AtNS != 0 {
		l.clock.note(line, l.steady(now))
	}
	if line.Term > l.term && line.Term != l.wish {
		l.outranked(line, now)
	}
	switch line.Kind {
	case Have:
		l.theirs = &line
		l.sync()
	case Entry:
		l.follow(line, now)
	case Beat:
		l.other, l.deaf = line, time.Duration(line.DeafMS)*time.Millisecond
		if line.Sending && line.Term == l.term {
			l.promised = time.Time{}
		}
		l.watchRival(line)
	case TakeOver:
		if line.Term == l.term && !l.mine && l.mode == Watching {
			l.push(PairLine{Kind: Silent})
		}
	case Ask:
		l.push(PairLine{Kind: Reply, N: line.N, Sending: l.Sends(now)})
	case Reply:
		if l.mode == Checking && line.N == l.question || l.mode == Listening && l.listening.purpose == afterFreeze {
			l.goOn(line)
		}
	case Bye:
		l.left = true
	case Screen:
		l.screen.seen, l.screen.seenAt = line.Screen, now
	}
	// The other knows the term that this laptop asked for, and is silent: it may begin.
	silent := line.Kind == Silent || (line.Kind == Beat || line.Kind == Reply) && !line.Sending
	if l.wish != 0 && silent && line.Term == l.wish {
		l.begin(l.wish, now)
		l.unsure = false
	}
}

// Next is when Advance wants to be called again, if nothing happens before.
func (l *Laptop) Next(now time.Time) time.Time {
	at := now.Add(beatEvery)
	for _, t := range []time.Time{l.until, l.beatAt, l.beaconAt, l.listening.probeAt, l.screen.at} {
		if t.After(now) && t.Before(at) {
			at = t
		}
	}
	return at
}

// Quit says that this laptop ends its run, and sends nothing more.
func (l *Laptop) Quit() {
	l.mode = Stopped
	l.push(PairLine{Kind: Bye})
}

// Take returns the lines that are to be sent to the other laptop, in order.
func (l *Laptop) Take(now time.Time) []PairLine {
	out := l.out
	l.out = nil
	for i := range out {
		out[i].AtNS = l.steady(now).UnixNano()
		if out[i].Term == 0 {
			out[i].Term = l.term
		}
	}
	return out
}

func (l *Laptop) push(line PairLine) {
	if l.linked {
		l.out = append(l.out, line)
	}
}

// beat says that this laptop is alive, and how it stands.
func (l *Laptop) beat(now time.Time) {
	l.beatAt = now.Add(beatEvery)
	deaf := now.Sub(l.heardAt).Milliseconds()
	l.push(PairLine{Kind: Beat, N: l.log.n(), Sending: l.mode.MaySend(), DeafMS: int(max(deaf, 0))})
}
