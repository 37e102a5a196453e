// Package liverun starts or resumes a show's live run with everything around it: its journal file, commands that are
// typed or come over OSC or from a page, and notices. The run itself is in osc/run, its sockets and clock in osc/live,
// the operator's screen in the package console.
package liverun

import (
	"context"
	"fmt"
	"net/netip"
	"sync/atomic"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/osc/journal"
	"backfield/osc/live"
	"backfield/osc/presses"
	"backfield/osc/ringing"
	"backfield/osc/run"
	"backfield/osc/standby/link"
	"backfield/osc/trigger"
)

// Newest means the newest journal.
const Newest = "newest"

// StartOptions are the settings of a run.
type StartOptions struct {
	Score   string   // the path of the score; journals are in a folder next to it
	To      []string // addresses of the mixers
	ByClock bool     // every cue is automatic
	Recall  bool     // recall scenes in the mixer
	Journal string   // the path of the new journal; empty for one named by the time
	Copy    string   // a folder for a second copy of the journal; empty for none
	Resume  string   // the path of the journal to resume, or Newest; empty for a new run
	InUse   bool     // resume also a journal that another run is writing
	Beside  bool     // start also beside another run of this show
	// Confirm asks the operator a question about the journal to resume; an error is an answer that cannot be had.
	Confirm   func(question string) (yes bool, err error)
	Rehearsal bool // the mixer is a simulated one that nothing else reaches
	Pair      PairStart
	Plain     bool // there is no screen: events go to Notices
	Notices   *term.Notices
	Quit      func(by string) // ends the run for a command of another machine
}

// LiveRun is a run in progress.
type LiveRun struct {
	Driver *live.Driver

	o       StartOptions
	show    *show.Loaded
	engine  *run.Engine
	journal *journalfile.JournalWriter
	pair    *live.Pair     // nil without another laptop
	link    *link.PairLink // to it
	outer   live.TimeInlet // for the time of another machine, if the run goes by one
	notices *term.Notices
	id      string        // of the run, the same when it is resumed
	ready   chan struct{} // closed once Driver is set
	stop    context.CancelFunc
	ended   chan struct{} // closed when the driver has ended
	closers []func()
	reach   []string // where commands come in
	quit    atomic.Bool
	rings   ringing.LoopTable
}

// WrongJournal is the error of a journal that this show cannot resume.
type WrongJournal struct{ error }

func wrongJournal(format string, args ...any) error {
	return &WrongJournal{fmt.Errorf(format, args...)}
}

// Start starts or resumes the run of a show, which goes on until Close. The error is a WrongJournal or that of a file.
func Start(ctx context.Context, s *show.Loaded, o StartOptions) (*LiveRun, error) {
	r := &LiveRun{o: o, show: s, notices: o.Notices, ready: make(chan struct{}), ended: make(chan struct{})}
	begin := r.begin
	if o.Resume != "" {
		begin = r.resume
	}
	if err := r.reachFirst(ctx); err != nil {
		return nil, err
	}
	if err := begin(time.Now()); err != nil {
		r.closeLink()
		return nil, err
	}
	r.Driver = live.New(r.engine, s.Mixer, o.To)
	if err := r.startPair(); err != nil {
		r.closeAll()
		return nil, err
	}
	r.followTime()
	close(r.ready)
	r.fillRings()
	working, stop := context.WithCancel(context.Background())
	r.stop = stop
	go func() {
		r.Driver.Run(working, o.To)
		close(r.ended)
	}()
	return r, nil
}

func (r *LiveRun) plan() run.ShowSetup {
	return run.ShowSetup{Show: r.show.Show, Mixer: r.show.Mixer, Time: show.Timeline{Clock: r.show.Clock},
		Ring: r.rings.Look}
}

func (r *LiveRun) options() run.Options {
	return run.Options{To: r.o.To, ByClock: r.o.ByClock || r.followsTime(), Recall: r.o.Recall, Record: r.record}
}

// record writes an entry to the journal, and to the notices if there is no screen.
func (r *LiveRun) record(e journal.Entry) {
	r.journal.Write(e)
	if r.pair != nil {
		r.pair.Record(e)
	}
	switch {
	case !r.o.Plain:
	case e.Kind == "problem":
		r.notices.Say(e.Text)
	case e.Kind == "command" && e.From != "": // the operator's own commands are answered at once
		r.notices.Say(fmt.Sprintf("%s, from %s: %s", e.Command, e.From, e.Text))
	}
}

// reportJournalProblem shows the operator that the journal cannot be written.
func (r *LiveRun) reportJournalProblem(text string) {
	<-r.ready
	r.Driver.ReportProblem(text)
}

// JournalPath is the path of the run's journal.
func (r *LiveRun) JournalPath() string { return r.journal.Path() }

// Listen takes commands over OSC at an address, from the named machines, until Close. It returns where it listens.
func (r *LiveRun) Listen(at string, from []netip.Addr) (string, error) {
	l, err := trigger.Listen(at, from, r.ear(presses.FromOSC), func(c run.Command, from string) (string, error) {
		said, err := r.doFrom(c, from)
		if err == nil && c.Verb == run.Quit {
			r.o.Quit("/backfield/quit from " + from)
		}
		return said, err
	}, r.reportTrigger)
	if err != nil {
		return "", fmt.Errorf("--listen: %w", err)
	}
	r.closers = append(r.closers, func() { l.Close() })
	r.reached(fmt.Sprintf("by OSC at %v", l.Addr()))
	return fmt.Sprint(l.Addr()), nil
}

// doFrom carries out another machine's command.
func (r *LiveRun) doFrom(c run.Command, from string) (string, error) {
	c.From = from
	return r.Do(c)
}

// reportTrigger shows the operator a problem with commands from another machine. One with a machine that may not send
// any is for the journal: whoever can reach the port must not hide what matters.
func (r *LiveRun) reportTrigger(text string, named bool) {
	if v, ok := r.Driver.View(); named && ok && !v.Follows() {
		r.Driver.ReportProblem(text) // and into the journal
		return
	}
	r.journal.Write(journal.Entry{At: time.Now(), Kind: "problem", Text: text})
	if r.o.Plain {
		r.notices.Say(text)
	}
	if named {
		r.Driver.ReportProblem(text) // a laptop that stands by only shows it
	}
}

// reached notes where commands come in, for whoever finds the run without its terminal.
func (r *LiveRun) reached(where string) {
	r.reach = append(r.reach, where)
	text := "the run can be reached " + where
	r.journal.Write(journal.Entry{At: time.Now(), Kind: "page", Text: text, Reach: r.reach})
}

func (r *LiveRun) halt() {
	r.stop()
	<-r.ended
}

// Close ends the run if it has not ended, stops everything that sends it commands, and closes the journal.
func (r *LiveRun) Close() {
	r.halt()
	r.closeAll()
}

func (r *LiveRun) closeAll() {
	for _, c := range r.closers {
		c()
	}
	r.journal.Close()
}
