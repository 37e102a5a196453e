// Package advice says what may be claimed of levels, and what to do about them: how far off they may be, how sure an
// answer is, and where the faders of a cue should start. It judges what layout/level computes.
package advice

// slack is what two numbers in dB may differ by and still count as equal.
const slack = 1e-9

// Measured is what was read on site.
type Measured struct {
	Noise, Brass bool
	Solo         bool // of this soloist
	Ring         bool // of this mic
}

// Calibrated reports whether the readings allow more than lead, best band and the order of cues. One without the other
// counts as nothing.
func (m Measured) Calibrated() bool { return m.Noise && m.Brass }

// Spread is the give or take of results in dB: 80 % of nights are within it, by a Monte Carlo over assumed spreads of all
// that goes in.
type Spread struct{ LeadDB, OverDB, LoopDB, NearDB float64 }

// SpreadOf is the spread after some readings. A reading of a soloist or of a ring only narrows it once noise and brass
// were read. These are the table of level.md, but for over after noise and brass: our own simulation has 6.7 dB there, since
// one section says little about another, and the table 5.
func SpreadOf(m Measured) Spread {
	if !m.Calibrated() {
		return Spread{LeadDB: 5, OverDB: 9, LoopDB: 8, NearDB: 8}
	}
	s := Spread{LeadDB: 4, OverDB: 7, LoopDB: 5, NearDB: 4}
	if m.Solo {
		s.LeadDB, s.OverDB = 3, 4.5
	}
	if m.Ring {
		s.LoopDB = 2
	}
	return s
}

// LeastDB is the least difference of a level that is worth a change (assumed): less is lost in the give or take.
const LeastDB = 2

// StackLeadsDB is how far the stacks may be over a player and the first sound still leads (Langmuir, quoted by Wallach,
// Newman and Rosenzweig 1949; read in a source that quotes them).
const StackLeadsDB = 15

// Verdict is an answer that says how sure it is.
type Verdict string

// The verdicts.
const (
	Yes      Verdict = "yes"
	Likely   Verdict = "likely"
	Unlikely Verdict = "unlikely"
	No       Verdict = "no"
)

// AtLeast says whether a value reaches a threshold: without doubt only where they differ by more than give or take.
func AtLeast(db, thresholdDB, spreadDB float64) Verdict {
	switch {
	case db-thresholdDB > spreadDB:
		return Yes
	case db-thresholdDB >= -slack:
		return Likely
	case thresholdDB-db > spreadDB:
		return No
	}
	return Unlikely
}

// AtMost says whether a value stays within a threshold.
func AtMost(db, thresholdDB, spreadDB float64) Verdict { return AtLeast(-db, -thresholdDB, spreadDB) }
