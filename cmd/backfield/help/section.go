package help

import "strings"

// sections say where on the page of a word its section begins: the start of the heading. Words without one lead to the
// whole page.
var sections = map[string]string{
	"keepalive": "Echoes, queries and keepalives", "fader": "Scales", "faders": "Scales", "scale": "Scales",
	"cue": "`[[cue]]`", "cues": "`[[cue]]`", "after": "`[[cue]]`", "automatic": "`[[cue]]`", "fade": "`[[cue]]`",
	"fades": "`[[cue]]`", "keep": "`[[cue]]`",
	"movement": "`[[movement]]`", "role": "`[mix]`", "roles": "`[mix]`",
	"path": "`[delay]`, `[pan]`", "paths": "`[delay]`, `[pan]`", "knot": "`[delay]`, `[pan]`",
	"slew": "`[delay]`, `[pan]`", "box": "`[delay]`, `[pan]`",
	"stack": "`[[stack]]`", "stacks": "`[[stack]]`", "air": "Keys for the whole place", "venue": "Venues",
	"venues": "Venues",
	"delay":  "Delay", "delays": "Delay", "pan": "Pan", "pans": "Pan", "level": "Level", "levels": "Level",
	"swap": "Commands", "hush": "Commands", "unhush": "Commands", "jump": "Commands", "nudge": "Commands",
	"go": "Commands", "back": "Commands", "release": "Commands", "resume": "Resume after a crash",
	"handover": "Handover: a pack goes to another player", "handovers": "Handover: a pack goes to another player",
}

// Section is the part of a page that is about a word; ok is false where there is none, and the whole page is.
func Section(topic, word string) (text string, ok bool) {
	heading, ok := sections[word]
	if !ok {
		return "", false
	}
	page, err := Page(topic)
	if err != nil {
		return "", false
	}
	for _, x := range []struct{ begin, end string }{{"## ", "\n## "}, {"**", "\n\n**"}} { // a heading, or bold words
		if _, after, ok := strings.Cut(page, "\n"+x.begin+heading); ok {
			section, _, _ := strings.Cut(after, x.end)
			return x.begin + heading + strings.TrimRight(section, "\n") + "\n", true
		}
	}
	return "", false
}

// Entry is what the page of problems says about a code; ok is false for what is none.
func Entry(code string) (text string, ok bool) {
	page, err := Page("problems")
	if err != nil {
		return "", false
	}
	_, after, ok := strings.Cut(page, "\n- `"+code+"`")
	if !ok {
		return "", false
	}
	var b strings.Builder
	b.WriteString("`" + code + "`")
	for i, line := range strings.SplitAfter(after, "\n") {
		if i > 0 && !strings.HasPrefix(line, "  ") {
			break
		}
		b.WriteString(strings.TrimPrefix(line, "  "))
	}
	return b.String(), true
}
