package mixerverbs

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/checkpage"
	"backfield/cmd/backfield/checkscreen"
	"backfield/cmd/backfield/linechecking"
	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/remote"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/layout/visible"
)

// agreed asks whether to start.
func (f *lineCheckFlags) agreed(ctx context.Context, c *cobra.Command, to []string) error {
	for _, line := range linechecking.Cautions(f.level, to) {
		fmt.Fprintln(c.ErrOrStderr(), line)
	}
	if f.yes {
		return nil
	}
	yes := false
	if in := c.InOrStdin(); term.CanAnswer(in) {
		err := ask(ctx, func() (err error) {
			yes, err = term.NewAsker(in, c.ErrOrStderr(), false).Yes(
				"Is the master down, and is everyone away from the loudspeakers?")
			return err
		})
		if errors.Is(err, errInterrupted) {
			return verb.Wrong("interrupted: nothing was sent")
		}
	}
	if !yes {
		return verb.Wrong("nothing was sent; take the master down, then use --yes")
	}
	return nil
}

// checkPage reads the flags of the page.
func (f *lineCheckFlags) checkPage() (err error) {
	if f.page == "" && len(f.pageFrom) > 0 {
		return verb.Usage("--page-from needs a page; add --page")
	}
	if _, err := remote.Address(f.page); f.page != "" && err != nil {
		return verb.Wrong("--page: %w", err)
	}
	f.pageNamed, err = addresses("--page-from", f.pageFrom)
	return err
}

// operate gives the check to whoever listens until they end it, and then closes every mic.
func (f *lineCheckFlags) operate(signals *liverun.Signals, c *cobra.Command, x *linechecking.Session) error {
	r := runFlags{text: f.text}
	var link checkscreen.PageLink
	var page func(rest string)
	if f.page != "" {
		site, err := checkpage.Listen(x, f.page, f.pageNamed, func(string) {})
		if err != nil {
			return errors.Join(verb.Outside(err), f.end(c, x))
		}
		defer site.Close()
		p := &liverun.RunPage{Server: site}
		link = func() (lines, code []string) { return checkpage.Link(site) }
		page = func(rest string) { p.Print(c.ErrOrStderr(), rest) }
		page("")
	}
	err := untilGone(signals, c, func() error {
		if r.plain(c) {
			x.Lines(signals.Screen, c.InOrStdin(), c.OutOrStdout(), c.ErrOrStderr(), page)
			return nil
		}
		return verb.Outside(checkscreen.Run(signals.Screen, x, link, c.InOrStdin(), visible.Raw(c.OutOrStdout())))
	})
	return errors.Join(err, f.end(c, x))
}

// end closes every mic and says how the check went.
func (f *lineCheckFlags) end(c *cobra.Command, x *linechecking.Session) error {
	open := x.Close()
	term.Within(stalled, func() {
		for _, line := range x.Summary() {
			fmt.Fprintln(c.ErrOrStderr(), line)
		}
	})
	var where []string
	for _, d := range open {
		where = append(where, fmt.Sprintf("%s (%s)", d.To, cmp.Or(d.String(), "not confirmed")))
	}
	if len(where) > 0 {
		return verb.Outside(fmt.Errorf("mics MAY STILL BE OPEN at %s: check the mixer before you bring anything up",
			strings.Join(where, ", ")))
	}
	fmt.Fprintln(c.ErrOrStderr(), "every channel of the show is closed now")
	return nil
}
