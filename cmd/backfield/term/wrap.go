package term

import (
	"io"
	"os"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/charmbracelet/x/term"

	"backfield/layout/visible"
)

// leastColumns is the narrowest terminal that lines are broken for. On one that is narrower nothing helps.
const leastColumns = 20

// Columns is how wide a terminal is, in characters; 0 for anything else, whose lines stay whole.
func Columns(w io.Writer) int {
	f, ok := visible.Raw(w).(*os.File)
	if !ok || !term.IsTerminal(f.Fd()) {
		return 0
	}
	columns, _, err := term.GetSize(f.Fd())
	if err != nil || columns < leastColumns {
		return 0
	}
	return columns
}

// whole are lines that stay whole. A line of a file with its number, and the caret under it, are cut to fit already
// (source.Printer). Lines for show.toml are to be copied, and a break would spoil them.
var whole = regexp.MustCompile(`^ *\d* \| |^\s*(#|\[\[?[\w.]+\]|("[^"]+"|[\w.-]+) *= )`)

// Wrapping is what breaks lines for a terminal, as wide as it is at that time; nil for anything else.
func Wrapping(w io.Writer) func(line string) string {
	if !IsTerminal(w) {
		return nil
	}
	return func(line string) string {
		if whole.MatchString(line) {
			return line
		}
		return strings.Join(Wrap(line, Columns(w)), "\n")
	}
}

// Wrap breaks a line between words so that it fits, and indents what follows: to the column of the words after a label,
// or by four. A word that is longer than a line stays whole, so that a path can be copied. 0 columns leave the line as it
// is.
func Wrap(line string, columns int) []string {
	if columns <= 0 || utf8.RuneCountInString(line) <= columns {
		return []string{line}
	}
	runes := []rune(line)
	hang := hangOf(runes, columns)
	pad := []rune(strings.Repeat(" ", hang))
	var lines []string
	for from := 0; len(runes) > columns; from = hang {
		cut := breakAt(runes, max(from, indentOf(runes)), columns)
		if cut < 0 {
			break
		}
		lines = append(lines, strings.TrimRight(string(runes[:cut]), " "))
		for cut < len(runes) && runes[cut] == ' ' {
			cut++
		}
		runes = append(append([]rune{}, pad...), runes[cut:]...)
	}
	if rest := strings.TrimRight(string(runes), " "); rest != "" {
		lines = append(lines, rest)
	}
	return lines
}

// breakAt is the space to break a line at: the last that fits, else the first after that; -1 for none.
func breakAt(runes []rune, from, columns int) int {
	for _, apart := range []bool{false, true} { // a number and its unit only if there is no other place
		for i := min(columns, len(runes)-1); i > from; i-- {
			if runes[i] == ' ' && (apart || !unitAfter(runes, i)) {
				return i
			}
		}
	}
	for i := columns + 1; i < len(runes); i++ {
		if runes[i] == ' ' {
			return i
		}
	}
	return -1
}

// unitAfter reports whether a space is between a number and its unit: "6.1 ms", "36 %".
func unitAfter(runes []rune, space int) bool {
	if space == 0 || !unicode.IsDigit(runes[space-1]) {
		return false
	}
	end := space + 1
	for end < len(runes) && !strings.ContainsRune(" ,;)", runes[end]) {
		end++
	}
	return slices.Contains([]string{"%", "ms", "s", "dB", "m", "C", "F", "bpm", "m/s"}, string(runes[space+1:end]))
}

func indentOf(runes []rune) int {
	n := 0
	for n < len(runes) && runes[n] == ' ' {
		n++
	}
	return n
}

// hangOf is how far the lines after the first are indented: to what comes after a label and two spaces, if that is in the
// left half.
func hangOf(runes []rune, columns int) int {
	indent := indentOf(runes)
	for i := indent; i+2 < len(runes) && i < columns/2; i++ {
		if runes[i] != ' ' || runes[i+1] != ' ' {
			continue
		}
		for i < len(runes) && runes[i] == ' ' {
			i++
		}
		if i <= columns/2 {
			return i
		}
		break
	}
	if hang := indent + 4; hang <= columns/2 {
		return hang
	}
	return min(indent, columns/2)
}
