package mixerverbs

import (
	"cmp"
	"context"
	"fmt"
	"net/netip"
	"path/filepath"
	"slices"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/linechecking"
	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
	"backfield/layout/source"
)

// lineCheckFlags are the flags of the verb linecheck.
type lineCheckFlags struct {
	verb.ShowFlags
	to                string
	order             string
	level             float64
	fresh, rehearse   bool
	text, yes, beside bool

	page      string
	pageFrom  []string
	pageNamed []netip.Addr // of pageFrom
}

// LineCheck is the verb that opens one pack after the other, so that someone can hear each.
func LineCheck() *cobra.Command {
	var f lineCheckFlags
	c := &cobra.Command{
		Use:   "linecheck [SHOW]",
		Short: "open one pack after the other, to hear each before the show",
		Long: `Closes every channel of the show, then opens one pack after the other, alone and at a low level. It says
"open" once the mixer has confirmed it. A key says what you hear: good, no sound, noise, wrong player. Two
players who have each other's pack are found. One key leaves a dead pack closed for tonight, or has the show
go by swapped packs: that goes to tonight.toml, never to the roster.

Everything goes to linecheck.jsonl next to the score. Started again, it goes on where it stopped.

TAKE THE MASTER DOWN FIRST, and bring it up slowly. Keep everyone away from the loudspeakers. An open mic
near one howls, and a howl can damage hearing. Local rules and trained people come before this program.
It starts only with --yes, or after you answer yes. At the end it closes every channel of the show, also
after Ctrl-C or when the terminal is lost.

On a terminal it shows a screen. Elsewhere, or with --text, it reads words from stdin, one on a line. There
"settle" waits until the mic is open. In a show's folder you can leave SHOW out. See backfield help linecheck.
Exit code 0: ended, 1: the show has errors, 2: you did not say yes, or wrong usage, 3: a file could not be
read or written, or a mixer may still have a mic open.`,
		Args: verb.OneShow,
		RunE: func(c *cobra.Command, args []string) error { return f.run(c, show.Path(verb.Show(args))) },
	}
	f.Add(c)
	fl := c.Flags()
	fl.StringVar(&f.to, "to", "", "send to this `HOST:PORT` instead of the mixer file's")
	fl.StringVar(&f.order, "order", linechecking.ByPlace, "`ORDER` of the packs: place (as people stand at the first "+
		"set, side 1 to side 2) or pack (as packs are labeled)")
	fl.Float64Var(&f.level, "level", -20, "open each channel at this level in `DB`; the mixer file's ceilings hold")
	fl.BoolVar(&f.fresh, "new", false, "begin from the start, also if tonight's line check is not finished")
	fl.BoolVar(&f.rehearse, "rehearse", false, "send to a simulated mixer and record nothing, to learn the keys")
	fl.StringVar(&f.page, "page", "", "take keys on a page in a browser on this machine, too; for a phone "+
		"--page=`HOST:PORT`, such as 0.0.0.0:8080")
	fl.Lookup("page").NoOptDefVal = ownAddress
	fl.StringSliceVar(&f.pageFrom, "page-from", nil, "let only the machine at this IP `ADDRESS` connect to the page, "+
		"and this machine; repeat for more")
	fl.BoolVar(&f.text, "text", false, "read words from stdin without a screen, also on a terminal")
	fl.BoolVar(&f.beside, "beside", false, "start also beside a run of this show, if you know that it sends nothing")
	fl.BoolVarP(&f.yes, "yes", "y", false, "the master is down: start without asking")
	return c
}

// loudest is the highest --level. A line check is for hearing whether a mic works, not how loud it is.
const loudest = 0

func (f *lineCheckFlags) run(c *cobra.Command, score string) error {
	if !slices.Contains(linechecking.Orders, f.order) {
		return verb.Wrong("--order %q; %s", f.order, source.DidYouMean(f.order, linechecking.Orders,
			"it is "+source.OneOf(linechecking.Orders)))
	}
	if !(f.level <= loudest) {
		return verb.Wrong("--level is %d dB at most; each mic opens on a silent field, so start low", loudest)
	}
	if err := f.checkPage(); err != nil {
		return err
	}
	s, _, err := f.Compiled(c, show.Disk{}, score)
	if err != nil {
		return err
	}
	if other := liverun.OtherRun(score, s.Show.Title, ""); other != "" && !f.beside && !f.rehearse {
		return verb.Wrong("A RUN OF THIS SHOW IS GOING ON, and a line check would take its mics: it has not "+
			"started.\n%s\nIf you know that the run sends nothing, add --beside", other)
	}
	signals, stop := liverun.Watch(c.Context(), c.InOrStdin(), c.OutOrStdout(), c.ErrOrStderr())
	defer stop()
	ctx, end := context.WithCancel(c.Context()) // a simulated mixer must not end before the check
	defer end()
	r := runFlags{rehearse: f.rehearse}
	if f.to != "" {
		r.to = []string{f.to}
	}
	to, err := r.mixers(ctx, c, s)
	if err != nil {
		return err
	}
	if err := f.agreed(signals.End, c, to); err != nil {
		return err
	}
	x, on, err := linechecking.Start(s, linechecking.SessionOptions{
		Score: score, Tonight: cmp.Or(f.Tonight, filepath.Join(filepath.Dir(score), show.TonightFile)),
		To: to, LevelDB: f.level, Order: f.order, New: f.fresh, Trial: f.rehearse,
	})
	if err != nil {
		return verb.Outside(err)
	}
	_, bad, _ := linechecking.ReadRecord(score) // it could be read
	for _, line := range bad {
		fmt.Fprintln(c.ErrOrStderr(), line)
	}
	if on != "" {
		fmt.Fprintln(c.ErrOrStderr(), on)
	}
	return f.operate(signals, c, x)
}
