package run

import (
	"fmt"
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

// forms is how each verb is typed.
var forms = []struct {
	verb Verb
	text string
}{
	{Go, "go"}, {Back, "back"}, {To, "to 12A   (or: to 2:33, to set 14 + 4)"}, {Hush, "hush"}, {Restore, "restore"},
	{Hold, `hold "Tpt 3"`}, {Release, `release "Tpt 3"   (or: release all)`},
	{Swap, `swap "Tpt 3" to 21   (or: swap "Tpt 3" back)`},
	{Nudge, `nudge "Tpt 3" +1.5`}, {Start, "start"}, {Stop, "stop"}, {Status, "status"}, {Quit, "quit"},
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
	rest := words[1:]
	wrong := func() (Command, error) {
		for _, f := range forms {
			if f.verb == c.Verb {
				return Command{}, fmt.Errorf("%q is not understood; write it like: %s", line, f.text)
			}
		}
		return Command{}, fmt.Errorf(
			"no command %q; %s", words[0], source.DidYouMean(words[0], verbs(), "it is "+source.OneOf(verbs())),
		)
	}
	switch c.Verb {
	case Go, Back, Hush, Restore, Start, Stop, Status, Quit:
		if len(rest) > 0 {
			return wrong()
		}
	case To:
		if c.Name = strings.Join(rest, " "); c.Name == "" {
			return wrong()
		}
	case Hold, Release:
		if c.Name = strings.Join(rest, " "); c.Name == "" {
			return wrong()
		}
	case Swap:
		n := len(rest)
		switch {
		case n >= 2 && strings.EqualFold(rest[n-1], "back"):
			c.Name = strings.Join(rest[:n-1], " ")
		case n >= 3 && strings.EqualFold(rest[n-2], "to"):
			v, err := strconv.Atoi(rest[n-1])
			if err != nil || v < 1 {
				return wrong()
			}
			c.Name, c.Channel = strings.Join(rest[:n-2], " "), v
		default:
			return wrong()
		}
	case Nudge:
		n := len(rest)
		if n < 2 {
			return wrong()
		}
		if strings.EqualFold(rest[n-1], "dB") {
			n--
		}
		v, err := strconv.ParseFloat(strings.TrimSuffix(strings.TrimSuffix(rest[n-1], "dB"), "db"), 64)
		if err != nil || n < 2 || v-v != 0 { // no finite number
			return wrong()
		}
		if !(v >= -mostNudgeDB && v <= mostNudgeDB) {
			return Command{}, fmt.Errorf(
				"%q: one nudge is from -%d to +%[2]d dB; nudge twice if that is meant", line, mostNudgeDB,
			)
		}
		c.Name, c.DB = strings.Join(rest[:n-1], " "), v
	default:
		return wrong()
	}
	return c, nil
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
