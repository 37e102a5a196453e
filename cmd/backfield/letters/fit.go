package letters

import "unicode/utf8"

// Wrap breaks a text between words so that no line is wider than width, unless one word is.
func Wrap(text string, size, width float64, bold bool) []string {
	var lines []string
	line, word := "", ""
	flush := func() {
		switch {
		case line == "":
			line = word
		case Wide(line+" "+word, size, bold) <= width:
			line += " " + word
		default:
			lines = append(lines, line)
			line = word
		}
		word = ""
	}
	for _, r := range text {
		if r == ' ' {
			flush()
		} else {
			word += string(r)
		}
	}
	flush()
	return append(lines, line)
}

// ShortenMiddle cuts a name that is wider than width in its middle, since most names differ at the end.
func ShortenMiddle(name string, size, width float64, bold bool) string {
	letters := []rune(name)
	for n := len(letters) - 1; n > 1 && Wide(name, size, bold) > width; n-- {
		name = string(letters[:(n+1)/2]) + "…" + string(letters[len(letters)-n/2:])
	}
	return name
}

// ShortenEnd cuts a text that is wider than width, and ends it with a sign that it was cut.
func ShortenEnd(text string, size, width float64, bold bool) string {
	if Wide(text, size, bold) <= width {
		return text
	}
	for text != "" && Wide(text+"…", size, bold) > width {
		_, n := utf8.DecodeLastRuneInString(text)
		text = text[:len(text)-n]
	}
	return text + "…"
}
