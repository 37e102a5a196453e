package run_test

import (
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/run"
)

// The journal's state has what a fader at the mixer adds, so that the report can keep it.
func TestStateHasTheMovedFader(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	w.do("go", "jump 2")
	w.settle()
	w.Run(5 * time.Second)
	w.move("/l/1", osc.Float32(-9))
	s := w.Engine.State()
	if len(s.Manual) != 1 || s.Manual[0].Player != "A" || s.Manual[0].OffsetDB != 3 {
		t.Errorf("the state has %+v", s.Manual)
	}
	w.do("jump 3") // closed: the fader is nowhere then
	w.settle()
	for _, m := range w.Engine.State().Manual {
		if m.OffsetDB != 0 || m.Player != "" {
			t.Errorf("the state has %+v", m)
		}
	}
}

// A notice never takes the place of a problem, and both are in the journal.
func TestNoticeIsNoProblem(t *testing.T) {
	w := begin(t, echoAndQuery, run.Options{})
	e, now := w.Engine, w.Now
	w.entries = nil
	e.ReportProblem("the mixer is down", now)
	e.ReportNotice("a laptop was refused", now.Add(time.Second))
	v := e.View(now.Add(3 * time.Second))
	if v.Problem != "the mixer is down" || v.ProblemAgoS != 3 || v.Notice != "a laptop was refused" || v.NoticeAgoS != 2 {
		t.Errorf("%+v", v)
	}
	if len(w.entries) != 2 || w.entries[1].Text != "a laptop was refused" {
		t.Errorf("the journal has %+v", w.entries)
	}
}
