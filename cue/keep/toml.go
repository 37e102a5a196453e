package keep

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/unit"
)

// scoreCues are the cues of a score by id, as far as it can be read.
func scoreCues(f *source.File) map[string]*table.Node {
	cues := map[string]*table.Node{}
	var ignored source.Problems // whoever compiled the show has reported them
	list := table.ReadTOML(f, &ignored).Get("cue")
	if list == nil {
		return cues
	}
	for _, c := range list.Items {
		if id := c.Get("id"); id != nil {
			cues[id.Text] = c
		}
	}
	return cues
}

// stepRole adds to the level of a role in [mix].
func stepRole(f *source.File, r RoleStep) (h Hunk, err error) {
	var ignored source.Problems
	h = Hunk{File: f, about: "role " + r.Role}
	var level *table.Node
	if mix := table.ReadTOML(f, &ignored).Get("mix"); mix != nil {
		level = mix.Get(r.Role)
	}
	if level != nil && level.Kind == table.Table {
		level = level.Get("level")
	}
	if level == nil {
		return h, fmt.Errorf("the score has no [mix] with role %s: write its level there, %+g dB", r.Role, r.DB)
	}
	return h, h.add(level, r.DB, "the level of role "+r.Role)
}

// nudgeCue adds nudges to one cue: to those that it has already where there are any.
func nudgeCue(c *table.Node, id string, nudges []KeptNudge) (h Hunk, err error) {
	if c == nil {
		return h, fmt.Errorf("cue %s is not in the score: %s", id, Line(nudges))
	}
	h.File, h.about = c.Span.File, "cue "+id
	has := c.Get("nudge")
	if has == nil {
		return insertPair(h, c, "id", Line(nudges))
	}
	var missing []KeptNudge
	for _, n := range nudges {
		old := has.Get(n.Name)
		if old == nil {
			missing = append(missing, n)
			continue
		}
		if err := h.add(old, n.DB, fmt.Sprintf("the nudge of %s in cue %s", n.Name, id)); err != nil {
			return h, err
		}
	}
	if len(missing) > 0 {
		err = h.extend(has, missing, id)
	}
	return h, err
}

// Line is nudges as a line of a cue.
func Line(nudges []KeptNudge) string {
	var parts []string
	for _, n := range nudges {
		parts = append(parts, pair(n))
	}
	return "nudge = { " + strings.Join(parts, ", ") + " }"
}

func pair(n KeptNudge) string {
	text, _ := sum(0, n.DB, "")
	return table.Quote(n.Name) + " = " + text
}

// extend adds names to nudges that a cue has: inside the braces, under their header, or after the last line where each
// name has its own.
func (h *Hunk) extend(has *table.Node, missing []KeptNudge, id string) error {
	line := func(prefix string) (text string) {
		for _, n := range missing {
			text += lineEnd(h.File) + prefix + pair(n)
		}
		return text
	}
	switch n := len(has.Fields); {
	case isHeader(has):
		at := endOfLine(h.File.Text, has.Span.End)
		h.edits = append(h.edits, edit{at, at, line("")})
	case isPair(has) && n == 0:
		h.edits = append(h.edits, edit{has.Span.Start, has.Span.End, strings.TrimPrefix(Line(missing), "nudge = ")})
	case isPair(has):
		at, inside := has.Fields[n-1].Node.Span.End, strings.TrimPrefix(Line(missing), "nudge = {")
		h.edits = append(h.edits, edit{at, at, "," + strings.TrimSuffix(inside, " }")})
	case n > 0:
		at := endOfLine(h.File.Text, has.Fields[n-1].Node.Span.End)
		h.edits = append(h.edits, edit{at, at, line("nudge.")})
	default:
		return fmt.Errorf("cue %s writes its nudges in a way that cannot be added to: %s", id, Line(missing))
	}
	return nil
}

// trimOfMic adds to the trim of a fixed mic; found is false if the file has no such mic.
func trimOfMic(f *source.File, t Trim) (h Hunk, found bool, err error) {
	var ignored source.Problems
	list := table.ReadTOML(f, &ignored).Get("mic")
	if list == nil {
		return h, false, nil
	}
	h.File, h.about = f, t.Name
	for _, mic := range list.Items {
		if name := mic.Get("name"); name == nil || name.Text != t.Name {
			continue
		}
		what := "the trim of " + t.Name
		if old := mic.Get("trim"); old != nil {
			return h, true, h.add(old, t.DB, what)
		}
		text, err := sum(0, t.DB, what)
		if err != nil {
			return h, true, err
		}
		h, err = insertPair(h, mic, "name", "trim = "+text)
		return h, true, err
	}
	return h, false, nil
}

// add replaces a level that a file has by the sum.
func (h *Hunk) add(old *table.Node, dB float64, what string) error {
	v, err := old.Float, error(nil)
	if old.Kind == table.String {
		v, err = unit.Level.Read(old.Text)
	}
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	text, err := sum(v, dB, what)
	if err != nil {
		return err
	}
	h.edits = append(h.edits, edit{old.Span.Start, old.Span.End, text})
	return nil
}

// insertPair adds a line "name = value" to a table, under the last line of that form, with its indent and its column of
// equals signs. The table must have the key after.
func insertPair(h Hunk, t *table.Node, after, line string) (Hunk, error) {
	n := t.Get(after)
	for _, f := range t.Fields {
		if isPair(f.Node) && n != nil && f.Node.Span.Start > n.Span.Start {
			n = f.Node
		}
	}
	if n == nil || !isPair(n) || !isHeader(t) {
		return h, fmt.Errorf("%s is written in a way that no line can be added to: %s", h.about, line)
	}
	text := h.File.Text
	end := endOfLine(text, n.Span.End)
	start := strings.LastIndexByte(text[:n.Key.Start], '\n') + 1
	name, value, _ := strings.Cut(line, " = ")
	width := 0
	if eq := strings.IndexByte(text[n.Key.End:n.Span.Start], '='); eq > 1 {
		width = n.Key.End + eq - 1 - n.Key.Start
	}
	line = fmt.Sprintf("%-*s = %s", width, name, value)
	h.edits = append(h.edits, edit{end, end, lineEnd(h.File) + text[start:n.Key.Start] + line})
	return h, nil
}

// isHeader reports whether a table is written as [name] or [[name]].
func isHeader(n *table.Node) bool { return n.Kind == table.Table && n.Span.Start < n.Key.Start }

// isPair reports whether a value is written as name = value.
func isPair(n *table.Node) bool { return n.Key.End <= n.Span.Start && n.Key.File != nil }

// lineEnd is how the lines of a file end.
func lineEnd(f *source.File) string {
	if strings.Contains(f.Text, "\r\n") {
		return "\r\n"
	}
	return "\n"
}

// endOfLine is where the line with the byte at ends, before its line end.
func endOfLine(text string, at int) int {
	end := len(text)
	if nl := strings.IndexByte(text[at:], '\n'); nl >= 0 {
		end = at + nl
	}
	if end > at && text[end-1] == '\r' {
		end--
	}
	return end
}
