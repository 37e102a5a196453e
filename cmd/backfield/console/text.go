package console

import (
	"slices"
	"strings"

	"github.com/charmbracelet/x/ansi"

	"backfield/layout/visible"
)

// textStyle is how a piece of text stands out.
type textStyle int

const (
	plain textStyle = iota
	bold
	reverse
	loud = bold | reverse

	paper textStyle = 4 // black on white, whatever the terminal's colors are, so that a camera can read a QR code
)

// styledText is text in one style; textLine is a row of the screen.
type (
	styledText struct {
		text string
		textStyle
	}
	textLine []styledText
)

func text(s string) textLine                  { return textLine{{s, plain}} }
func styled(s string, how textStyle) textLine { return textLine{{s, how}} }

func (l textLine) width() (n int) {
	for _, s := range l {
		n += ansi.StringWidth(s.text)
	}
	return n
}

// cut cuts a line to a width; a cut line ends in an ellipsis.
func (l textLine) cut(width int) textLine {
	if l.width() <= width {
		return l
	}
	var out textLine
	for _, s := range l {
		n := ansi.StringWidth(s.text)
		if n < width {
			out, width = append(out, s), width-n
			continue
		}
		if width > 0 {
			cut := ansi.Truncate(s.text+"  ", width, "…") // longer than the row in any case
			out = append(out, styledText{cut, s.textStyle})
		}
		break
	}
	return out
}

// fill fills a line with blanks up to a width.
func (l textLine) fill(width int, how textStyle) textLine {
	if n := width - l.width(); n > 0 {
		l = append(slices.Clone(l), styledText{strings.Repeat(" ", n), how})
	}
	return l
}

// sides puts two texts at the two ends of a line. The right one is cut first.
func sides(left, right textLine, width int) textLine {
	gap := width - left.width() - right.width()
	if gap < 2 {
		right = right.cut(max(width-left.width()-2, 0))
		if gap = width - left.width() - right.width(); gap < 2 || right.width() < 4 {
			return left.cut(width)
		}
	}
	return append(append(slices.Clone(left), styledText{strings.Repeat(" ", gap), plain}), right...)
}

// encode writes a line with the control sequences that it needs (ECMA-48 SGR: 1 bold, 7 reverse, 30 black, none to end;
// and 107 for a white background, which is common practice).
func (l textLine) encode() string {
	var b strings.Builder
	for _, s := range l {
		switch s.textStyle {
		case plain:
			b.WriteString(s.text)
			continue
		case bold:
			b.WriteString("\x1b[1m")
		case reverse:
			b.WriteString("\x1b[7m")
		case loud:
			b.WriteString("\x1b[1;7m")
		case paper:
			b.WriteString("\x1b[30;107m")
		}
		b.WriteString(s.text + "\x1b[m")
	}
	return b.String()
}

// clean makes visible what could control a terminal, since names and reasons come from files and from the network.
func clean(s string) string { return visible.Text(s) }

// wrap breaks text at its spaces into at most this many rows. Text that does not fit ends in an ellipsis.
func wrap(s string, width, most int) (rows []string) {
	if width <= 0 || most <= 0 {
		return nil
	}
	row := ""
	words := slices.DeleteFunc(strings.Split(s, " "), func(w string) bool { return w == "" })
	for i, word := range words {
		switch joined := strings.TrimPrefix(row+" "+word, " "); {
		case row == "" || ansi.StringWidth(joined) <= width:
			row = joined
		case len(rows) == most-1:
			rest := row + " " + strings.Join(words[i:], " ") + strings.Repeat(" ", width) // longer than the row
			return append(rows, ansi.Truncate(rest, width, "…"))
		default:
			rows, row = append(rows, ansi.Truncate(row, width, "…")), word
		}
	}
	if row != "" {
		rows = append(rows, ansi.Truncate(row, width, "…"))
	}
	return rows
}

// wrapHint is wrap for a text that ends in what to do: if not all of it fits, its middle is left out.
func wrapHint(s string, width, most int) []string {
	if width <= 0 || most <= 0 {
		return nil
	}
	all := wrap(s, width, len(s)+1)
	if len(all) <= most {
		return all
	}
	cut := max(strings.LastIndex(s, ": "), strings.LastIndex(s, "; "), strings.LastIndex(s, ". "))
	if hint := s[cut+1:]; cut > 0 && ansi.StringWidth(hint) <= width*2/3 {
		head := wrap(s[:cut], width, most)
		last := most - 1
		if len(head) <= last {
			return append(head, strings.TrimSpace(hint))
		}
		head[last] = strings.TrimSuffix(ansi.Truncate(head[last], width-ansi.StringWidth(hint)-1, ""), "…") + "…" + hint
		return head
	}
	return wrap(s, width, most)
}

// wrapList is wrap for lists: it breaks only after commas and semicolons, so that names and levels stay whole.
func wrapList(s string, width, most int) []string {
	const hard = "\u00a0"
	s = strings.NewReplacer(", ", ", ", "; ", "; ", " ", hard).Replace(s)
	rows := wrap(s, width, most)
	for i := range rows {
		rows[i] = strings.ReplaceAll(rows[i], hard, " ")
	}
	return rows
}
