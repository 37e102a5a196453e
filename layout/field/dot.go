package field

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/unit"
)

// mostSteps bounds the steps told from one line; the longest field has 208 from end to end.
const mostSteps = 250

const (
	lateralForm = `write it as "side 1, 2 inside 35", "S2 3.5 outside 40" or "on 50"`
	depthForm   = `write it as "4 behind front hash", "on BH" or "6 in front of back sideline"`
)

// Lateral reads "side 1, 2 inside 35", "S2 3 out 40", "on 50" and the like, and returns x in metres.
func (f Field) Lateral(text string) (x float64, fault *source.Fault) {
	r, fault := read(text, lateralForm)
	if fault != nil {
		return 0, fault
	}
	for i, t := range r.tokens { // told before anything else that is wrong: all of a sheet's dots have it
		if slices.Contains([]string{"l", "r", "left", "right"}, t.text) {
			return 0, r.fault(i, fmt.Sprintf("%q may be the audience's or the players'", text[t.lo:t.hi]), "write side 1 for the audience's left, side 2 for its right")
		}
	}
	side := r.side()
	steps, hasSteps, fault := r.steps()
	if fault != nil {
		return 0, fault
	}
	relation := 0.0
	on := false
	switch word := r.word("inside", "in", "outside", "out", "on", "at"); word {
	case "inside", "in":
		relation = -1
	case "outside", "out":
		relation = 1
	case "on", "at":
		on = true
	}
	r.word("of")
	if side == 0 { // "4 outside S1 40"
		side = r.side()
	}
	r.word("the")
	lineAt := r.at
	yard, hasYard := 0.0, false
	if r.word("goal", "g") != "" {
		hasYard = true
	} else if t := r.peek(); t.number {
		yard, hasYard = t.value, true
		r.at++
	}
	r.word("yd", "yds", "yard", "yards")
	r.word("line", "ln", "yl")
	if side == 0 {
		side = r.side()
	}
	switch {
	case !hasYard && hasSteps && relation == 0 && !on: // "50" alone, or "S1 40 yd ln": a number is the line itself
		yard, hasSteps, lineAt, on = steps, false, r.numberAt, true
	case !hasYard:
		return 0, r.fault(r.at, "the yard line is missing", lateralForm)
	case hasSteps && relation == 0:
		return 0, r.fault(lineAt, "inside or outside is missing between the steps and the yard line", lateralForm)
	case !hasSteps && relation != 0:
		return 0, r.fault(lineAt-1, "the number of steps is missing", lateralForm)
	}
	if t := r.peek(); t.text != "" {
		return 0, r.fault(r.at, fmt.Sprintf("%q was not expected here", t.text), lateralForm)
	}
	middle := float64(f.MiddleYard)
	switch {
	case yard < 0 || yard > middle || yard != 5*math.Trunc(yard/5):
		return 0, r.fault(lineAt, fmt.Sprintf("there is no %g yard line", yard), fmt.Sprintf("yard lines stand every 5 yards, from the goal line (0) to the %d", f.MiddleYard))
	case yard == middle && relation < 0:
		return 0, r.fault(lineAt, fmt.Sprintf("nothing is inside the %d", f.MiddleYard), fmt.Sprintf("write \"outside %d\" with the side", f.MiddleYard))
	case side == 0 && (yard != middle || relation != 0):
		return 0, r.fault(0, "the side is missing", "begin with \"side 1\" (the audience's left) or \"side 2\"")
	}
	fromMiddle := (middle-yard)*unit.YardM + relation*steps*unit.StepM
	if fromMiddle < 0 {
		return 0, r.fault(lineAt, fmt.Sprintf("%s inside the %g is past the %d", source.Count(steps, "step"), yard, f.MiddleYard), "tell it from a nearer line, on the other side")
	}
	if fromMiddle == 0 {
		return 0, nil
	}
	return float64(side) * fromMiddle, nil
}

