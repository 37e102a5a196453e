package checkscreen

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"backfield/cmd/backfield/linechecking"
	"backfield/osc/linecheck"
)

const (
	sameKeyGap   = time.Second            // between two presses of one key that count: a key held down comes sooner
	quitWithin   = 2 * time.Second        // for the second press of q
	heldKeyGap   = 150 * time.Millisecond // presses that are closer come from a held key
	messageStays = 8 * time.Second
	maxTyped     = 40 // letters of a name
)

// keyPress is a key: its name, and the text that it types, if any.
type keyPress struct {
	name, text string
	repeat     bool // the terminal reports that it is held down
}

// keyState turns keys into presses of the check. It does not know the terminal.
type keyState struct {
	link PageLink

	said   string
	wrong  bool
	saidAt time.Time

	last     string
	lastAt   time.Time
	released bool
	quitAt   time.Time // when q was pressed once; zero for not

	asking bool // who was heard
	seq    int  // of the pack that it is about
	typed  string
	chosen int // in the list of matches

	sheet, code []string // cover the pack
}

// KeyView is what a screen shows beside the check.
type KeyView struct {
	Said        string
	Wrong       bool
	Quitting    bool
	Asking      bool
	Typed       string
	Chosen      int
	Sheet, Code []string
}

func (k *keyState) shown(now time.Time) KeyView {
	s := KeyView{Quitting: !k.quitAt.IsZero(), Asking: k.asking, Typed: k.typed, Chosen: k.chosen, Sheet: k.sheet,
		Code: k.code}
	if now.Sub(k.saidAt) < messageStays {
		s.Said, s.Wrong = k.said, k.wrong
	}
	return s
}

func (k *keyState) say(text string, wrong bool, now time.Time) {
	k.said, k.wrong, k.saidAt = text, wrong, now
}

// timeout drops a first q without a second.
func (k *keyState) timeout(now time.Time) {
	if !k.quitAt.IsZero() && now.Sub(k.quitAt) > quitWithin {
		k.quitAt = time.Time{}
	}
}

// release takes the release of a key, which only some terminals report.
func (k *keyState) release(name string) { k.released = k.released || strings.ToLower(name) == k.last }

// press takes a key. ok is false if it gives the check nothing to do.
func (k *keyState) press(p keyPress, v linechecking.CheckScreen, now time.Time) (give linecheck.CheckPress, ok bool) {
	if k.asking && v.Seq != k.seq {
		k.asking = false
		k.say("another pack is open by now", true, now)
		return give, false
	}
	name := strings.ToLower(p.name)
	gap, same, lifted := now.Sub(k.lastAt), name == k.last, k.released
	k.last, k.lastAt, k.released = name, now, false
	if k.asking {
		return k.ask(p, v)
	}
	if p.repeat || same && gap < heldKeyGap && !lifted {
		k.quitAt = time.Time{}
		k.say(name+" ignored (held down)", true, now)
		return give, false
	}
	if name == "q" || name == "ctrl+c" {
		if !k.quitAt.IsZero() && same {
			return linecheck.CheckPress{Key: linechecking.KeyQuit}, true
		}
		k.quitAt = now
		return give, false
	}
	k.quitAt = time.Time{}
	switch {
	case name == "esc":
		k.sheet, k.code = nil, nil
		return give, false
	case name == "?":
		if k.code = nil; k.sheet != nil {
			k.sheet = nil
		} else {
			k.sheet = helpLines(k.link != nil)
		}
		return give, false
	case name == "p" && k.link != nil:
		k.sheet, k.code = k.link()
		return give, false
	}
	for _, c := range linechecking.Controls {
		if c.Letter != name {
			continue
		}
		if same && gap < sameKeyGap && !lifted {
			k.say(fmt.Sprintf("%s ignored (held down, or pressed twice)", c.Key), true, now)
			return give, false
		}
		k.sheet, k.code = nil, nil
		if c.Key == linecheck.KeyWrong {
			if v.Pack != nil {
				k.asking, k.seq, k.typed, k.chosen = true, v.Seq, "", 0
			}
			return give, false
		}
		return linecheck.CheckPress{Key: c.Key, Seq: v.Seq}, true
	}
	if p.text != "" || name == "enter" {
		k.say(fmt.Sprintf("%s does nothing; ? lists the keys", clean(p.name)), true, now)
	}
	return give, false
}

// ask takes a key while the screen asks who was heard.
func (k *keyState) ask(p keyPress, v linechecking.CheckScreen) (give linecheck.CheckPress, ok bool) {
	list := linechecking.Match(v.Players, k.typed)
	switch p.name {
	case "esc", "ctrl+c":
		k.asking = false
	case "enter":
		if len(list) == 0 {
			return give, false
		}
		k.asking = false
		return linecheck.CheckPress{Key: linecheck.KeyWrong, Who: list[k.chosen], Seq: k.seq}, true
	case "down", "tab":
		k.chosen = min(k.chosen+1, max(len(list)-1, 0))
	case "up":
		k.chosen = max(k.chosen-1, 0)
	case "backspace":
		_, n := utf8.DecodeLastRuneInString(k.typed)
		k.typed, k.chosen = k.typed[:len(k.typed)-n], 0
	default:
		for _, r := range p.text {
			if unicode.IsPrint(r) && utf8.RuneCountInString(k.typed) < maxTyped {
				k.typed, k.chosen = k.typed+string(r), 0
			}
		}
	}
	return give, false
}

// helpLines is what ? shows.
func helpLines(page bool) (lines []string) {
	for _, c := range linechecking.Controls {
		lines = append(lines, fmt.Sprintf("%s   %s", c.Letter, c.Does))
	}
	if page {
		lines = append(lines, "p   the link for a phone")
	}
	return append(lines, "Press q twice to quit. A key that is held down counts once.",
		"TAKE THE MASTER DOWN if anything howls; c closes the mic.")
}
