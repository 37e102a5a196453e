package show

import (
	"slices"
	"sync"

	"backfield/cue/balance"
	"backfield/cue/heard"
	"backfield/cue/noeffect"
	"backfield/cue/roster"
	"backfield/cue/timeline"
	"backfield/layout/source"
)

// prepared is a show's loudness, once somebody has asked for it.
type prepared struct {
	once     sync.Once
	loudness *balance.Loudness
	problems source.Problems
}

// Loudness prepares what layout/level needs of the show, the first time that it is called: nil if the show did not
// compile, or if errors are found, which go to p. Several goroutines may call it.
func (s *Loaded) Loudness(p *source.Problems) *balance.Loudness {
	if s.Show == nil {
		return nil
	}
	s.prepared.once.Do(func() {
		s.prepared.loudness = balance.New(&balance.CompiledShow{CompileSetup: s.Setup, Clock: s.Clock, Lines: s.Lines,
			Cues: s.Cues, Spans: s.Spans, Show: s.Show}, &s.prepared.problems)
	})
	for _, problem := range s.prepared.problems.All() {
		p.Add(problem)
	}
	return s.prepared.loudness
}

// JudgeLevels adds the problems of how loud the show is, and returns those about cues. An instrument that nobody knows is an
// error where the roster names it; where it is only the name of a section, the show compiles as it did, and these checks
// are left out. It changes nothing in the show, so that it may run while others read it.
func (s *Loaded) JudgeLevels(p *source.Problems) []timeline.Remark {
	if s.Show == nil || s.Rig.Misplaced {
		return nil
	}
	var found source.Problems
	l := s.Loudness(&found)
	remarks := timeline.NewRemarks(s.Score, p)
	for _, x := range found.All() {
		section := slices.ContainsFunc(s.Roster.Players, func(v roster.Player) bool { return v.Span == x.Span })
		switch {
		case x.Code == "no-instrument" && section:
			remarks.About(nil, "levels-unknown", x.Span, x.What+": check says nothing about how loud the show is", x.Do)
		case x.Severity == source.Warning:
			remarks.About(nil, x.Code, x.Span, x.What, x.Do)
		default:
			p.Add(x)
		}
	}
	if l != nil {
		j := heard.JudgedShow{CompileSetup: s.Setup, Cues: s.Cues, Show: s.Show, Heard: l.CuesToCheck(), Where: s.Where}
		if l.Measured.Calibrated() {
			j.Near = l.NearShow(j.Heard)
		}
		heard.Judge(&j, remarks)
		if memo := s.Setup.Heard(); memo != nil {
			memo.Settle()
		}
	}
	return remarks.List
}

// checkLevels checks how loud the show is, the last of all checks, and then lists what of its files changes nothing.
func (s *Loaded) checkLevels(f showFiles, p *source.Problems) {
	s.Remarks = append(s.Remarks, s.JudgeLevels(p)...)
	if p.Errors() > 0 {
		s.Show = nil
	}
	l := s.Loudness(&source.Problems{})
	noeffect.Note(&noeffect.WholeShow{Result: s.Result, RigFile: f.rig, VenueFile: f.venue, MixerFile: f.mixer,
		Heard: l != nil && l.Measured.Calibrated()}, p)
}
