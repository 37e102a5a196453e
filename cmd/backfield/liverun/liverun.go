// Package liverun is a show's live run with what stands around it: begun or resumed with its journal file, commands that are
// typed, that come over OSC or from a page in a browser, and what is reported of it all. The run itself is in osc/run, its
// sockets and clock in osc/live, the operator's screen in the package console.
package liverun

import (
	"context"
	"errors"
	"fmt"
	"net/netip"
	"os"
	"strings"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/osc/journal"
	"backfield/osc/live"
	"backfield/osc/run"
	"backfield/osc/trigger"
)

// Newest stands for the journal that was begun last.
const Newest = "newest"

// Options are how a run is begun.
type StartOptions struct {
	Score   string   // the path of the score: its journals are next to it
	To      []string // addresses of the mixers
	ByClock bool     // every cue goes by itself
	Recall  bool     // by recalling scenes
	Journal string   // the path of the new journal; empty for one named by the time, next to the score
	Resume  string   // the path of the journal to go on from, or Newest; empty for a new run
	Plain   bool     // no screen shows the run: what happens is written to Notices
	Notices *term.Notices
}

// Run is a run at work.
type LiveRun struct {
	Driver *live.Driver

	o       StartOptions
	show    *show.Loaded
	engine  *run.Engine
	journal *journalfile.Writer
	notices *term.Notices
	ready   chan struct{} // closed when there is a stage
	stop    context.CancelFunc
	ended   chan struct{} // closed when the stage has ended
	closers []func()
}

// Unfit is the error of a journal that a run cannot go on from: the command names the wrong one.
type WrongJournal struct{ error }

func wrongJournal(format string, args ...any) error {
	return &WrongJournal{fmt.Errorf(format, args...)}
}

// Start begins or resumes the run of a show, which goes on until Close. The error is Unfit, or one of a file.
func Start(s *show.Loaded, o StartOptions) (*LiveRun, error) {
	r := &LiveRun{o: o, show: s, notices: o.Notices, ready: make(chan struct{}), ended: make(chan struct{})}
	begin := r.begin
	if o.Resume != "" {
		begin = r.resume
	}
	if err := begin(time.Now()); err != nil {
		return nil, err
	}
	r.Driver = live.New(r.engine, s.Mixer, o.To)
	close(r.ready)
	working, stop := context.WithCancel(context.Background())
	r.stop = stop
	go func() {
		r.Driver.Run(working, o.To)
		close(r.ended)
	}()
	return r, nil
}

func (r *LiveRun) plan() run.Setup {
	return run.Setup{Show: r.show.Show, Mixer: r.show.Mixer, Time: show.Timeline{Clock: r.show.Clock}}
}

func (r *LiveRun) options() run.Options {
	return run.Options{To: r.o.To, ByClock: r.o.ByClock, Recall: r.o.Recall, Record: r.record}
}

// begin makes a new run with a new journal.
func (r *LiveRun) begin(now time.Time) error {
	path := r.o.Journal
	if path == "" {
		path = journalfile.NewPath(r.o.Score, now)
	}
	file, err := journalfile.Open(path, 0, r.reportJournalProblem)
	if err != nil {
		if errors.Is(err, os.ErrExist) {
			err = fmt.Errorf("is there already; name another file, or go on with it: --resume=%s", path)
		}
		return fmt.Errorf("the journal %s: %w", path, err)
	}
	r.journal = file
	r.writeStart(now, "")
	r.engine = run.New(r.plan(), r.options(), now)
	return nil
}

