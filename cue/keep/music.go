package keep

import (
	"errors"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// PartLine is who plays a part of the music, as a line of [music.parts].
func PartLine(part string, names []string) string {
	quoted := make([]string, len(names))
	for i, name := range names {
		quoted[i] = table.Quote(name)
	}
	return table.Quote(part) + " = [" + strings.Join(quoted, ", ") + "]"
}

// Parts adds lines to [music.parts] of a score: under those that it has, or as a new table before the movements.
func Parts(score *source.File, lines []string) (h Hunk, err error) {
	h = Hunk{File: score, about: "[music.parts]"}
	var ignored source.Problems // whoever compiled the show has reported them
	root := table.ReadTOML(score, &ignored)
	eol := lineEnd(score)
	block := strings.Join(lines, eol)
	if music := root.Get("music"); music != nil {
		edits, ok := intoMusic(score, music, lines)
		if !ok {
			return h, errors.New("no line can be added to [music] as it is written; write [music.parts] by hand")
		}
		h.edits = edits
		return h, nil
	}
	list := root.Get("movement")
	if list == nil || len(list.Items) == 0 {
		return h, errors.New("the score has no movement")
	}
	if !isHeader(list.Items[0]) {
		return h, errors.New("no table can go before the movements as they are written; write [music.parts] by hand")
	}
	at := aboveComments(score.Text, list.Items[0].Span.Start)
	h.edits = append(h.edits, edit{at, at, "[music.parts]" + eol + block + eol + eol})
	return h, nil
}

// intoMusic adds lines to the parts of a table [music]. ok is false if it is written in a way that cannot be added to.
func intoMusic(score *source.File, music *table.Node, lines []string) (edits []edit, ok bool) {
	eol := lineEnd(score)
	parts := music.Get("parts")
	switch {
	case parts != nil && isHeader(parts):
		at := endOfLine(score.Text, parts.Span.End)
		for _, f := range parts.Fields {
			at = max(at, endOfLine(score.Text, f.Node.Span.End))
		}
		return []edit{{at, at, eol + strings.Join(lines, eol)}}, true
	case parts == nil && isHeader(music):
		block := eol
		for _, line := range lines {
			block += "parts." + line + eol
		}
		at := endOfLine(score.Text, music.Span.End)
		return []edit{{at, at, strings.TrimSuffix(block, eol)}}, true
	case parts == nil && isPair(music) && len(music.Fields) == 0:
		return []edit{{music.Span.Start, music.Span.End, "{ parts = { " + strings.Join(lines, ", ") + " } }"}}, true
	case parts != nil && isPair(parts) && len(parts.Fields) == 0:
		return []edit{{parts.Span.Start, parts.Span.End, "{ " + strings.Join(lines, ", ") + " }"}}, true
	}
	return nil, false
}

// aboveComments is the beginning of a line, or of the comments right above it.
func aboveComments(text string, at int) int {
	at = strings.LastIndexByte(text[:at], '\n') + 1
	for at > 0 {
		above := strings.LastIndexByte(text[:at-1], '\n') + 1
		if !strings.HasPrefix(strings.TrimSpace(text[above:at]), "#") {
			break
		}
		at = above
	}
	return at
}

// Cues adds cues, as TOML, at the end of a score.
func Cues(score *source.File, text string) Hunk {
	at := len(strings.TrimRight(score.Text, " \t\r\n"))
	eol := lineEnd(score)
	text = strings.ReplaceAll(strings.TrimSpace(text), "\n", eol)
	return Hunk{File: score, about: "the cues", edits: []edit{{at, len(score.Text), eol + eol + text + eol}}}
}
