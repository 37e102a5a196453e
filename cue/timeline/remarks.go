package timeline

import (
	"slices"

	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
)

// Remark is a warning about a cue. What the designer has accepted is kept, since it is still there on the night.
type Remark struct {
	Cue, Code, Text string
	Accepted        bool
}

// Remarks gathers the warnings about cues, in the order in which they are found. Those that neither the cue nor the
// score accepts are reported as problems.
type Remarks struct {
	List []Remark

	allow []table.Text
	p     *source.Problems
}

// NewRemarks begins a list for one compile.
func NewRemarks(s *score.Score, p *source.Problems) *Remarks { return &Remarks{allow: s.Allow, p: p} }

// About adds a warning about a cue, or with nil about the show.
func (r *Remarks) About(c *score.Cue, code string, at source.Span, what, do string) {
	if !r.Note(c, code, what) {
		r.p.Warn(code, at, what, do)
	}
}

// Note lists a warning about a cue, or with nil one about the show, that the caller reports. It does not where it is
// accepted. Where that is said counts as used.
func (r *Remarks) Note(c *score.Cue, code, what string) (accepted bool) {
	allow := r.allow
	if c != nil {
		allow = slices.Concat(allow, c.Allow)
	}
	for _, t := range allow {
		if t.V == code {
			r.p.Used(t.Span)
			accepted = true
		}
	}
	if c != nil {
		r.List = append(r.List, Remark{c.ID.V, code, what, accepted})
	}
	return accepted
}
