package words

import (
	"regexp"
	"strings"
)

// grade is the reading grade of a help page by the formula of Kincaid, Fishburne, Rogers and Chissom, "Derivation of
// new readability formulas for Navy enlisted personnel", Naval Technical Training Command, report 8-75 (1975):
// 0.39 words per sentence + 11.8 syllables per word - 15.59. Headings, tables and code do not count.
func grade(page string) (grade float64, words int) {
	sentences, syllables := 0, 0
	for _, block := range blocks(page) {
		for _, s := range sentenceEnd.Split(block, -1) {
			list := word.FindAllString(s, -1)
			if len(list) == 0 {
				continue
			}
			sentences++
			words += len(list)
			for _, w := range list {
				syllables += syllablesOf(w)
			}
		}
	}
	if words == 0 {
		return 0, 0
	}
	n := float64(words)
	return 0.39*n/float64(sentences) + 11.8*float64(syllables)/n - 15.59, words
}

var (
	sentenceEnd = regexp.MustCompile(`[.!?]+[)"*]*(?:\s+|$)`)
	word        = regexp.MustCompile(`[A-Za-z]+(?:['’][a-z]+)*`)
	listItem    = regexp.MustCompile(`^\s*(?:[-*]|\d+\.)\s+`)
)

// blocks are the paragraphs and list items of a page, each on one line, without headings, tables and code.
func blocks(page string) []string {
	var list []string
	open, fenced := false, false
	for line := range strings.Lines(page) {
		line = strings.TrimRight(line, "\n")
		item := listItem.FindString(line)
		switch {
		case strings.HasPrefix(line, "```"):
			fenced, open = !fenced, false
			continue
		case fenced:
			continue
		case line == "" || line[0] == '#' || line[0] == '|' || strings.HasPrefix(line, "    ") && !open:
			open = false
			continue
		}
		text := codeSpan.ReplaceAllString(line[len(item):], " ")
		if item != "" || !open {
			list = append(list, "")
			open = true
		}
		list[len(list)-1] += " " + text
	}
	return list
}

var (
	vowels = regexp.MustCompile(`[aeiouy]+`)
	// silent endings: the e of "made", "makes", "moved", not of "table", "boxes", "started".
	silent = regexp.MustCompile(`([^aeiouyl]|[aeiouy]l)e$|[^aeiouysxz]es$|[^aeiouytd]ed$`)
	soft   = regexp.MustCompile(`(?:[cg]|sh|ch)es$`)
	split  = regexp.MustCompile(`i[aou]|[^q]ua|eo|ie[nt]|[rd]ea$|[aou]y[ei]`) // vowels side by side that are two syllables
	joined = regexp.MustCompile(`[tsgc]io|[tc]ia|people|geo|friend|[tc]ien`)
)

// syllablesOf counts the groups of vowels in a word, with the commonest exceptions. Abbreviations in capitals are
// read letter by letter.
func syllablesOf(w string) int {
	if len(w) > 1 && len(w) <= 4 && w == strings.ToUpper(w) {
		return len(w)
	}
	w = strings.ToLower(w)
	n := len(vowels.FindAllString(w, -1))
	if silent.MatchString(w) && !soft.MatchString(w) {
		n--
	}
	n += max(0, len(split.FindAllString(w, -1))-len(joined.FindAllString(w, -1)))
	return max(1, n)
}
