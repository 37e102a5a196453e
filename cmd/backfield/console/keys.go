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
	doublePressWithin = 2 * time.Second // the second press of a guarded key comes within this

	// A terminal that reports no releases sends a held key as presses: one, then after 0.2 to 0.7 s one about every
	// 0.03 to 0.1 s (the usual settings of desktops; common practice). Nothing but waiting tells them from fingers.
	goGap           = time.Second            // from one SPACE to the next that is taken
	heldKeyGap      = 150 * time.Millisecond // closer presses of a key are a held one
	secondPressWait = 150 * time.Millisecond // so long a second press is watched, where acting on a held key would do harm

	maxTyped = 200 // bytes of a command line
)

// hand is what the operator's fingers are doing: which key waits for its second press, what is being typed. It knows
// no terminal. Each method returns the commands to give now.
type keyReader struct {
	said   string // for the message line
	wrong  bool
	saidAt time.Time

	last     string // the last key
	lastAt   time.Time
	released bool // the terminal has told that it was let go
	armed    run.Verb
	armedKey string
	armedAt  time.Time
	secondAt time.Time // when the second press came; zero for not yet

	typing    bool
	typed     string
	lastTyped string // the line that was typed last, for the up key
	sheet     []string
	code      []string                           // below it
	page      func(rest string) (Overlay, error) // nil where there is none
}

// key is one that was pressed: its name, and the text that it types, if any.
type key struct {
	name, text string
	repeat     bool // the terminal says that it is being held
}

// harmless tells which guarded verbs act at once on the second press: to wait would be worse than a key that was held.
func actsAtOnce(v run.Verb) bool { return v == run.Hush || v == run.Start }

// meaning words what a second press would do.
var pressMeaning = map[run.Verb]string{
	run.Back: "go back to the cue before", run.Quit: "leave the run",
	run.Hush: "HUSH every worn mic", run.Unhush: "RESTORE what was open before hush",
	run.Start: "let the show clock run", run.Stop: "stop the show clock",
}

// guarded is the verb behind a key that wants two presses.
func doublePressVerb(name string, v run.View) (run.Verb, bool) {
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

func (h *keyReader) say(text string, wrong bool, now time.Time) {
	h.said, h.wrong, h.saidAt = text, wrong, now
}

// press takes a key.
func (h *keyReader) press(k key, v run.View, now time.Time) []run.Command {
	if k.name == " " {
		k.name = "space"
	}
	if h.typing {
		return h.typeKey(k, now)
	}
	name := strings.ToLower(k.name)
	gap, same := now.Sub(h.lastAt), name == h.last
	lifted := h.released
	h.last, h.lastAt, h.released = name, now, false
	if k.repeat {
		h.disarm()
		h.say(fmt.Sprintf("%s is being held: not taken", strings.ToUpper(name)), true, now)
		return nil
	}
	if verb, ok := doublePressVerb(name, v); ok {
		return h.guard(name, verb, same && gap < heldKeyGap && !lifted, now)
	}
	h.disarm()
	switch name {
	case "space":
		if same && gap < goGap && !lifted {
			h.say("SPACE again within a second: not taken; let it go, and wait", true, now)
			return nil
		}
		h.show(Overlay{})
		return []run.Command{{Verb: run.Go}}
	case ":", "/":
		h.typing, h.typed = true, ""
	case "?":
		if h.sheet != nil {
			h.show(Overlay{})
		} else {
			h.show(Overlay{Lines: help(h.page != nil)})
		}
	case "esc":
		h.show(Overlay{})
	default:
		if k.text != "" || name == "enter" {
			h.say(fmt.Sprintf("%s is no key here; ? shows them", clean(k.name)), true, now)
		}
	}
	return nil
}

// guard takes a key that wants two presses.
func (h *keyReader) guard(name string, verb run.Verb, rapid bool, now time.Time) []run.Command {
	waiting := h.armed != "" && h.armedKey == name && now.Sub(h.armedAt) <= doublePressWithin
	switch {
	case waiting && actsAtOnce(h.armed):
		verb = h.armed // as it was announced
		h.disarm()
		return []run.Command{{Verb: verb}}
	case rapid:
		h.disarm()
		h.say(fmt.Sprintf("%s is being held, or pressed too fast: not taken", strings.ToUpper(name)), true, now)
	case waiting:
		h.secondAt = now
	default:
		h.armed, h.armedKey, h.armedAt, h.secondAt = verb, name, now, time.Time{}
	}
	return nil
}

// due does what time alone brings: a second press that was a finger's, a first one that stayed alone.
func (h *keyReader) timeout(now time.Time) []run.Command {
	switch {
	case h.armed == "":
	case !h.secondAt.IsZero():
		if now.Sub(h.secondAt) >= secondPressWait {
			verb := h.armed
			h.disarm()
			return []run.Command{{Verb: verb}}
		}
	case now.Sub(h.armedAt) > doublePressWithin:
		h.disarm()
	}
	return nil
}

// show puts a sheet over the players, or an empty one away.
func (h *keyReader) show(s Overlay) { h.sheet, h.code = s.Lines, s.Code }

func (h *keyReader) disarm() { h.armed, h.armedKey, h.secondAt = "", "", time.Time{} }

// release is told by terminals that can.
func (h *keyReader) release(name string) {
	if name == " " {
		name = "space"
	}
	h.released = h.released || strings.ToLower(name) == h.last
}

// write takes a key while a command is typed.
func (h *keyReader) typeKey(k key, now time.Time) []run.Command {
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
			h.lastTyped, h.typing, h.last = h.typed, false, ""
			h.show(sheet)
			return nil
		}
		c, err := run.Parse(h.typed)
		if err != nil {
			h.say(err.Error(), true, now) // the line stays, to be mended
			return nil
		}
		h.lastTyped, h.typing, h.last = h.typed, false, ""
		return []run.Command{c}
	case "backspace":
		_, n := utf8.DecodeLastRuneInString(h.typed)
		h.typed = h.typed[:len(h.typed)-n]
	case "ctrl+u":
		h.typed = ""
	case "up":
		h.typed = h.lastTyped
	default:
		if h.typed == "" && k.name == "space" {
			h.say("a command is being typed: Esc leaves it, then SPACE is go again", true, now)
			return nil
		}
		h.addText(k.text)
	}
	return nil
}

// paste takes text that was pasted: into a command, never as keys.
func (h *keyReader) paste(text string, now time.Time) {
	switch {
	case !h.typing:
		h.say("pasted text is not taken; : opens a command line", true, now)
	case strings.ContainsAny(strings.TrimSpace(text), "\r\n"):
		h.say("more than one line was pasted: not taken", true, now)
	default:
		h.addText(strings.TrimSpace(text))
	}
}

func (h *keyReader) addText(text string) {
	for _, r := range text {
		if unicode.IsPrint(r) && len(h.typed) < maxTyped {
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
