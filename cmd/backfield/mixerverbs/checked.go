package mixerverbs

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"backfield/cmd/backfield/linechecking"
	"backfield/cmd/backfield/liverun"
	"backfield/cmd/backfield/show"
	"backfield/cmd/backfield/verb"
)

// noLineCheck is an error while a line check of the show is going on: it opens mics at the same mixer.
func (f *runFlags) noLineCheck(score string) error {
	if f.rehearse || f.beside || !linechecking.Running(score) {
		return nil
	}
	return verb.Wrong("A LINE CHECK OF THIS SHOW IS GOING ON, and it opens mics at the mixer: the run has not " +
		"started. Quit the line check first. If you know that it sends nothing, add --beside")
}

// warnOfLineCheck shows the operator what tonight's line check found and nobody has fixed. A rehearsal has no packs.
func (f *runFlags) warnOfLineCheck(c *cobra.Command, r *liverun.LiveRun, s *show.Loaded, score string) {
	if f.rehearse {
		return
	}
	record, bad, err := linechecking.ReadRecord(score)
	if err != nil {
		bad = []string{fmt.Sprintf("cannot read the line check: %v", err)}
	}
	list := append(linechecking.Warnings(record, linechecking.NightFixes(s), time.Now()), bad...)
	for _, line := range slices.Backward(list) { // the screen shows the latest, which is the worst
		r.Driver.ReportProblem(line)
		if !f.plain(c) { // else it is printed as every problem is
			fmt.Fprintln(c.ErrOrStderr(), line)
		}
	}
}

// sayTonight shows the operator the notes of tonight.toml, and what it says.
func (f *runFlags) sayTonight(c *cobra.Command, r *liverun.LiveRun, s *show.Loaded) {
	if s.Night == nil {
		return
	}
	text := "TONIGHT: " + strings.Join(s.Night.Lines(), "; ")
	r.Driver.ReportNotice(text)
	if !f.plain(c) {
		fmt.Fprintln(c.ErrOrStderr(), text)
	}
}
