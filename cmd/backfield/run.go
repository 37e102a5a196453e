package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/netip"
	"os"
	"os/signal"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/console"
	"backfield/cmd/backfield/mixer"
	"backfield/cmd/backfield/remote"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/osc/journal"
	"backfield/osc/live"
	"backfield/osc/run"
	"backfield/osc/trigger"
	"backfield/osc/wire"
)

// runFlags are what the verb run can be told.
type runFlags struct {
	showFlags
	to          []string
	rehearse    bool
	byClock     bool
	recall      bool
	text        bool
	closeOnExit bool
	listen      string
	from        []string
	journal     string
	resume      string

	page         string
	pageReadOnly bool
}

func runCommand() *cobra.Command {
	var f runFlags
	c := &cobra.Command{
		Use:   "run SHOW",
		Short: "step the show's cues at the desk, live",
		Long: `Connects to the desk that desk.toml names, closes every channel of the show, and steps the cues: go, back,
to any cue, set or count, hush, hold, swap, nudge. Follow-ons and cues with "after" go by themselves at the
tempo that is played. What a bad road loses is sent again.

On a terminal it shows a screen; elsewhere, or with --text, it reads the same commands from stdin, one a
line. There, "wait 2s" waits, and "settle" waits until the desk holds what is meant, as far as it can be
known. The end of stdin ends the run. "backfield help run" tells all of it.

--rehearse needs no desk: a virtual one is run inside. Everything is written to a journal, from which
--resume goes on after a crash, and backfield report tells how the run went.

With the amplifiers on this opens microphones: bring the master up slowly, and keep people away from the
loudspeakers.
Exit code 0: ended, 1: the show has errors, 2: wrong usage, 3: a file could not be read or written.`,
		Args: f.args,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, show.Path(args[0])) },
	}
	f.add(c)
	fl := c.Flags()
	fl.StringSliceVar(&f.to, "to", nil, "send to this `HOST:PORT` in place of the desk file's; several are fed alike")
	fl.BoolVar(&f.rehearse, "rehearse", false, "run a virtual desk inside and send to that: nothing needs to be plugged in")
	fl.BoolVar(&f.byClock, "clock", false, "every cue goes by itself, at the tempo written, from start on")
	fl.BoolVar(&f.recall, "recall", false, "step by recalling the scenes that backfield store put into the desk")
	fl.BoolVar(&f.text, "text", false, "no screen: read commands from stdin, also on a terminal")
	fl.BoolVar(&f.closeOnExit, "close-on-exit", false, "close every worn mic at the end; without it the desk is left as it is")
	fl.StringVar(&f.listen, "listen", "", "take commands over OSC at this `HOST:PORT` (/backfield/go, /back, /to ...), from --from only")
	fl.StringSliceVar(&f.from, "from", nil, "the IP `ADDRESS` of a machine that may send commands; again for another")
	fl.StringVar(&f.page, "page", "", "a second screen in a browser, on this machine; for another device --page=`HOST:PORT`, such as 0.0.0.0:8080")
	fl.Lookup("page").NoOptDefVal = ownAddress
	fl.BoolVar(&f.pageReadOnly, "page-read-only", false, "the page looks on only: it gives no commands")
	fl.StringVar(&f.journal, "journal", "", "write the journal to this `FILE` (default: a new one in \"journals\" beside the score)")
	fl.StringVar(&f.resume, "resume", "", "go on where a journal ends: the newest one, or --resume=`FILE`")
	fl.Lookup("resume").NoOptDefVal = newest
	return c
}

// args wants one SHOW. A flag that may stand alone takes its value behind a "=" only; that is said where it was not so.
func (f *runFlags) args(c *cobra.Command, args []string) error {
	if len(args) == 2 && f.resume == newest {
		return usage("--resume takes its file with an equals sign: --resume=%s", args[1])
	}
	if len(args) == 2 {
		for i, a := range args {
			if _, err := remote.Address(a); err == nil && f.page == ownAddress {
				return usage("write --page=%s, with the =; then %s is the SHOW", a, args[1-i])
			}
		}
	}
	return exactly(1, "one SHOW")(c, args)
}

// newest stands for the journal that was begun last.
const newest = "newest"

