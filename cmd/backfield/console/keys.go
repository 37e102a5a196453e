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
	doublePressWithin = 2 * time.Second // for the second press of a key that must be pressed twice

	// A terminal that reports no releases sends a held key as presses: one, then after 0.2 to 0.7 s one about every
	// 0.03 to 0.1 s (common desktop settings). Only the time between them shows that the key is held.
	goGap           = time.Second            // between two presses of Space that count
	heldKeyGap      = 150 * time.Millisecond // presses of a key that are closer come from a held key
	secondPressWait = 150 * time.Millisecond // after a second press, where a held key would do harm

	maxTyped = 200 // bytes of a command line
)

// keyReader turns keys into commands. It knows which key waits for its second press and what is being typed, and does
// not know the terminal. Each method returns the commands to give now.
type keyReader struct {
	said   string // for the message line
	wrong  bool
	saidAt time.Time

	last     string // the last key
	lastAt   time.Time
	released bool // the terminal reported its release
	armed    run.Verb
	armedKey string
	armedAt  time.Time
	secondAt time.Time // when the second press came; zero before

	typing    bool
	typed     string
	lastTyped string // the last line typed, for the Up key
	sheet     []string
	code      []string                           // below it
	page      func(rest string) (Overlay, error) // nil without a page
}

// key is a key press: the key's name, and the text that it types, if any.
type key struct {
	name, text string
	repeat     bool // the terminal reports that it is held down
}

// actsAtOnce reports whether a double key acts at once on the second press: for these, waiting would be worse than a
// held key.
func actsAtOnce(v run.Verb) bool { return v == run.Hush || v == run.Start }

// pressMeaning says what a second press would do.
var pressMeaning = map[run.Verb]string{
	run.Back: "go back one cue", run.Quit: "quit the run",
	run.Hush: "HUSH every worn mic", run.Unhush: "UNHUSH: open what the current cue has open",
	run.TakeOver: "TAKE OVER: this laptop sends to the mixers",
	run.Start:    "start the show clock", run.Stop: "stop the show clock",
}

// doublePressVerb is the verb of a key that must be pressed twice.
func doublePressVerb(name string, v run.View) (run.Verb, bool) {
	switch name {
	case "b":
		return run.Back, true
	case "h":
		if v.Hush && v.Only == "" { // closing the one mic comes first
			return run.Unhush, true
		}
		return run.Hush, true
	case "s":
		if v.Running {
			return run.Stop, true
		}
		return run.Start, true
	case "t":
		return run.TakeOver, v.Pair != nil
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
	if rest, ok := strings.CutPrefix(k.name, "alt+"); ok { // so a terminal's input reads Esc and the next key
		return append(h.press(key{name: "esc"}, v, now), h.press(plainKey(rest, k.repeat), v, now)...)
	}
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
		h.say(fmt.Sprintf("%s ignored (held down)", keyName(name)), true, now)
		return nil
	}
	if verb, ok := doublePressVerb(name, v); ok {
		return h.guard(name, verb, same && gap < heldKeyGap && !lifted, now)
	}
	h.disarm()
	switch name {
	case "space":
		if same && gap < goGap && !lifted {
			h.say("GO ignored (held down, or pressed twice)", true, now)
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
			h.say(fmt.Sprintf("%s does nothing; ? lists the keys", clean(k.name)), true, now)
		}
	}
	return nil
}

// plainKey is the key that was pressed with Alt, by the name of that key alone.
func plainKey(name string, repeat bool) key {
	if name == "space" {
		return key{name, " ", repeat}
	}
	if r, ok := strings.CutPrefix(name, "shift+"); ok && utf8.RuneCountInString(r) == 1 {
		name = strings.ToUpper(r)
	}
	if utf8.RuneCountInString(name) == 1 {
		return key{name, name, repeat}
	}
	return key{name, "", repeat}
}

// guard takes a key that must be pressed twice.
func (h *keyReader) guard(name string, verb run.Verb, rapid bool, now time.Time) []run.Command {
	waiting := h.armed != "" && h.armedKey == name && now.Sub(h.armedAt) <= doublePressWithin
	switch {
	case waiting && actsAtOnce(h.armed):
		verb = h.armed // what the screen said that it would do
		h.disarm()
		return []run.Command{{Verb: verb}}
	case rapid:
		h.disarm()
		h.say(fmt.Sprintf("%s ignored (held down, or pressed too fast)", keyName(name)), true, now)
	case waiting:
		h.secondAt = now
	default:
		h.armed, h.armedKey, h.armedAt, h.secondAt = verb, name, now, time.Time{}
	}
	return nil
}

// timeout acts on time alone: it accepts a second press that was not a held key, and drops a first press without a
// second.
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

// show covers the players with an overlay; an empty one takes it away.
func (h *keyReader) show(s Overlay) { h.sheet, h.code = s.Lines, s.Code }

// keyName is a key's name as the screen writes it.
func keyName(name string) string {
	if name == "space" {
		return "GO"
	}
	return strings.ToUpper(name)
}

func (h *keyReader) disarm() { h.armed, h.armedKey, h.secondAt = "", "", time.Time{} }

// release takes the release of a key, which only some terminals report.
func (h *keyReader) release(name string) {
	if name == " " {
		name = "space"
	}
	h.released = h.released || strings.ToLower(name) == h.last
}

// typeKey takes a key while a command is being typed.
func (h *keyReader) typeKey(k key, now time.Time) []run.Command {
	switch k.name {
	case "esc", "ctrl+c":
		h.typing, h.last = false, ""
	case "enter": // a refused line closes too: whoever presses Space next means go. The Up key brings it back
		h.lastTyped, h.typing, h.last = h.typed, false, ""
		word, rest, _ := strings.Cut(strings.TrimSpace(h.typed), " ")
		if h.page != nil && strings.EqualFold(word, "page") {
			sheet, err := h.page(strings.TrimSpace(rest))
			if err != nil {
				h.say(err.Error(), true, now)
				return nil
			}
			h.show(sheet)
			return nil
		}
		c, err := run.Parse(h.typed)
		if err != nil {
			h.say(err.Error(), true, now)
			return nil
		}
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
			h.say("typing a command: Esc cancels it, then SPACE is go again", true, now)
			return nil
		}
		h.addText(k.text)
	}
	return nil
}

// paste puts pasted text into a command, and never takes it as keys.
func (h *keyReader) paste(text string, now time.Time) {
	switch {
	case !h.typing:
		h.say("pasted text ignored; press : first to type a command", true, now)
	case strings.ContainsAny(strings.TrimSpace(text), "\r\n"):
		h.say("pasted text ignored (more than one line)", true, now)
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

// help is what ? shows: the keys, and the commands, with those of one word in one line, and those of only a name.
func help(page bool) []string {
	lines := []string{
		"SPACE    go: the next cue; ignored within a second of the last go",
		"b b      back: go back one cue",
		"h h      hush every worn mic; when hushed, unhush",
		"s s      start the show clock; when it runs, stop it",
		"q q      quit the run; t t: take over, with a second laptop",
		"Press a double key twice within 2 s. A key that is held down is ignored.",
		": or /   type a command; Enter sends it, Esc cancels:",
	}
	var words, named []string
	for _, f := range run.Forms() {
		if !strings.Contains(f, " ") {
			words = append(words, f)
		} else if strings.HasSuffix(f, ` "Tpt 3"`) {
			named = append(named, f)
		} else {
			lines = append(lines, "         "+f)
		}
	}
	if page {
		words = append(words, "page", "page new")
	}
	return append(lines, "         "+strings.Join(named, ", "), "         "+strings.Join(words, ", "))
}
