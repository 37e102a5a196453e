package console

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"backfield/osc/run"
)

const (
	twice = 2 * time.Second // the second press of a guarded key comes within this

	// A terminal that reports no releases sends a held key as presses: one, then after 0.2 to 0.7 s one about every
	// 0.03 to 0.1 s (the usual settings of desktops; common practice). Nothing but waiting tells them from fingers.
	apart  = time.Second            // from one SPACE to the next that is taken
	rapid  = 150 * time.Millisecond // closer presses of a key are a held one
	settle = 150 * time.Millisecond // so long a second press is watched, where acting on a held key would do harm

	mostTyped = 200 // bytes of a command line
)

// hand is what the operator's fingers are doing: which key waits for its second press, what is being typed. It knows
// no terminal. Each method returns the commands to give now.
type hand struct {
	said  string // for the message line
	wrong bool
	saidT time.Time

	last     string // the last key
	lastAt   time.Time
	lifted   bool // the terminal has told that it was let go
	armed    run.Verb
	armedKey string
	armedAt  time.Time
	second   time.Time // when the second press came; zero for not yet

	typing bool
	typed  string
	before string // the line that was typed last, for the up key
	sheet  []string
	code   []string                         // below it
	page   func(rest string) (Sheet, error) // nil where there is none
}

// key is one that was pressed: its name, and the text that it types, if any.
type key struct {
	name, text string
	repeat     bool // the terminal says that it is being held
}

// harmless tells which guarded verbs act at once on the second press: to wait would be worse than a key that was held.
func harmless(v run.Verb) bool { return v == run.Hush || v == run.Start }

// meaning words what a second press would do.
var meaning = map[run.Verb]string{
	run.Back: "go back to the cue before", run.Quit: "leave the run",
	run.Hush: "HUSH every worn mic", run.Unhush: "RESTORE what was open before hush",
	run.Start: "let the show clock run", run.Stop: "stop the show clock",
}

// guarded is the verb behind a key that wants two presses.
func guarded(name string, v run.View) (run.Verb, bool) {
	switch name {
	case "b":
		return run.Back, true
	case "h":
		if v.Hush {
			return run.Unhush, true
		}
		return run.Hush, true
	case "s":
		if v.Running {
			return run.Stop, true
		}
		return run.Start, true
	case "q", "ctrl+c":
		return run.Quit, true
	}
	return "", false
}

func (h *hand) say(text string, wrong bool, now time.Time) {
	h.said, h.wrong, h.saidT = text, wrong, now
}

// press takes a key.
func (h *hand) press(k key, v run.View, now time.Time) []run.Command {
	if k.name == " " {
		k.name = "space"
	}
	if h.typing {
		return h.write(k, now)
	}
	name := strings.ToLower(k.name)
	gap, same := now.Sub(h.lastAt), name == h.last
	lifted := h.lifted
	h.last, h.lastAt, h.lifted = name, now, false
	if k.repeat {
		h.disarm()
		h.say(fmt.Sprintf("%s is being held: not taken", strings.ToUpper(name)), true, now)
		return nil
	}
	if verb, ok := guarded(name, v); ok {
		return h.guard(name, verb, same && gap < rapid && !lifted, now)
	}
	h.disarm()
	switch name {
	case "space":
		if same && gap < apart && !lifted {
			h.say("SPACE again within a second: not taken; let it go, and wait", true, now)
			return nil
		}
		h.show(Sheet{})
		return []run.Command{{Verb: run.Go}}
	case ":", "/":
		h.typing, h.typed = true, ""
	case "?":
		if h.sheet != nil {
			h.show(Sheet{})
		} else {
			h.show(Sheet{Lines: help(h.page != nil)})
		}
	case "esc":
		h.show(Sheet{})
	default:
		if k.text != "" || name == "enter" {
			h.say(fmt.Sprintf("%s is no key here; ? shows them", clean(k.name)), true, now)
		}
	}
	return nil
}