func (f *runFlags) run(c *cobra.Command, score string) error {
	s, _, err := f.compiled(c, show.Disk{}, score)
	if err != nil {
		return err
	}
	if f.resume != "" && f.journal != "" {
		return usage("--resume goes on writing the journal that it reads; leave --journal out")
	}
	if len(s.Show.Cues) == 0 {
		return wrong("%s has no cue to run", score)
	}
	if f.recall && s.Desk.Recall == nil {
		return wrong("--recall: desk.toml has no [store] and [recall]; see backfield help desk")
	}
	named, err := f.named()
	if err != nil {
		return err
	}
	if err := f.pageMakesSense(); err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	to, err := f.desks(ctx, c, s)
	if err != nil {
		return err
	}
	talk := term.NewNotices(c.ErrOrStderr())
	defer talk.Close()
	made := make(chan *live.Stage, 1)
	e, j, err := f.engine(c, s, score, to, talk, func(text string) {
		stage := <-made
		made <- stage
		stage.Trouble(text)
	})
	if err != nil {
		return err
	}
	defer j.close()
	stage := live.New(e, s.Desk, to)
	made <- stage
	working, end := context.WithCancel(context.Background())
	defer end()
	ended := make(chan struct{})
	go func() {
		stage.Run(working, to)
		close(ended)
	}()
	fmt.Fprintf(c.ErrOrStderr(), "journal: %s\n", j.path)
	if f.listen != "" {
		listener, err := trigger.Listen(f.listen, named, func(c run.Command, from string) (string, error) {
			c.From = from
			return stage.Do(c)
		}, func(text string) { f.talk(c, j, talk, text) })
		if err != nil {
			end()
			<-ended
			return world(fmt.Errorf("--listen: %w", err))
		}
		defer listener.Close()
		fmt.Fprintf(c.ErrOrStderr(), "listening for commands at %s\n", listener.Addr())
	}
	page, err := f.besides(c, s, stage, j, talk)
	if err != nil {
		end()
		<-ended
		return err
	}
	var screen console.Page // nil without a page
	if page != nil {
		defer page.Close()
		screen = page
		page.print(c.ErrOrStderr(), "")
	}
	if f.plain(c) {
		err = f.operate(ctx, c, stage, page)
	} else {
		err = world(console.Run(ctx, stage, screen, c.InOrStdin(), c.OutOrStdout()))
	}
	if f.closeOnExit {
		for _, d := range stage.Close(2 * time.Second) {
			talk.Say(fmt.Sprintf("--close-on-exit: mics MAY BE OPEN STILL at %s: look at it (%s)", d.To, d))
		}
	}
	end()
	<-ended
	j.write(journal.Entry{At: time.Now(), Kind: "end", Text: "ended"})
	for _, line := range parting(e) {
		fmt.Fprintln(c.ErrOrStderr(), line)
	}
	return err
}

// named are the machines that commands are taken from.
func (f *runFlags) named() (list []netip.Addr, err error) {
	if f.listen == "" && len(f.from) > 0 {
		return nil, usage("--from names who may send commands, and nothing listens for them; add --listen 127.0.0.1:9100")
	}
	if f.listen != "" && len(f.from) == 0 {
		return nil, usage("--listen takes commands from machines that are named only; add --from 192.0.2.7")
	}
	for _, text := range f.from {
		a, err := netip.ParseAddr(text)
		if err != nil {
			return nil, usage("--from %q is no IP address; write it like 192.0.2.7", text)
		}
		list = append(list, a)
	}
	return list, nil
}

// talk tells of trouble that is nobody's answer: in the journal, and where no screen shows the run.
func (f *runFlags) talk(c *cobra.Command, j *journalFile, talk *term.Notices, text string) {
	j.write(journal.Entry{At: time.Now(), Kind: "problem", Text: text})
	if f.plain(c) {
		talk.Say(text)
	}
}

// desks lists where to send. A rehearsal has a desk of its own, which ends with the context.
func (f *runFlags) desks(ctx context.Context, c *cobra.Command, s *show.Show) ([]string, error) {
	if f.rehearse {
		if len(f.to) > 0 {
			return nil, usage("--rehearse has a desk of its own; leave --to out")
		}
		_, at, err := mixer.Start(ctx, s.Desk)
		if err != nil {
			return nil, world(err)
		}
		return []string{at}, nil
	}
	if len(f.to) > 0 {
		for i, to := range f.to {
			if slices.Contains(f.to[:i], to) {
				return nil, usage("--to %s is given twice", to)
			}
			if _, err := wire.Address(to); err != nil {
				return nil, wrong("--to %w", err)
			}
		}
		return f.to, nil
	}
	to, err := address(c, "", s.Desk)
	if err != nil {
		return nil, err
	}
	all := []string{to}
	for _, t := range s.Desk.Also {
		if _, err := wire.Address(t.V); err != nil {
			return nil, wrong("%s: also: %w", t.Span.Where(), err)
		}
		all = append(all, t.V)
	}
	return all, nil
}

