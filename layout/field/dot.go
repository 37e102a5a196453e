package field

import (
	"math"
	"regexp"
	"slices"
	"strings"

	"backfield/layout/source"
	"backfield/layout/unit"
)

// mostSteps bounds the steps from one line; the longest field has 208 from end to end.
const mostSteps = 250

const (
	lateralForm = `write it as "side 1, 2 inside 35", "S2 3.5 outside 40" or "on 50"`
	depthForm   = `write it as "4 behind front hash", "on BH" or "6 in front of back sideline"`
)

// lateral is the half of a dot across the field, as its words have it.
type lateral struct {
	side     int // -1 for side 1, 1 for side 2, 0 where none is given
	steps    float64
	hasSteps bool
	relation float64 // of the steps to the line: -1 inside, 1 outside, 0 for neither
	on       bool
	yard     float64
	hasYard  bool
	lineAt   int // the token of the yard line
}

// Lateral reads "side 1, 2 inside 35", "S2 3 out 40", "on 50" and the like, and returns x in meters.
func (f Field) Lateral(text string) (x float64, fault *source.Fault) {
	return f.half(text, f.lateralOf)
}

// Depth reads "4 behind front hash", "on BH", "6 in front of FSL" and the like, and returns y in meters.
func (f Field) Depth(text string) (y float64, fault *source.Fault) { return f.half(text, f.depthOf) }

// half reads a text in the words that are read, and points at the text as written.
func (f Field) half(text string, read func(text string) (m float64, fault *source.Fault)) (float64, *source.Fault) {
	t := f.translate(text)
	m, fault := read(t.text)
	if fault != nil {
		t.pointAt(text, fault)
	}
	return m, fault
}

func (f Field) lateralOf(text string) (x float64, fault *source.Fault) {
	r, fault := read(text, lateralForm)
	if fault != nil {
		return 0, fault
	}
	w, fault := r.lateral()
	if fault != nil {
		return 0, fault
	}
	middle := float64(f.MiddleYard)
	switch {
	case w.yard < 0 || w.yard > middle || w.yard != 5*math.Trunc(w.yard/5):
		return 0, noSuchYardLine(r, w.lineAt, w.yard, f.MiddleYard)
	case w.yard == middle && w.relation < 0:
		return 0, insideMiddle(r, w.lineAt, f.MiddleYard)
	case w.side == 0 && (w.yard != middle || w.relation != 0):
		return 0, noSide(r)
	}
	fromMiddleM := (middle-w.yard)*unit.YardM + w.relation*w.steps*unit.StepM
	if fromMiddleM < 0 {
		return 0, pastMiddle(r, w.lineAt, w.steps, w.yard, f.MiddleYard)
	}
	if fromMiddleM == 0 {
		return 0, nil // and not -0 on side 1
	}
	return float64(w.side) * fromMiddleM, nil
}

// lateral splits the words: side, steps, relation and yard line, of which the side may come later.
func (r *dotReader) lateral() (w lateral, fault *source.Fault) {
	for i, t := range r.tokens { // reported before anything else that is wrong: all of a sheet's dots have it
		if slices.Contains([]string{"l", "r", "left", "right"}, t.text) {
			return w, whoseSide(r, i)
		}
	}
	w.side = r.side()
	if w.steps, w.hasSteps, fault = r.steps(); fault != nil {
		return w, fault
	}
	switch r.word("inside", "in", "outside", "out", "on", "at") {
	case "inside", "in":
		w.relation = -1
	case "outside", "out":
		w.relation = 1
	case "on", "at":
		w.on = true
	}
	r.word("of")
	if w.side == 0 { // "4 outside S1 40"
		w.side = r.side()
	}
	r.word("the")
	r.yardLine(&w)
	if w.side == 0 {
		w.side = r.side()
	}
	switch {
	case !w.hasYard && w.hasSteps && w.relation == 0 && !w.on:
		// "50" alone, or "S1 40 yd ln": the number is the line itself
		w.yard, w.hasSteps, w.lineAt, w.on = w.steps, false, r.numberAt, true
	case !w.hasYard:
		return w, noYardLine(r)
	case w.hasSteps && w.relation == 0 && (w.steps != 0 || !w.on):
		return w, noInOrOut(r, w.lineAt)
	case !w.hasSteps && w.relation != 0:
		return w, noLateralSteps(r, w.lineAt)
	}
	if t := r.peek(); t.text != "" {
		return w, unexpectedLateral(r)
	}
	return w, nil
}