// resume makes the run that a journal ends with, and goes on writing that journal.
func (r *LiveRun) resume(now time.Time) error {
	path := r.o.Resume
	if path == Newest {
		var err error
		if path, err = journalfile.Newest(r.o.Score); err != nil {
			return err
		}
	}
	entries, whole, err := journalfile.Read(path)
	if err != nil {
		return err
	}
	if len(entries) == 0 {
		return wrongJournal("--resume %s: it holds nothing of a run; start anew without --resume", path)
	}
	// Two shows may well have the same cue ids, and not the same players on a channel.
	if other := journalfile.TitleOfAnother(entries, r.show.Show.Title); other != "" {
		return wrongJournal("--resume %s: the journal is of %q, and this show is %q; "+
			"name the show that the journal is of, or start anew without --resume", path, other, r.show.Show.Title)
	}
	state, _ := journal.Last(entries)
	// Tried before anything is written to the journal.
	if _, err := run.Resume(r.plan(), run.Options{To: r.o.To}, state, now); err != nil {
		return wrongJournal("--resume %s: %w; compile the show that the journal is of, or start anew", path, err)
	}
	if r.journal, err = journalfile.Open(path, whole, r.reportJournalProblem); err != nil {
		return fmt.Errorf("the journal %s: %w", path, err)
	}
	r.writeStart(now, "resumed; ")
	if r.engine, err = run.Resume(r.plan(), r.options(), state, now); err != nil {
		r.journal.Close()
	}
	return err
}

func (r *LiveRun) writeStart(now time.Time, how string) {
	r.journal.Write(journal.Entry{At: now, Kind: "start", Format: journal.Format, Title: r.show.Show.Title,
		Text: how + strings.Join(r.o.To, ", ")})
}

// record takes what the run writes down, and reports it where no screen shows it.
func (r *LiveRun) record(e journal.Entry) {
	r.journal.Write(e)
	switch {
	case !r.o.Plain:
	case e.Kind == "problem":
		r.notices.Say(e.Text)
	case e.Kind == "command" && e.From != "": // what the operator types is answered where they type
		r.notices.Say(fmt.Sprintf("%s, from %s: %s", e.Command, e.From, e.Text))
	}
}

// journalTrouble has the run show that its journal cannot be written.
func (r *LiveRun) reportJournalProblem(text string) {
	<-r.ready
	r.Driver.ReportProblem(text)
}

// JournalPath is the path of the run's journal.
func (r *LiveRun) JournalPath() string { return r.journal.Path() }

// Listen takes commands over OSC at an address, from the machines that are named, until Close. It returns where it listens.
func (r *LiveRun) Listen(at string, from []netip.Addr) (string, error) {
	l, err := trigger.Listen(at, from, func(c run.Command, from string) (string, error) {
		c.From = from
		return r.Driver.Do(c)
	}, func(text string) {
		r.journal.Write(journal.Entry{At: time.Now(), Kind: "problem", Text: text})
		if r.o.Plain {
			r.notices.Say(text)
		}
	})
	if err != nil {
		return "", fmt.Errorf("--listen: %w", err)
	}
	r.closers = append(r.closers, func() { l.Close() })
	return fmt.Sprint(l.Addr()), nil
}

// CloseMics closes every worn mic, and reports each mixer that has not confirmed it within two seconds.
func (r *LiveRun) CloseMics() {
	for _, d := range r.Driver.Close(2 * time.Second) {
		r.notices.Say(fmt.Sprintf("--close-on-exit: mics MAY BE OPEN STILL at %s: look at it (%s)", d.To, d))
	}
}

// End ends the run. It returns what the operator should know at the end: what they changed by hand.
func (r *LiveRun) End() []string {
	r.halt()
	r.journal.Write(journal.Entry{At: time.Now(), Kind: "end", Text: "ended"})
	v := r.engine.View(time.Now())
	var list []string
	for _, x := range []struct {
		what string
		list []string
	}{{"nudged in this run", v.Nudges}, {"still held", v.Holds}, {"on a spare", v.Swaps}} {
		if len(x.list) > 0 {
			list = append(list, fmt.Sprintf("%s: %s", x.what, strings.Join(x.list, ", ")))
		}
	}
	return list
}

func (r *LiveRun) halt() {
	r.stop()
	<-r.ended
}

// Close ends the run if it has not ended, and whatever gives it commands, and closes the journal.
func (r *LiveRun) Close() {
	r.halt()
	for _, c := range r.closers {
		c()
	}
	r.journal.Close()
}