// guard takes a key that wants two presses.
func (h *hand) guard(name string, verb run.Verb, rapid bool, now time.Time) []run.Command {
	waiting := h.armed != "" && h.armedKey == name && now.Sub(h.armedAt) <= twice
	switch {
	case waiting && harmless(h.armed):
		verb = h.armed // as it was announced
		h.disarm()
		return []run.Command{{Verb: verb}}
	case rapid:
		h.disarm()
		h.say(fmt.Sprintf("%s is being held, or pressed too fast: not taken", strings.ToUpper(name)), true, now)
	case waiting:
		h.second = now
	default:
		h.armed, h.armedKey, h.armedAt, h.second = verb, name, now, time.Time{}
	}
	return nil
}

// due does what time alone brings: a second press that was a finger's, a first one that stayed alone.
func (h *hand) due(now time.Time) []run.Command {
	switch {
	case h.armed == "":
	case !h.second.IsZero():
		if now.Sub(h.second) >= settle {
			verb := h.armed
			h.disarm()
			return []run.Command{{Verb: verb}}
		}
	case now.Sub(h.armedAt) > twice:
		h.disarm()
	}
	return nil
}

// show puts a sheet over the players, or an empty one away.
func (h *hand) show(s Sheet) { h.sheet, h.code = s.Lines, s.Code }

func (h *hand) disarm() { h.armed, h.armedKey, h.second = "", "", time.Time{} }

// release is told by terminals that can.
func (h *hand) release(name string) {
	if name == " " {
		name = "space"
	}
	h.lifted = h.lifted || strings.ToLower(name) == h.last
}

// write takes a key while a command is typed.
func (h *hand) write(k key, now time.Time) []run.Command {
	switch k.name {
	case "esc", "ctrl+c":
		h.typing, h.last = false, ""
	case "enter":
		word, rest, _ := strings.Cut(strings.TrimSpace(h.typed), " ")
		if h.page != nil && strings.EqualFold(word, "page") {
			sheet, err := h.page(strings.TrimSpace(rest))
			if err != nil {
				h.say(err.Error(), true, now)
				return nil
			}
			h.before, h.typing, h.last = h.typed, false, ""
			h.show(sheet)
			return nil
		}
		c, err := run.Parse(h.typed)
		if err != nil {
			h.say(err.Error(), true, now) // the line stays, to be mended
			return nil
		}
		h.before, h.typing, h.last = h.typed, false, ""
		return []run.Command{c}
	case "backspace":
		_, n := utf8.DecodeLastRuneInString(h.typed)
		h.typed = h.typed[:len(h.typed)-n]
	case "ctrl+u":
		h.typed = ""
	case "up":
		h.typed = h.before
	default:
		if h.typed == "" && k.name == "space" {
			h.say("a command is being typed: Esc leaves it, then SPACE is go again", true, now)
			return nil
		}
		h.add(k.text)
	}
	return nil
}

// paste takes text that was pasted: into a command, never as keys.
func (h *hand) paste(text string, now time.Time) {
	switch {
	case !h.typing:
		h.say("pasted text is not taken; : opens a command line", true, now)
	case strings.ContainsAny(strings.TrimSpace(text), "\r\n"):
		h.say("more than one line was pasted: not taken", true, now)
	default:
		h.add(strings.TrimSpace(text))
	}
}

func (h *hand) add(text string) {
	for _, r := range text {
		if unicode.IsPrint(r) && len(h.typed) < mostTyped {
			h.typed += string(r)
		}
	}
}

// help is what ? shows: the keys, and how commands are typed, those of one word in one line.
func help(page bool) []string {
	lines := []string{
		"SPACE    the next cue; not again within a second",
		"b b      back: the cue before, as if the last go had not been",
		"h h      hush every worn mic; when hushed, restore",
		"s s      start the show clock, or stop it",
		"q q      leave the run",
		"Two presses come within 2 s; a key that is held is not taken.",
		": or /   a command; Enter sends it, Esc leaves it:",
	}
	var words []string
	for _, f := range run.Forms() {
		if strings.Contains(f, " ") {
			lines = append(lines, "         "+f)
		} else {
			words = append(words, f)
		}
	}
	if page {
		words = append(words, "page", "page new")
	}
	return append(lines, "         "+strings.Join(words, ", "))
}
