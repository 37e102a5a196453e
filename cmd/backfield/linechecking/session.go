package linechecking

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"backfield/cmd/backfield/publish"
	"backfield/cmd/backfield/show"
	"backfield/cue/keep"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/feed"
	"backfield/osc/glance"
	"backfield/osc/linecheck"
	"backfield/osc/live"
	"backfield/osc/run"
)

const (
	lookEvery = 20 * time.Millisecond // between two looks at the mixers
	lastSend  = 2 * time.Second       // how long the end waits for them to close
)

// SessionOptions are the settings of a line check.
type SessionOptions struct {
	Score   string // the path of the score; the record is next to it
	Tonight string // the path of the file that fixes go to
	To      []string
	LevelDB float64
	Order   string
	New     bool // begin from the start, whatever the record says
	Trial   bool // the mixer is a simulated one: nothing is recorded
}

// checkDriver drives the engine that opens and closes: a live.Driver, or one in simulated time.
type checkDriver interface {
	Do(run.Command) (said string, err error)
	View() (v run.View, ok bool)
	Close(most time.Duration) (open []run.MixerView)
}

// Session is a line check in progress. Its methods may be called from any goroutine.
type Session struct {
	o      SessionOptions
	show   *show.Loaded
	packs  []linecheck.CheckedPack
	record *recordFile // nil for a trial
	driver checkDriver
	now    func() time.Time
	stop   context.CancelFunc
	began  time.Time
	ended  chan struct{} // closed when the driver and the looks have ended

	mu     sync.Mutex
	check  *linecheck.Check
	want   int      // what the engine was last given
	seen   run.View // of the last look
	wrong  string   // a failure of the record or the engine; empty for none
	closed bool
}

// Start begins a line check, or goes on with tonight's. It closes every channel of the show. on says what it goes on
// with; empty for a new check.
func Start(s *show.Loaded, o SessionOptions) (x *Session, on string, err error) {
	engine, x, on, err := prepare(s, o, time.Now)
	if err != nil {
		return nil, "", err
	}
	driver := live.New(engine, s.Mixer, o.To)
	x.driver = driver
	working, stop := context.WithCancel(context.Background())
	x.stop = stop
	var all sync.WaitGroup
	all.Go(func() { driver.Run(working, o.To) })
	all.Go(func() { x.keepLooking(working) })
	go func() { all.Wait(); close(x.ended) }()
	return x, on, nil
}

// prepare makes a check and the engine that opens and closes for it.
func prepare(s *show.Loaded, o SessionOptions, clock func() time.Time) (
	e *run.Engine, x *Session, on string, err error,
) {
	now := clock()
	x = &Session{o: o, show: s, packs: Packs(s, o.Order), now: clock, began: now, ended: make(chan struct{})}
	if len(x.packs) == 0 {
		return nil, nil, "", errors.New("the roster has no pack on a channel: there is nothing to check")
	}
	var record linecheck.Record
	if !o.Trial {
		if x.record, err = openRecord(o.Score); err != nil {
			return nil, nil, "", err
		}
		if record, _, err = ReadRecord(o.Score); err != nil {
			x.record.close()
			return nil, nil, "", err
		}
	}
	first := linecheck.CheckEntry{At: now, Kind: linecheck.KindStart, Format: linecheck.Format, Show: s.Show.Title,
		Packs: len(x.packs), LevelDB: &o.LevelDB}
	if !o.New && GoesOn(record, now) {
		on = fmt.Sprintf("goes on with the line check of %s (--new begins from the start)",
			record.At().Local().Format("15:04"))
		first = linecheck.CheckEntry{At: now, Kind: linecheck.KindResumed}
	} else {
		record.Entries = append(record.Entries, first) // what an older check found counts no more, its batteries do
	}
	if err := x.write(first); err != nil {
		x.record.close()
		return nil, nil, "", err
	}
	x.check = linecheck.New(x.packs, record, linecheck.CheckOptions{
		Names: s.Roster.Names(), Record: func(e linecheck.CheckEntry) {
			if err := x.write(e); err != nil {
				x.wrong = fmt.Sprintf("CANNOT WRITE %s: %v", RecordPath(o.Score), err)
			}
		},
	}, now)
	setup := run.ShowSetup{Show: scenes(s, x.packs, o.LevelDB), Mixer: s.Mixer}
	return run.New(setup, run.Options{To: o.To}, now), x, on, nil
}

// keepLooking looks at the mixers until the context ends.
func (x *Session) keepLooking(ctx context.Context) {
	tick := time.NewTicker(lookEvery)
	defer tick.Stop()
	for {
		select {
		case <-tick.C:
		case <-ctx.Done():
			return
		}
		x.mu.Lock()
		if !x.closed {
			x.look(x.now())
		}
		x.mu.Unlock()
	}
}

// write adds an entry to the record.
func (x *Session) write(e linecheck.CheckEntry) error {
	if x.record == nil {
		return nil
	}
	return x.record.add(e)
}

// look takes what the mixers say, and has the engine open and close what the check wants. The caller holds mu.
func (x *Session) look(now time.Time) {
	v, ok := x.driver.View()
	if !ok {
		return
	}
	x.seen = v
	x.check.See(stateOf(v, x.want), now)
	if x.check.Want() == 0 && slices.ContainsFunc(v.Rows, isMoved) {
		x.driver.Do(run.Command{Verb: run.Release, Name: "all"}) // it has nothing to release if it was faster
	}
	x.follow()
}