// yardLine reads the number of a yard line, or the goal line.
func (r *dotReader) yardLine(w *lateral) {
	w.lineAt = r.at
	if r.word("goal", "g") != "" {
		w.hasYard = true
	} else if t := r.peek(); t.number {
		w.yard, w.hasYard = t.value, true
		r.at++
	}
	r.word("yd", "yds", "yard", "yards")
	r.word("line", "ln", "yl")
}

func (f Field) depthOf(text string) (y float64, fault *source.Fault) {
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
	case r.words("in", "front", "of"), r.words("front", "of"), r.words("infront", "of"), r.words("ifo"),
		r.words("in", "front"):
		relation = -1
	case r.words("in", "back", "of"), r.words("back", "of"), r.words("in", "rear", "of"), r.words("rear", "of"),
		r.words("behind"), r.words("beh"), r.words("bhd"):
		relation = 1
	case hasSteps && r.peek().text == "bh" && f.lineAfter(*r):
		r.at++ // 4 bh FH: the steps are behind, as no line comes after a line
		relation = 1
	case r.words("on"), r.words("at"):
	default:
		related = false
	}
	r.word("of") // "aft of", where aft is a staff's own word for behind
	r.word("the")
	lineAt := r.at
	line, ok := f.line(r)
	switch {
	case !ok:
		return 0, noDepthLine(r, lineAt)
	case hasSteps && relation == 0 && (steps != 0 || !related): // 0 on FH is on it
		return 0, noFrontOrBehind(r, lineAt)
	case relation != 0 && !hasSteps:
		return 0, noDepthSteps(r)
	case !related && hasSteps:
		return 0, noRelation(r, lineAt)
	}
	if t := r.peek(); t.text != "" && !f.namesOwnHash(t.text) && !f.saysAgain(t.text, line) {
		return 0, unexpectedDepth(r)
	} else if t.text != "" {
		r.at++
	}
	if r.peek().text != "" {
		return 0, unexpectedDepth(r)
	}
	return line + relation*steps*f.DepthStepM, nil
}

// lineAfter reports whether the token after the next begins a line of depth.
func (f Field) lineAfter(r dotReader) bool {
	r.at++
	r.word("the")
	_, ok := f.line(&r)
	return ok
}

// line reads the name of a line of depth.
func (f Field) line(r *dotReader) (y float64, ok bool) {
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
	case r.words("hash"), r.words("hashes"), r.words("hashmark"):
		r.word("mark", "marks", "line", "ln")
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

// Halves splits a string with both halves of a dot.
func Halves(text string) (across, along string) {
	if cut := strings.IndexAny(text, ";|\n"); cut >= 0 {
		return text[:cut], text[cut+1:]
	}
	for _, mark := range []string{",", " / "} {
		for cut := strings.LastIndex(text, mark); cut >= 0; cut = strings.LastIndex(text[:cut], mark) {
			if after := cut + len(strings.TrimRight(mark, " ")); depthStart.MatchString(text[after:]) {
				return text[:after-1], text[after:]
			}
		}
	}
	return text, ""
}

// depthStart is how a half about the depth begins after a comma, which may also come inside the other half
// ("side 1, 2 inside 35") or, right before a digit, inside a number.
var depthStart = regexp.MustCompile(`(?i)^(?:\s*[a-z]{1,2}(?:h|sl)\s*$|` +
	`(?:\s*(?:home|visitors?|on|at|behind|beh|in front|ifo|front|back)\b|` +
	`\s+[\d.,/⁄½⅓⅔¼¾⅛⅜⅝⅞-]+\s).*\b(?:hash|side ?line|[a-z]{0,2}(?:h|sl))\b)`)

// ReadDot reads both halves of a dot from one string, separated by a semicolon, a bar or, in a cell of a sheet, a line
// end: "side 1, 2 inside 35; 4 behind front hash". A comma will do, or a slash between spaces, if what follows it begins
// like the second half.
func (f Field) ReadDot(text string) (x, y float64, fault *source.Fault) {
	t := f.translate(text)
	across, along := Halves(t.text)
	cut := len(across)
	if cut == len(t.text) {
		return 0, 0, oneHalf(text)
	}
	if x, fault = f.lateralOf(across); fault == nil {
		if y, fault = f.depthOf(along); fault != nil {
			fault.Lo, fault.Hi = fault.Lo+cut+1, fault.Hi+cut+1
		}
	}
	if fault != nil {
		t.pointAt(text, fault)
	}
	return x, y, fault
}
