// Package separator finds what separates the cells of a sheet that is a text file.
package separator

import (
	"strings"
	"unicode/utf8"
)

// Line begins the line that some spreadsheets put first, to say what separates the cells.
const Line = "sep="

// Of finds what separates the cells: what the first line says; what appears equally often, outside of quotes, in
// each of the first lines that has any; or what the first line has.
func Of(text string) rune {
	first := strings.TrimLeft(text, "\r\n")
	if i := strings.IndexByte(first, '\n'); i >= 0 {
		first = first[:i]
	}
	if strings.HasPrefix(first, Line) {
		if r, n := utf8.DecodeRuneInString(first[len(Line):]); n > 0 && strings.ContainsRune(",;\t|", r) {
			return r
		}
	}
	if r, only := steady(text); only {
		return r
	}
	switch {
	case strings.Contains(first, ","):
		return ','
	case strings.Contains(first, ";"):
		return ';'
	case strings.Contains(first, "\t"):
		return '\t'
	}
	return ','
}

// steady returns the one separator of which each of the first rows has the same number, outside of quotes; rows
// without any, such as a title, are passed over.
func steady(text string) (r rune, only bool) {
	const candidates, rows = ",;\t", 20
	var counts [len(candidates)]int
	var all [][len(candidates)]int
	quoted := false
	for i := 0; i < len(text) && len(all) < rows; i++ {
		switch c := text[i]; {
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '\n':
			if counts != [len(candidates)]int{} {
				all = append(all, counts)
			}
			counts = [len(candidates)]int{}
		default:
			if k := strings.IndexByte(candidates, c); k >= 0 {
				counts[k]++
			}
		}
	}
	found := 0
	for k, c := range candidates {
		same := len(all) > 1 && all[0][k] > 0
		for _, counts := range all {
			same = same && counts[k] == all[0][k]
		}
		if same {
			r, found = c, found+1
		}
	}
	return r, found == 1
}
