package mixerverbs

import (
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/console"
	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/term"
	"backfield/cmd/backfield/verb"
	"backfield/layout/visible"
)

// operate gives the run to the operator until they end it: on a screen, or by commands from stdin.
func (f *runFlags) operate(signals *liverun.Signals, c *cobra.Command, r *liverun.LiveRun) (err error) {
	var page *liverun.RunPage
	var second console.SecondScreen // nil without a page
	if f.page != "" {
		page, err = r.Page(liverun.PageOptions{At: f.page, ReadOnly: f.pageReadOnly, From: f.pageNamed,
			Explain: explain.Text})
		if err != nil {
			return verb.Outside(err)
		}
		second = page
		page.Print(c.ErrOrStderr(), "")
	}
	err = f.screen(signals, c, r, page, second)
	if r.Abandoned(signals) {
		if err = nil; !f.closeOnExit {
			r.GoOn(signals.End)
		}
	}
	if f.closeOnExit {
		r.CloseMics()
	} else {
		r.Finish()
	}
	changed := r.End(signals.By())
	term.Within(stalled, func() {
		for _, line := range changed {
			fmt.Fprintln(c.ErrOrStderr(), line)
		}
	})
	return err
}

// stalled is how long the end of a run waits for a terminal or a pipe that takes nothing.
const stalled = 500 * time.Millisecond

// screen has the operator operate the run until they end it, or a signal does.
func (f *runFlags) screen(signals *liverun.Signals, c *cobra.Command, r *liverun.LiveRun, page *liverun.RunPage,
	second console.SecondScreen) error {
	return untilGone(signals, c, func() error {
		if f.plain(c) {
			r.Operate(signals.Screen, c.InOrStdin(), c.OutOrStdout(), c.ErrOrStderr(), page)
			return nil
		}
		return verb.Outside(console.Run(signals.Screen, r, second, c.InOrStdin(), visible.Raw(c.OutOrStdout())))
	})
}

// untilGone has someone operate on a terminal until they end it, or a signal does. A terminal that takes nothing more, as
// after Ctrl-S, is left behind then: the mixers come first.
func untilGone(signals *liverun.Signals, c *cobra.Command, operate func() error) error {
	restore := term.Settings(c.InOrStdin())
	ended := make(chan error, 1)
	go func() { ended <- operate() }()
	select {
	case err := <-ended:
		return err
	case <-signals.Screen.Done():
	}
	select {
	case err := <-ended:
		return err
	case <-time.After(stalled):
		restore()
		return nil
	}
}
