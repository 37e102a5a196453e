package run

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// Verb is what an operator can ask for.
type Verb string

// The verbs, as they are typed.
const (
	Go      Verb = "go"      // the next cue
	Back    Verb = "back"    // the cue before, as if the last go had not been
	To      Verb = "to"      // any cue, set or count
	Hush    Verb = "hush"    // close every worn mic at once
	Restore Verb = "restore" // as it was before hush
	Hold    Verb = "hold"    // leave a channel as it is, whatever the cues say
	Release Verb = "release" // give it back to the cues
	Swap    Verb = "swap"    // a dead pack for a spare one
	Nudge   Verb = "nudge"   // a level, for this run
	Start   Verb = "start"   // let the show clock run from where it stands
	Stop    Verb = "stop"    // hold it
	Status  Verb = "status"
	Quit    Verb = "quit"
)

// Command is one thing that an operator asked for.
type Command struct {
	Verb    Verb
	Name    string  // a player, a fixed mic or a channel number; of To: a cue or a position
	Channel int     // of Swap: the spare's channel, 0 to go back to his own
	DB      float64 // of Nudge: by how much more
	From    string  // who gave it, if not the operator

	// Next is the id of the cue that whoever gave a Go or Back saw as the next one, "" for no further cue: where the
	// run has another by now, somebody else was quicker, and it is not taken. nil for whichever it is.
	Next *string
}

// forms is how each verb is typed: an example, and what reads the words after the verb into a command.
var forms = []struct {
	verb Verb
	text string
	read func(c *Command, words []string) error
}{
	{Go, "go", noWords}, {Back, "back", noWords},
	{To, "to 12A   (or: to 2:33, to set 14 + 4)", nameWords},
	{Hush, "hush", noWords}, {Restore, "restore", noWords},
	{Hold, `hold "Tpt 3"`, nameWords},
	{Release, `release "Tpt 3"   (or: release all)`, nameWords},
	{Swap, `swap "Tpt 3" to 21   (or: swap "Tpt 3" back)`, swapWords},
	{Nudge, `nudge "Tpt 3" +1.5`, nudgeWords},
	{Start, "start", noWords}, {Stop, "stop", noWords}, {Status, "status", noWords}, {Quit, "quit", noWords},
}

// errWords is the error of words that are none of a command.
var errWords = errors.New("not understood")

func noWords(_ *Command, words []string) error {
	if len(words) > 0 {
		return errWords
	}
	return nil
}

func nameWords(c *Command, words []string) error {
	if c.Name = strings.Join(words, " "); c.Name == "" {
		return errWords
	}
	return nil
}

// swapWords reads a name and "to 21" or "back".
func swapWords(c *Command, words []string) error {
	n := len(words)
	if n >= 2 && strings.EqualFold(words[n-1], "back") {
		return nameWords(c, words[:n-1])
	}
	if n < 3 || !strings.EqualFold(words[n-2], "to") {
		return errWords
	}
	channel, err := strconv.Atoi(words[n-1])
	if err != nil || channel < 1 {
		return errWords
	}
	c.Channel = channel
	return nameWords(c, words[:n-2])
}

// nudgeWords reads a name and a number of dB, with the unit or without.
func nudgeWords(c *Command, words []string) error {
	n := len(words)
	if n > 0 && strings.EqualFold(words[n-1], "dB") {
		n--
	}
	if n < 2 {
		return errWords
	}
	number := strings.TrimSuffix(strings.TrimSuffix(words[n-1], "dB"), "db")
	v, err := strconv.ParseFloat(number, 64)
	switch {
	case err != nil || math.IsNaN(v) || math.IsInf(v, 0):
		return errWords
	case v < -mostNudgeDB || v > mostNudgeDB:
		return fmt.Errorf("one nudge is from -%d to +%[1]d dB; nudge twice if that is meant", mostNudgeDB)
	}
	c.DB = v
	return nameWords(c, words[:n-1])
}

// Forms lists how the commands are typed, one a line.
func Forms() []string {
	var list []string
	for _, f := range forms {
		list = append(list, f.text)
	}
	return list
}

// Parse reads a command as typed. Case does not matter in the verb; a name with a space may stand in quotes.
func Parse(line string) (Command, error) {
	words, err := split(line)
	if err != nil {
		return Command{}, err
	}
	if len(words) == 0 {
		return Command{}, fmt.Errorf("nothing was typed; %s", source.OneOf(verbs()))
	}
	c := Command{Verb: Verb(strings.ToLower(words[0]))}
	for _, f := range forms {
		if f.verb != c.Verb {
			continue
		}
		err := f.read(&c, words[1:])
		switch {
		case errors.Is(err, errWords):
			return Command{}, fmt.Errorf("%q is not understood; write it like: %s", line, f.text)
		case err != nil:
			return Command{}, fmt.Errorf("%q: %w", line, err)
		}
		return c, nil
	}
	hint := source.DidYouMean(words[0], verbs(), "it is "+source.OneOf(verbs()))
	return Command{}, fmt.Errorf("no command %q; %s", words[0], hint)
}

// mostNudgeDB is as much as one nudge moves: a slip of the finger is not sent.
const mostNudgeDB = 12

// String writes the command as Parse reads it.
func (c Command) String() string {
	name := func() string {
		if strings.ContainsAny(c.Name, " \t") {
			return `"` + c.Name + `"`
		}
		return c.Name
	}
	switch c.Verb {
	case To:
		return "to " + c.Name
	case Hold, Release:
		return string(c.Verb) + " " + name()
	case Swap:
		if c.Channel == 0 {
			return fmt.Sprintf("swap %s back", name())
		}
		return fmt.Sprintf("swap %s to %d", name(), c.Channel)
	case Nudge:
		return fmt.Sprintf("nudge %s %+g", name(), c.DB)
	}
	return string(c.Verb)
}

func verbs() []string {
	var list []string
	for _, f := range forms {
		list = append(list, string(f.verb))
	}
	return list
}

// split parts a line at spaces that stand in no quotes.
func split(line string) ([]string, error) {
	var words []string
	var b strings.Builder
	in, quoted := false, false
	for _, c := range line {
		switch {
		case c == '"':
			quoted, in = !quoted, true
		case !quoted && (c == ' ' || c == '\t' || c == '\r'):
			if in {
				words = append(words, strings.TrimSpace(b.String()))
			}
			b.Reset()
			in = false
		case c < ' ' || c == 0x7f || c == '\uFFFD':
			return nil, fmt.Errorf("%q is not text", line)
		default:
			b.WriteRune(c)
			in = true
		}
	}
	if quoted {
		return nil, fmt.Errorf("%q: this quote is never closed", line)
	}
	if in {
		words = append(words, strings.TrimSpace(b.String()))
	}
	return slices.DeleteFunc(words, func(w string) bool { return w == "" }), nil
}
