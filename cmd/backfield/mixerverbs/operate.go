package mixerverbs

import (
	"fmt"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/console"
	"backfield/cmd/backfield/explain"
	"backfield/cmd/backfield/liverun"
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
	if f.plain(c) {
		r.Operate(signals.Screen, c.InOrStdin(), c.OutOrStdout(), c.ErrOrStderr(), page)
	} else {
		err = verb.Outside(console.Run(signals.Screen, r, second, c.InOrStdin(), visible.Raw(c.OutOrStdout())))
	}
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
	for _, line := range r.End(signals.By()) {
		fmt.Fprintln(c.ErrOrStderr(), line)
	}
	return err
}
