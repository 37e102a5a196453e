package repeats

import (
	"fmt"

	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

const writeOut = "write the repeats out in your notation program (often called unrolling or expanding repeats), and " +
	"export that"

func repeatInside() *source.Fault {
	return &source.Fault{What: "this repeat is inside a measure", Do: "split the measure there, or " + writeOut}
}

func onlyWords() *source.Fault {
	return &source.Fault{What: "these words send the players elsewhere, but the file does not play it",
		Do: "use your notation program's own jump marks instead of plain text, or " + writeOut}
}

func onlyDrawn() *source.Fault {
	return &source.Fault{What: "this coda sign is only drawn: the file plays no coda here",
		Do: "use your notation program's own jump marks, or " + writeOut}
}

func unclearTimes(most int) *source.Fault {
	return &source.Fault{What: fmt.Sprintf("how often this repeat is played is no number from 1 to %d", most),
		Do: "fix the number in your notation program, or " + writeOut}
}

func unclearTimed() *source.Fault {
	return &source.Fault{What: "this is for some times of a repeat only (time-only), which Backfield does not follow " +
		"here", Do: writeOut}
}

func timesAndEndings(times, played int) *source.Fault {
	return &source.Fault{What: fmt.Sprintf("this repeat says that it is played %d times, but its endings are for %d",
		times, played), Do: "fix the number or the brackets in the music, or " + writeOut}
}

func signTwice() *source.Fault {
	return &source.Fault{What: "this is the second segno or coda of the same name, so a jump could lead to either",
		Do: "keep one in your notation program, or " + writeOut}
}

func neverReached(sign string) *source.Fault {
	return &source.Fault{What: fmt.Sprintf("the jump leads past this %q, so it is never taken", sign),
		Do: "move it behind the segno in your notation program, or " + writeOut}
}

func repeatAfterJump() *source.Fault {
	return &source.Fault{What: "this repeat is also played after the jump, which Backfield does not follow",
		Do: writeOut}
}

func jumpInside(lead bool) *source.Fault {
	if lead {
		return &source.Fault{What: "a jump leads to this place inside a measure",
			Do: "move the segno or coda to the beginning of its measure, or split the measure there, or " + writeOut}
	}
	return &source.Fault{What: "this jump or fine is inside a measure",
		Do: "move it to the end of its measure, or split the measure there, or " + writeOut}
}

func secondJump() *source.Fault {
	return &source.Fault{What: "this is the second jump of its kind; Backfield follows one", Do: writeOut}
}

func codaWithoutJump() *source.Fault {
	return &source.Fault{What: "this leads to a coda, but no da capo or dal segno comes after it", Do: writeOut}
}

func noStop() *source.Fault {
	return &source.Fault{What: "this jump is not at the end, and the file plays no fine and no coda after it",
		Do: "use your notation program's own mark for the fine or the coda, or " + writeOut}
}

func noSegno() *source.Fault {
	return &source.Fault{What: "this leads back to a segno that the file does not have", Do: writeOut}
}

func noCoda() *source.Fault {
	return &source.Fault{What: "this leads to a coda, and the file does not have exactly one", Do: writeOut}
}

func unclearEnding() *source.Fault {
	return &source.Fault{What: "this ending has no end, or its numbers do not count up from 1",
		Do: "fix the brackets in the music, or " + writeOut}
}

func endingGoesOn() *source.Fault {
	return &source.Fault{What: "nothing leads back before this ending",
		Do: "put a repeat sign at the end of the ending before it, or " + writeOut}
}

func nested() *source.Fault {
	return &source.Fault{What: "this repeat begins before the one before it has ended",
		Do: "put the missing repeat sign into the music, or " + writeOut}
}

func tooOften(most int) *source.Fault {
	return &source.Fault{What: fmt.Sprintf("with its repeats the music has more than %d measures", most),
		Do: "check the repeats"}
}

func neverPlayed(bar int) *source.Fault {
	return &source.Fault{What: fmt.Sprintf("with its repeats and jumps, measure %d of the file, counted from 1, "+
		"is never played", bar+1), Do: "fix the jump or the endings in the music, or " + writeOut}
}