// follow gives the engine what the check wants. The caller holds mu.
func (x *Session) follow() {
	want := x.check.Want()
	if want == x.want {
		return
	}
	name := closedCue
	if want != 0 {
		name = openCue(want)
	}
	if _, err := x.driver.Do(run.Command{Verb: run.Jump, Name: name}); err != nil {
		x.wrong = err.Error()
		return
	}
	x.want = want
}

// isMoved reports whether someone has moved a channel of the show at the mixer.
func isMoved(r run.ChannelRow) bool {
	return r.Sign == feed.ChannelManual || r.Sign == feed.ChannelMuted || r.Sign == feed.ChannelStillOpen
}

// stateOf is what the mixers say about the channel that is to be open, or about all being closed.
func stateOf(v run.View, want int) linecheck.MixerState {
	m := linecheck.MixerState{Confirms: true, Problem: problemOf(v)}
	heard, closed := len(v.Mixers) > 0, true
	for _, d := range v.Mixers {
		m.Confirms = m.Confirms && d.Confirms
		heard = heard && d.Up && !d.NoReply
		closed = closed && len(d.NotClosed) == 0
	}
	open := false
	for _, r := range v.Rows {
		switch {
		case r.Sign == feed.ChannelOutside:
		case r.Channel == want:
			open = !r.Fading && (r.Sign == feed.ChannelOK || r.Sign == feed.ChannelManual && r.OpenAtMixer())
		case r.ShowOpen || r.Sign == feed.ChannelStillOpen:
			closed = false
		}
	}
	m.AllClosed, m.IsOpen = heard && closed && want == 0, heard && closed && open
	return m
}

// problemOf is what is wrong with the mixers; empty for nothing.
func problemOf(v run.View) string {
	for _, a := range glance.Alarms(v) {
		if a.Kind == glance.AlarmMixer {
			return a.Text
		}
	}
	return ""
}

// Do takes a key and returns the answer. After an error nothing has changed.
func (x *Session) Do(p linecheck.CheckPress) (said string, err error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.closed {
		return "", errEnded
	}
	if said, err = x.check.Press(p, x.now()); err == nil {
		x.follow()
	}
	return said, err
}

var errEnded = errors.New("the line check has ended")

// Fix writes the fix that is offered to tonight.toml, and returns the answer.
func (x *Session) Fix(seq int, by string) (said string, err error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	fix, ok := x.check.Offer()
	switch {
	case x.closed:
		return "", errEnded
	case !ok:
		return "", errors.New("there is nothing that a row of tonight.toml fixes")
	case seq != 0 && seq != x.check.View(x.now()).Seq:
		return "", errors.New("ignored: another pack is open by now; look again, then press again")
	}
	if !x.o.Trial {
		if err := writeFix(x.o.Tonight, fix); err != nil {
			return "", err
		}
	}
	x.check.Fixed(fix, by, x.now())
	return fmt.Sprintf("%s: written to %s. The run goes by it with --tonight", fix.String(), x.o.Tonight), nil
}

// writeFix adds a row to tonight.toml, which is made if it is not there.
func writeFix(path string, fix linecheck.Fix) error {
	raw, err := os.ReadFile(path)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	mark := ""
	if rest, found := strings.CutPrefix(string(raw), "\uFEFF"); found {
		mark, raw = "\uFEFF", []byte(rest)
	}
	file, err := source.Open(path, raw, table.TOMLLimit)
	if err != nil {
		return fmt.Errorf("%s is %w", path, err)
	}
	text, err := keep.TonightRow(file, string(fix.Kind), fix.Packs...)
	if err != nil {
		return err
	}
	if real, err := filepath.EvalSymlinks(path); err == nil {
		path = real
	}
	out := publish.OutputFile{Name: filepath.Base(path), Data: []byte(mark + text)}
	return publish.Files(filepath.Dir(path), []publish.OutputFile{out})
}

// Settled reports whether the next key can be given: nothing is on the way.
func (x *Session) Settled() bool {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.check.Settled(x.now())
}

// Who finds the player that someone means, for a wrong player.
func (x *Session) Who(text string) (string, error) {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.check.Who(text)
}

// Players lists whom a wrong player may be, the likely ones first.
func (x *Session) Players() []string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.check.Players()
}

// Summary says in a few lines how the check went.
func (x *Session) Summary() []string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return x.check.Summary()
}

// Ended is closed when the check has ended.
func (x *Session) Ended() <-chan struct{} { return x.ended }

// Close closes every channel and ends the check. It returns the mixers that may not have received that. It may be called
// more than once.
func (x *Session) Close() (open []run.MixerView) {
	x.mu.Lock()
	if x.closed {
		x.mu.Unlock()
		return nil
	}
	x.closed = true
	x.write(linecheck.CheckEntry{At: x.now(), Kind: linecheck.KindEnd}) // without it the check goes on all the same
	x.mu.Unlock()
	open = x.driver.Close(lastSend)
	x.stop()
	<-x.ended
	if x.record != nil {
		x.record.close()
	}
	return open
}
