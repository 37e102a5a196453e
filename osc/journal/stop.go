package journal

// StopReason says why the show clock is stopped; empty for a clock that runs, and in journals of earlier versions.
type StopReason string

// Why a clock is stopped.
const (
	StoppedAtStart  StopReason = "start"  // the show has not begun
	StoppedByStop   StopReason = "stop"   // the operator stopped it
	StoppedByJump   StopReason = "jump"   // a jump stops it at the cue
	StoppedByBack   StopReason = "back"   // back to a cue that nobody remembers when it was played
	StoppedAtEnd    StopReason = "end"    // the run was ended, and a resumed one waits for the operator
	StoppedByGap    StopReason = "gap"    // it ran when the journal ended, too long ago to go on
	StoppedByResume StopReason = "resume" // the computer's clock is behind the journal's
	StoppedOutside  StopReason = "time"   // the time that it follows stands
	StoppedAhead    StopReason = "ahead"  // go came before the time that it follows, which it waits for
)

var stopWords = map[StopReason]string{
	StoppedAtStart:  "before the first cue",
	StoppedByStop:   "by stop",
	StoppedByJump:   "after a jump",
	StoppedByBack:   "after back",
	StoppedAtEnd:    "by the run's end",
	StoppedByGap:    "since the last entry",
	StoppedByResume: "by resume",
	StoppedOutside:  "with the time that it follows",
	StoppedAhead:    "until the time that it follows has come to this cue",
}

// Words is the reason after "clock stopped"; empty for one that this version does not know.
func (r StopReason) Words() string { return stopWords[r] }