// engine makes the run, new or from a journal. trouble is told what the journal has.
func (f *runFlags) engine(c *cobra.Command, s *show.Show, score string, to []string, talk *term.Notices, trouble func(text string)) (*run.Engine, *journalFile, error) {
	plan := run.Plan{Show: s.Show, Desk: s.Desk, Time: show.Timeline{Clock: s.Clock}}
	now := time.Now()
	var j *journalFile
	o := run.Options{To: to, ByClock: f.byClock, Recall: f.recall, Record: func(e journal.Entry) {
		j.write(e)
		switch {
		case !f.plain(c):
		case e.Kind == "problem":
			talk.Say(e.Text)
		case e.Kind == "command" && e.From != "": // what the operator types is answered where he types
			talk.Say(fmt.Sprintf("%s, from %s: %s", e.Command, e.From, e.Text))
		}
	}}
	if f.resume == "" {
		path := f.journal
		if path == "" {
			path = journalName(score, now)
		}
		var err error
		if j, err = openJournal(path, 0, trouble); err != nil {
			if errors.Is(err, os.ErrExist) {
				err = fmt.Errorf("is there already; name another file, or go on with it: --resume=%s", path)
			}
			return nil, nil, world(fmt.Errorf("the journal %s: %w", path, err))
		}
		j.write(journal.Entry{At: now, Kind: "start", Format: journal.Format, Title: s.Show.Title, Text: strings.Join(to, ", ")})
		return run.New(plan, o, now), j, nil
	}
	path := f.resume
	if path == newest {
		var err error
		if path, err = newestJournal(score); err != nil {
			return nil, nil, world(err)
		}
	}
	entries, whole, err := readJournal(path)
	if err != nil {
		return nil, nil, world(err)
	}
	if len(entries) == 0 {
		return nil, nil, wrong("--resume %s: it holds nothing of a run; start anew without --resume", path)
	}
	// Two shows may well have the same cue ids, and not the same players on a channel.
	if other := titleOfAnother(entries, s.Show.Title); other != "" {
		return nil, nil, wrong("--resume %s: the journal is of %q, and this show is %q; name the show that the journal is of, or start anew without --resume", path, other, s.Show.Title)
	}
	state, _ := journal.Last(entries)
	if _, err := run.Resume(plan, run.Options{To: to}, state, now); err != nil { // before anything is written to it
		return nil, nil, wrong("--resume %s: %w; compile the show that the journal is of, or start anew", path, err)
	}
	if j, err = openJournal(path, whole, trouble); err != nil {
		return nil, nil, world(fmt.Errorf("the journal %s: %w", path, err))
	}
	j.write(journal.Entry{At: now, Kind: "start", Format: journal.Format, Title: s.Show.Title, Text: "resumed; " + strings.Join(to, ", ")})
	e, err := run.Resume(plan, o, state, now)
	if err != nil {
		j.close()
		return nil, nil, err
	}
	return e, j, nil
}

// plain reports whether commands are read from stdin instead of a screen.
func (f *runFlags) plain(c *cobra.Command) bool {
	in, ok := c.InOrStdin().(*os.File)
	return f.text || !ok || !term.Drawable(in) || !term.Drawable(c.OutOrStdout())
}

// operate takes commands until the operator or the context ends.
func (f *runFlags) operate(ctx context.Context, c *cobra.Command, stage *live.Stage, page *beside) error {
	lines := make(chan string)
	go func() {
		defer close(lines)
		term.ReadLines(ctx, c.InOrStdin(), lines)
	}()
	for {
		select {
		case <-ctx.Done():
			return nil
		case line, more := <-lines:
			if !more {
				if !settle(ctx, stage, lastWait) && ctx.Err() == nil {
					fmt.Fprintf(c.ErrOrStderr(), "backfield: no more commands, and %v later the desk does not hold all that is meant, as far as can be known: look at it\n", lastWait)
				}
				return nil
			}
			if !typed(ctx, c.OutOrStdout(), c.ErrOrStderr(), stage, page, line) {
				return nil
			}
		}
	}
}

const (
	lastWait = 5 * time.Second  // at the end of stdin, for the desk to hold what is meant
	longWait = 30 * time.Second // settle
)

// typed carries out a line; more is false where it ends the run. page is nil where there is none.
func typed(ctx context.Context, out, talk io.Writer, stage *live.Stage, page *beside, line string) (more bool) {
	line = strings.TrimSpace(line)
	word, rest, _ := strings.Cut(line, " ")
	switch {
	case line == "" || strings.HasPrefix(line, "#"):
		return true
	case word == "wait":
		d, err := time.ParseDuration(strings.TrimSpace(rest))
		if err != nil || d < 0 || d > time.Hour {
			fmt.Fprintf(talk, "backfield: %q is no time to wait; write it like: wait 2s\n", rest)
			return true
		}
		select {
		case <-time.After(d):
		case <-ctx.Done():
		}
		return true
	case word == "page" && page != nil:
		page.print(talk, strings.TrimSpace(rest))
		return true
	case word == "settle":
		if settle(ctx, stage, longWait) {
			fmt.Fprintln(out, "settled")
		} else {
			fmt.Fprintf(talk, "backfield: not settled after %v\n", longWait)
		}
		return true
	}
	command, err := run.Parse(line)
	said := ""
	if err == nil {
		said, err = stage.Do(command)
	}
	if err != nil {
		fmt.Fprintf(talk, "backfield: %v\n", err)
		return true
	}
	fmt.Fprintln(out, said)
	return command.Verb != run.Quit
}

// settle waits until the desks hold what is meant.
func settle(ctx context.Context, stage *live.Stage, most time.Duration) bool {
	for end := time.Now().Add(most); time.Now().Before(end) && ctx.Err() == nil; time.Sleep(5 * time.Millisecond) {
		if stage.Settled() {
			return true
		}
	}
	return stage.Settled()
}

// parting is what an operator should know at the end of a run: what he changed by hand.
func parting(e *run.Engine) []string {
	v := e.View(time.Now())
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
