package show

import (
	"sync"

	"backfield/cue/balance"
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
