package field

import (
	"fmt"
	"strings"

	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func whoseSide(r *dotReader, i int) *source.Fault {
	word := r.text[r.tokens[i].lo:r.tokens[i].hi]
	fault := r.fault(i, fmt.Sprintf("%q could be the audience's or the players'", word),
		fmt.Sprintf("write side 1 for the audience's left, side 2 for its right; or say once what it means, in "+
			"[drill.words]: %q = \"side 1\"", word))
	fault.Word = word
	return fault
}

// strange is a fault at a token; where that is a word that is none of those that are read, it may be the staff's own.
func (r *dotReader) strange(i int, what, do string) *source.Fault {
	fault := r.fault(i, what, do)
	if i < len(r.tokens) && !r.tokens[i].number && !isKnown(r.tokens[i].text) {
		fault.Word = r.text[fault.Lo:fault.Hi]
		fault.Do += fmt.Sprintf("; if it is a word of your staff, say what it means in [drill.words]: %q = \"...\"",
			fault.Word)
	}
	return fault
}

func noYardLine(r *dotReader) *source.Fault {
	return r.strange(r.at, "the yard line is missing", lateralForm)
}

func noInOrOut(r *dotReader, lineAt int) *source.Fault {
	return r.fault(lineAt, "inside or outside is missing between the steps and the yard line", lateralForm)
}

func noLateralSteps(r *dotReader, lineAt int) *source.Fault {
	return r.fault(lineAt-1, "the number of steps is missing", lateralForm)
}

func unexpectedLateral(r *dotReader) *source.Fault {
	return r.strange(r.at, fmt.Sprintf("%q was not expected here", r.peek().text), lateralForm)
}

func noSuchYardLine(r *dotReader, lineAt int, yard float64, middleYard int) *source.Fault {
	return r.fault(lineAt, fmt.Sprintf("there is no %g yard line", yard),
		fmt.Sprintf("yard lines come every 5 yards, from the goal line (0) to the %d", middleYard))
}

func insideMiddle(r *dotReader, lineAt, middleYard int) *source.Fault {
	return r.fault(lineAt, fmt.Sprintf("nothing is inside the %d", middleYard),
		fmt.Sprintf("write \"outside %d\" with the side", middleYard))
}

func noSide(r *dotReader) *source.Fault {
	return r.fault(0, "the side is missing", "begin with \"side 1\" (the audience's left) or \"side 2\"")
}

func pastMiddle(r *dotReader, lineAt int, steps, yard float64, middleYard int) *source.Fault {
	return r.fault(lineAt,
		fmt.Sprintf("%s inside the %g is past the %d", source.Count(steps, "step"), yard, middleYard),
		"count from a nearer line, on the other side")
}

func noDepthLine(r *dotReader, lineAt int) *source.Fault {
	return r.strange(lineAt, "a hash or sideline is missing or not known", depthForm)
}

func noFrontOrBehind(r *dotReader, lineAt int) *source.Fault {
	return r.fault(lineAt, "in front of or behind is missing between the steps and the line", depthForm)
}

func noDepthSteps(r *dotReader) *source.Fault {
	return r.fault(0, "the number of steps is missing", depthForm)
}

func noRelation(r *dotReader, lineAt int) *source.Fault {
	return r.fault(lineAt, "in front of or behind is missing", depthForm)
}

func unexpectedDepth(r *dotReader) *source.Fault {
	t := r.peek()
	if !strings.HasPrefix(t.text, "(") {
		return r.strange(r.at, fmt.Sprintf("%q was not expected here", t.text), depthForm)
	}
	word := r.text[t.lo:t.hi]
	fault := r.fault(r.at, fmt.Sprintf("%q may name the hash of another field", word),
		fmt.Sprintf("check the field; if %s says nothing, write in [drill.words]: %q = \"\"", word, word))
	fault.Word = word
	return fault
}

func oneHalf(text string) *source.Fault {
	return &source.Fault{
		Lo:   0,
		Hi:   len(text),
		What: "a dot has two halves, separated by a semicolon",
		Do:   `write it as "side 1, 2 inside 35; 4 behind front hash"`,
	}
}

func notANumber(text string, lo, hi int, form string) *source.Fault {
	return &source.Fault{
		Lo:   lo,
		Hi:   hi,
		What: fmt.Sprintf("%q is not a number", text[lo:hi]),
		Do:   form,
	}
}

func oddNumber(text string, lo, hi int, form string) *source.Fault {
	return &source.Fault{
		Lo:   lo,
		Hi:   hi,
		What: fmt.Sprintf("%q is not how a number of steps or a yard line is written", text[lo:hi]),
		Do:   "write it with digits and a period, such as 2.5; " + form,
	}
}

func foreignDigit(lo, size int, sign rune, form string) *source.Fault {
	return &source.Fault{
		Lo:   lo,
		Hi:   lo + size,
		What: fmt.Sprintf("%q is a digit of another kind than 0 to 9", string(sign)),
		Do:   "type the number again with the digits 0 to 9; " + form,
	}
}

func minusInDot(lo int, form string) *source.Fault {
	return &source.Fault{
		Lo:   lo,
		Hi:   lo + 1,
		What: "a dot cannot have a minus sign",
		Do:   "write inside or outside, in front of or behind; " + form,
	}
}

func strangeCharacter(text string, lo int, form string) *source.Fault {
	return &source.Fault{
		Lo:   lo,
		Hi:   lo + 1,
		What: fmt.Sprintf("%q does not belong in a dot", string([]rune(text[lo:])[0])),
		Do:   form,
	}
}

func emptyHalf(text, form string) *source.Fault {
	return &source.Fault{
		Lo:   0,
		Hi:   len(text),
		What: "this half of the dot is empty",
		Do:   form,
	}
}

func tooManySteps(t token, steps float64, form string) *source.Fault {
	return &source.Fault{
		Lo:   t.lo,
		Hi:   t.hi,
		What: fmt.Sprintf("%g steps is more than any field has", steps),
		Do:   form,
	}
}
