// Package mixerverbs holds the verbs that reach a mixer, or a network that one may be on: they read flags and call
// the packages that do the work.
package mixerverbs

import (
	"context"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
)

// Run is the verb that steps the show at a mixer, live.
func Run() *cobra.Command {
	var f runFlags
	c := &cobra.Command{
		Use:   "run [SHOW]",
		Short: "run the show's cues at the mixer, live",
		Long: `Connects to the mixer in mixer.toml, closes every channel of the show, and waits for commands: go, back,
jump to any cue, set or count, hush, hold, swap, nudge. Automatic cues ("after") go without a
press, at the tempo being played. Lost packets are sent again.

On a terminal it shows a screen. Elsewhere, or with --text, it reads the same commands from stdin, one on a
line. There "wait 2s" waits, and "settle" waits until the mixer holds what it should, as far as it replies.
The end of stdin ends the run. In a show's folder you can leave SHOW out. See backfield help run.

--rehearse needs no mixer: it runs a simulated one. Everything is written to a journal. After a crash
--resume continues from it, and backfield report prints how the run went.

With the amplifiers on, this opens microphones. Bring the master up slowly, and keep people away from the
loudspeakers.
Exit code 0: ended, 1: the show has errors, 2: wrong usage, 3: a file could not be read or written.`,
		Args: f.args,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, show.Path(verb.Show(args))) },
	}
	f.Add(c)
	fl := c.Flags()
	fl.StringSliceVar(&f.to, "to", nil, "send to this `HOST:PORT` instead of the mixer file's; "+
		"repeat to send the same to more")
	fl.BoolVar(&f.rehearse, "rehearse", false, "send to a simulated mixer: nothing needs to be plugged in")
	fl.BoolVar(&f.byClock, "clock", false, "make every cue automatic at the written tempo, from start on")
	fl.BoolVar(&f.recall, "recall", false, "recall the scenes that backfield store put into the mixer, "+
		"instead of sending values")
	fl.BoolVar(&f.text, "text", false, "read commands from stdin without a screen, also on a terminal")
	fl.BoolVar(&f.closeOnExit, "close-on-exit", false,
		"close every worn mic at the end; without it the mixer is left as it is")
	fl.StringVar(&f.listen, "listen", "", "take commands over OSC at this `HOST:PORT` (/backfield/go, /back, "+
		"/jump ...), only from --from")
	fl.StringSliceVar(&f.from, "from", nil, "the IP `ADDRESS` of a machine that may send commands; repeat for more")
	fl.StringVar(&f.midi, "midi", "", "take commands and time from MIDI bytes at this `PLACE`, as remote.toml says: a "+
		"device file, a named pipe, or tcp:HOST:PORT")
	fl.StringVar(&f.page, "page", "", "show a second screen in a browser on this machine; for another device "+
		"--page=`HOST:PORT`, such as 0.0.0.0:8080")
	fl.Lookup("page").NoOptDefVal = ownAddress
	fl.StringSliceVar(&f.pageFrom, "page-from", nil, "let only the machine at this IP `ADDRESS` connect to the page, "+
		"and this machine; repeat for more")
	fl.BoolVar(&f.pageReadOnly, "page-read-only", false, "let the page only look: no commands")
	fl.StringVar(&f.journal, "journal", "", "write the journal to this `FILE` (default: a new one in \"journals\" "+
		"next to the score)")
	fl.StringVar(&f.journalCopy, "journal-copy", "", "write a second copy of the journal in this `FOLDER`, "+
		"on another disk")
	fl.StringVar(&f.resume, "resume", "", "continue where a journal ends: the newest one, or --resume=`FILE`")
	fl.Lookup("resume").NoOptDefVal = liverun.Newest
	fl.BoolVar(&f.inUse, "in-use", false, "resume also a journal that another run is writing, if you know that it "+
		"sends nothing")
	fl.BoolVar(&f.beside, "beside", false, "start also beside another run of this show, if you know that it "+
		"sends nothing")
	fl.BoolVarP(&f.yes, "yes", "y", false, "resume also a journal that is old, ended, a rehearsal's or of a show that "+
		"has changed since, without asking; answer what --restart asks")
	f.addRestart(c)
	return f.addPair(c)
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
	if err := f.noLineCheck(score); err != nil {
		return err
	}
	signals, stop := liverun.Watch(c.Context(), c.InOrStdin(), c.OutOrStdout(), c.ErrOrStderr())
	defer stop()
	// A simulated mixer must not end before the run.
	ctx, end := context.WithCancel(c.Context())
	defer end()
	to, err := f.mixers(ctx, c, s)
	if err != nil {
		return err
	}
	pair, err := f.pair(signals.End, c)
	if err != nil {
		return err
	}
	resumes, err := f.beforeRestart(signals.End, c, s, score, to)
	if err != nil {
		return err
	}
	notices := term.NewNotices(c.ErrOrStderr())
	defer notices.Close()
	r, err := liverun.Start(signals.End, s, liverun.StartOptions{
		Score: score, To: to, ByClock: f.byClock, Recall: f.recall,
		Journal: f.journal, Copy: f.journalCopy, Resume: f.resume, InUse: f.inUse, Beside: f.beside,
		Confirm:   func(question string) (bool, error) { return f.confirm(signals.End, c, question) },
		Rehearsal: f.rehearse, Pair: pair, Plain: f.plain(c), Notices: notices, Quit: signals.Quit,
	})
	if err != nil {
		return startError(err)
	}
	defer r.Close()
	fmt.Fprintf(c.ErrOrStderr(), "journal: %s\n", r.JournalPath())
	if f.restart != "" {
		r.Carry(resumes.Carried, resumes.Notice)
	}
	f.sayTonight(c, r, s)
	f.warnOfLineCheck(c, r, s, score)
	if f.listen != "" {
		at, err := r.Listen(f.listen, named)
		if err != nil {
			return verb.Outside(err)
		}
		fmt.Fprintf(c.ErrOrStderr(), "listening for commands at %s\n", at)
	}
	where, err := r.MIDI(f.midi)
	if err != nil {
		return verb.Outside(err)
	}
	if where != "" {
		fmt.Fprintf(c.ErrOrStderr(), "listening for MIDI from %s\n", where)
	}
	if what := r.Unheard(f.listen != "", where != ""); what != "" {
		fmt.Fprintf(c.ErrOrStderr(), "backfield: %s; until then each cue goes with go\n", what)
	}
	if in, out := c.InOrStdin(), c.OutOrStdout(); !f.text && f.plain(c) && term.CanAnswer(in) && term.IsTerminal(out) {
		fmt.Fprintf(c.ErrOrStderr(), "this terminal (TERM is %q) can show no screen, and single keys do nothing: type "+
			"a command and Enter, such as go, hush, unhush or status; quit ends the run. For the screen, set "+
			"TERM=xterm before you start\n", os.Getenv("TERM"))
	}
	return f.operate(signals, c, r)
}
