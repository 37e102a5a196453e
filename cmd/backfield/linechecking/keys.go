package linechecking

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/osc/linecheck"
)

// KeyFix writes the fix that is offered; Session.Fix takes it.
const KeyFix linecheck.CheckKey = "tonight"

// KeyQuit ends the check.
const KeyQuit linecheck.CheckKey = "quit"

// CheckControl is one thing that someone can press: a letter on the screen, a word in a line, a button on the page.
type CheckControl struct {
	Letter string
	Key    linecheck.CheckKey
	Does   string
}

// Controls lists all of them, as the screens list them.
var Controls = []CheckControl{
	{"g", linecheck.KeyGood, "good"},
	{"n", linecheck.KeyNoSound, "no sound"},
	{"z", linecheck.KeyNoise, "noise"},
	{"w", linecheck.KeyWrong, "wrong player: type or choose who was heard"},
	{"s", linecheck.KeySkip, "skip this pack for now"},
	{"b", linecheck.KeyBack, "back to the pack before, to judge it again"},
	{"c", linecheck.KeyClose, "close every mic at once"},
	{"o", linecheck.KeyOpen, "open again after close"},
	{"f", linecheck.KeyBatteries, "note fresh batteries"},
	{"t", KeyFix, "fix for tonight what the screen says, in tonight.toml"},
	{"a", linecheck.KeyAgain, "go again through the packs that are not good"},
	{"q", KeyQuit, "quit: closes every mic"},
}

// controlOf is the control of a letter or a word; ok is false if there is none.
func controlOf(word string) (c CheckControl, ok bool) {
	for _, c := range Controls {
		if strings.EqualFold(word, c.Letter) || strings.EqualFold(word, string(c.Key)) {
			return c, true
		}
	}
	return c, false
}

// parseLine reads a typed line: a control, and for a wrong player who was heard.
func parseLine(line string) (key linecheck.CheckKey, who string, err error) {
	word, rest, _ := strings.Cut(line, " ")
	rest = strings.Trim(strings.TrimSpace(rest), `"`)
	if strings.EqualFold(line, string(linecheck.KeyNoSound)) {
		word, rest = line, ""
	}
	c, ok := controlOf(word)
	var words []string
	for _, c := range Controls {
		words = append(words, string(c.Key))
	}
	switch {
	case !ok:
		return "", "", fmt.Errorf("no command %q; %s", word,
			source.DidYouMean(word, words, "the commands are "+strings.Join(words, ", ")))
	case rest != "" && c.Key != linecheck.KeyWrong:
		return "", "", fmt.Errorf("cannot read %q; type %s alone", line, c.Key)
	}
	return c.Key, rest, nil
}

// Give carries out a key other than quit, and returns the answer.
func (x *Session) Give(p linecheck.CheckPress) (said string, err error) {
	if p.Key == KeyFix {
		return x.Fix(p.Seq, p.By)
	}
	return x.Do(p)
}

// Cautions are what everybody must know before the first mic opens.
func Cautions(levelDB float64, to []string) []string {
	return []string{
		fmt.Sprintf("LINE CHECK at %s: it closes every channel of the show, then opens one mic after the other, "+
			"alone, at %g dB.", strings.Join(to, " and "), levelDB),
		"- Take the master DOWN first. Bring it up slowly once the first mic is open.",
		"- Keep everyone away from the loudspeakers. Nobody carries an open mic past one: it howls, and a howl can " +
			"damage hearing.",
		"- Headphones and in-ear monitors: take them off, or turn them down. Near a stack, wear hearing protection.",
		"- Rules of the place, and people who are trained for sound and power, come before this program.",
	}
}
