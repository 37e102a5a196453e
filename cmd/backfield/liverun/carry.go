package liverun

import (
	"fmt"

	"backfield/osc/run"
)

// Carry carries out what still holds of an earlier run, such as a swap, and then shows the operator a notice. What this
// show cannot have is reported as a problem.
func (r *LiveRun) Carry(list []run.Command, notice string) {
	for _, c := range list {
		if _, err := r.Do(c); err != nil {
			r.Driver.ReportProblem(fmt.Sprintf("not carried over: %s: %v", c, err))
		}
	}
	r.Driver.ReportNotice(notice)
}
