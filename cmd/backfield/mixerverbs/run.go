// Package mixerverbs holds the verbs that reach a mixer, or a network that one may be on: they read flags and hand over to
// the packages that do the work.
package mixerverbs

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/console"
	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
)

// Run is the verb that steps the show at a mixer, live.
func Run() *cobra.Command {
	var f runFlags
	c := &cobra.Command{
		Use:   "run SHOW",
		Short: "step the show's cues at the mixer, live",
		Long: `Connects to the mixer that mixer.toml names, closes every channel of the show, and steps the cues: go, back,
to any cue, set or count, hush, hold, swap, nudge. Follow-ons and cues with "after" go by themselves at the
tempo that is played. What a bad road loses is sent again.

On a terminal it shows a screen; elsewhere, or with --text, it reads the same commands from stdin, one a
line. There, "wait 2s" waits, and "settle" waits until the mixer holds what is meant, as far as it can be
known. The end of stdin ends the run. "backfield help run" tells all of it.

--rehearse needs no mixer: a virtual one is run inside. Everything is written to a journal, from which
--resume goes on after a crash, and backfield report tells how the run went.

With the amplifiers on this opens microphones: bring the master up slowly, and keep people away from the
loudspeakers.
Exit code 0: ended, 1: the show has errors, 2: wrong usage, 3: a file could not be read or written.`,
		Args: f.args,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, show.Path(args[0])) },
	}
	f.Add(c)
	fl := c.Flags()
	fl.StringSliceVar(&f.to, "to", nil, "send to this `HOST:PORT` in place of the mixer file's; several are fed alike")
	fl.BoolVar(&f.rehearse, "rehearse", false, "run a virtual mixer inside and send to that: nothing needs to be "+
		"plugged in")
	fl.BoolVar(&f.byClock, "clock", false, "every cue goes by itself, at the tempo written, from start on")
	fl.BoolVar(&f.recall, "recall", false, "step by recalling the scenes that backfield store put into the mixer")
	fl.BoolVar(&f.text, "text", false, "no screen: read commands from stdin, also on a terminal")
	fl.BoolVar(&f.closeOnExit, "close-on-exit", false,
		"close every worn mic at the end; without it the mixer is left as it is")
	fl.StringVar(&f.listen, "listen", "", "take commands over OSC at this `HOST:PORT` (/backfield/go, /back, /to "+
		"...), from --from only")
	fl.StringSliceVar(&f.from, "from", nil, "the IP `ADDRESS` of a machine that may send commands; again for another")
	fl.StringVar(&f.page, "page", "", "a second screen in a browser, on this machine; for another device "+
		"--page=`HOST:PORT`, such as 0.0.0.0:8080")
	fl.Lookup("page").NoOptDefVal = ownAddress
	fl.BoolVar(&f.pageReadOnly, "page-read-only", false, "the page looks on only: it gives no commands")
	fl.StringVar(&f.journal, "journal", "", "write the journal to this `FILE` (default: a new one in \"journals\" "+
		"beside the score)")
	fl.StringVar(&f.resume, "resume", "", "go on where a journal ends: the newest one, or --resume=`FILE`")
	fl.Lookup("resume").NoOptDefVal = liverun.Newest
	return c
}

func (f *runFlags) run(c *cobra.Command, score string) error {
	s, _, err := f.Compiled(c, show.Disk{}, score)
	if err != nil {
		return err
	}
	named, err := f.check(s, score)
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(c.Context(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	to, err := f.mixers(ctx, c, s)
	if err != nil {
		return err
	}
	notices := term.NewNotices(c.ErrOrStderr())
	defer notices.Close()
	r, err := liverun.Start(s, liverun.StartOptions{Score: score, To: to, ByClock: f.byClock, Recall: f.recall,
		Journal: f.journal, Resume: f.resume, Plain: f.plain(c), Notices: notices})
	if unfit := (*liverun.WrongJournal)(nil); errors.As(err, &unfit) {
		return verb.Wrong("%w", err)
	} else if err != nil {
		return verb.World(err)
	}
	defer r.Close()
	fmt.Fprintf(c.ErrOrStderr(), "journal: %s\n", r.JournalPath())
	if f.listen != "" {
		at, err := r.Listen(f.listen, named)
		if err != nil {
			return verb.World(err)
		}
		fmt.Fprintf(c.ErrOrStderr(), "listening for commands at %s\n", at)
	}
	return f.operate(ctx, c, r)
}

// operate hands the run to the operator until they end it: on a screen, or by commands that are read.
func (f *runFlags) operate(ctx context.Context, c *cobra.Command, r *liverun.LiveRun) (err error) {
	var page *liverun.RunPage
	var beside console.Page // nil without a page
	if f.page != "" {
		page, err = r.Page(liverun.PageOptions{At: f.page, ReadOnly: f.pageReadOnly, Explain: explain.Text})
		if err != nil {
			return verb.World(err)
		}
		beside = page
		page.Print(c.ErrOrStderr(), "")
	}
	if f.plain(c) {
		r.Operate(ctx, c.InOrStdin(), c.OutOrStdout(), c.ErrOrStderr(), page)
	} else {
		err = verb.World(console.Run(ctx, r.Driver, beside, c.InOrStdin(), c.OutOrStdout()))
	}
	if f.closeOnExit {
		r.CloseMics()
	}
	for _, line := range r.End() {
		fmt.Fprintln(c.ErrOrStderr(), line)
	}
	return err
}

// plain reports whether commands are read from stdin instead of a screen.
func (f *runFlags) plain(c *cobra.Command) bool {
	in, ok := c.InOrStdin().(*os.File)
	return f.text || !ok || !term.Drawable(in) || !term.Drawable(c.OutOrStdout())
}