// Depth reads "4 behind front hash", "on BH", "6 in front of FSL" and the like, and returns y in metres.
func (f Field) Depth(text string) (y float64, fault *source.Fault) {
	r, fault := read(text, depthForm)
	if fault != nil {
		return 0, fault
	}
	steps, hasSteps, fault := r.steps()
	if fault != nil {
		return 0, fault
	}
	relation, related := 0.0, true
	switch {
	case r.words("in", "front", "of"), r.words("front", "of"), r.words("infront", "of"), r.words("ifo"), r.words("in", "front"):
		relation = -1
	case r.words("in", "back", "of"), r.words("back", "of"), r.words("behind"), r.words("beh"), r.words("bhd"):
		relation = 1
	case r.words("on"), r.words("at"):
	default:
		related = false
	}
	r.word("the")
	lineAt := r.at
	line, ok := f.line(r)
	switch {
	case !ok:
		return 0, r.fault(lineAt, "a hash or sideline is missing or not known", depthForm)
	case hasSteps && relation == 0:
		return 0, r.fault(lineAt, "in front of or behind is missing between the steps and the line", depthForm)
	case relation != 0 && !hasSteps:
		return 0, r.fault(0, "the number of steps is missing", depthForm)
	case !related && hasSteps:
		return 0, r.fault(lineAt, "in front of or behind is missing", depthForm)
	}
	if t := r.peek(); t.text != "" {
		return 0, r.fault(r.at, fmt.Sprintf("%q was not expected here", t.text), depthForm)
	}
	return line + relation*steps*f.DepthStepM, nil
}

// line reads the name of a line of depth.
func (f Field) line(r *reader) (y float64, ok bool) {
	lines := f.depthLines()
	switch r.word("fsl", "hsl", "fh", "hh", "bh", "vh", "bsl", "vsl") {
	case "fsl", "hsl":
		return lines[0].y, true
	case "fh", "hh":
		return lines[1].y, true
	case "bh", "vh":
		return lines[2].y, true
	case "bsl", "vsl":
		return lines[3].y, true
	}
	front := false
	switch r.word("front", "home", "back", "visitor", "visitors") {
	case "front", "home":
		front = true
	case "":
		return 0, false
	}
	hash := false
	switch {
	case r.words("hash", "mark"), r.words("hash"), r.words("hashmark"):
		hash = true
	case r.words("sideline"), r.words("side", "line"), r.words("sl"):
	default:
		return 0, false
	}
	switch {
	case front && !hash:
		return lines[0].y, true
	case front:
		return lines[1].y, true
	case hash:
		return lines[2].y, true
	}
	return lines[3].y, true
}

// Halves parts the two halves of a dot that stand in one string.
func Halves(text string) (across, along string) {
	if cut := strings.IndexAny(text, ";|\n"); cut >= 0 {
		return text[:cut], text[cut+1:]
	}
	return text, ""
}

// ReadDot reads both halves of a dot from one string, parted by a semicolon, a bar or, in a cell of a sheet, a line
// end: "side 1, 2 inside 35; 4 behind front hash".
func (f Field) ReadDot(text string) (x, y float64, fault *source.Fault) {
	across, along := Halves(text)
	cut := len(across)
	if cut == len(text) {
		return 0, 0, &source.Fault{Lo: 0, Hi: len(text), What: "a dot has two halves, parted by a semicolon", Do: `write it as "side 1, 2 inside 35; 4 behind front hash"`}
	}
	x, fault = f.Lateral(across)
	if fault == nil {
		if y, fault = f.Depth(along); fault != nil {
			fault.Lo, fault.Hi = fault.Lo+cut+1, fault.Hi+cut+1
		}
	}
	return x, y, fault
}

// token is one word, in small letters, or one number.
type token struct {
	text   string
	number bool
	value  float64
	lo, hi int
}

type reader struct {
	text     string
	tokens   []token
	at       int
	numberAt int // where steps last found its number
	form     string
}

