package show

import (
	"backfield/cue/balance"
	"backfield/layout/source"
)

// Loudness prepares what layout/level needs of the show: nil if it did not compile, or if errors are found, which go
// to p.
func (s *Loaded) Loudness(p *source.Problems) *balance.Loudness {
	if s.Show == nil {
		return nil
	}
	return balance.New(&balance.CompiledShow{CompileSetup: s.Setup, Clock: s.Clock, Lines: s.Lines, Cues: s.Cues,
		Spans: s.Spans, Show: s.Show}, p)
}