// read cuts text into words and numbers. Commas, colons and full stops part words; "S1" is one word.
func read(text, form string) (*reader, *source.Fault) {
	r := &reader{text: text, form: form}
	for i := 0; i < len(text); {
		lo := i
		switch c := text[i]; {
		case isDigit(c) || c == '.' && i+1 < len(text) && isDigit(text[i+1]):
			for i < len(text) && (isDigit(text[i]) || text[i] == '.' || text[i] == '/') {
				i++
			}
			value, ok := number(strings.TrimSuffix(text[lo:i], "."))
			if !ok {
				return nil, &source.Fault{Lo: lo, Hi: i, What: fmt.Sprintf("%q is not a number", text[lo:i]), Do: form}
			}
			r.tokens = append(r.tokens, token{text[lo:i], true, value, lo, i})
		case isLetter(c):
			for i < len(text) && isLetter(text[i]) {
				i++
			}
			word := strings.ToLower(text[lo:i])
			if (word == "s" || word == "side") && i < len(text) && (text[i] == '1' || text[i] == '2') && (i+1 == len(text) || !isDigit(text[i+1]) && text[i+1] != '.') {
				word, i = word+text[i:i+1], i+1
			}
			r.tokens = append(r.tokens, token{text: word, lo: lo, hi: i})
		case c == '-' && i+1 < len(text) && (isDigit(text[i+1]) || text[i+1] == '.'):
			return nil, &source.Fault{Lo: lo, Hi: lo + 1, What: "a sign has no place in a dot", Do: "say inside or outside, in front of or behind; " + form}
		case strings.IndexByte(" \t,:.-", c) >= 0:
			i++
		default:
			return nil, &source.Fault{Lo: lo, Hi: lo + 1, What: fmt.Sprintf("%q does not belong in a dot", string([]rune(text[lo:])[0])), Do: form}
		}
	}
	if len(r.tokens) == 0 {
		return nil, &source.Fault{Lo: 0, Hi: len(text), What: "this half of the dot is empty", Do: form}
	}
	return r, nil
}

// number reads "2", "2.5" and "1/2".
func number(s string) (float64, bool) {
	if over, under, ok := strings.Cut(s, "/"); ok {
		a, err1 := strconv.ParseFloat(over, 64)
		b, err2 := strconv.ParseFloat(under, 64)
		return a / b, err1 == nil && err2 == nil && b > 0 && a < b
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && !math.IsInf(v, 0)
}

func isDigit(c byte) bool  { return c >= '0' && c <= '9' }
func isLetter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }

func (r *reader) peek() token {
	if r.at < len(r.tokens) {
		return r.tokens[r.at]
	}
	return token{lo: len(r.text), hi: len(r.text)}
}

// word takes the next word if it is one of these, and returns it.
func (r *reader) word(any ...string) string {
	t := r.peek()
	for _, w := range any {
		if !t.number && t.text == w {
			r.at++
			return w
		}
	}
	return ""
}

// words takes this sequence of words if it stands next.
func (r *reader) words(sequence ...string) bool {
	from := r.at
	for _, w := range sequence {
		if r.word(w) == "" {
			r.at = from
			return false
		}
	}
	return true
}

// side reads side 1 as -1, side 2 as +1, and nothing as 0.
func (r *reader) side() int {
	switch r.word("s1", "side1", "s2", "side2") {
	case "s1", "side1":
		return -1
	case "s2", "side2":
		return 1
	}
	if next := r.at + 1; next < len(r.tokens) && (r.peek().text == "side" || r.peek().text == "s") {
		switch t := r.tokens[next]; t.text {
		case "1", "a":
			r.at += 2
			return -1
		case "2", "b":
			r.at += 2
			return 1
		}
	}
	return 0
}

// steps reads "2", "2.5", "2 1/2", with or without the word steps.
func (r *reader) steps() (v float64, ok bool, fault *source.Fault) {
	t := r.peek()
	if !t.number {
		return 0, false, nil
	}
	r.numberAt = r.at
	v = t.value
	r.at++
	if next := r.peek(); next.number && strings.Contains(next.text, "/") && v == math.Trunc(v) {
		v += next.value
		r.at++
	}
	if v > mostSteps {
		return 0, false, &source.Fault{Lo: t.lo, Hi: t.hi, What: fmt.Sprintf("%g steps is more than any field has", v), Do: r.form}
	}
	r.word("steps", "step", "st")
	return v, true, nil
}

// fault points at the i-th token, or past the end.
func (r *reader) fault(i int, what, do string) *source.Fault {
	if i >= 0 && i < len(r.tokens) {
		return &source.Fault{Lo: r.tokens[i].lo, Hi: r.tokens[i].hi, What: what, Do: do}
	}
	return &source.Fault{Lo: 0, Hi: len(r.text), What: what, Do: do}
}
