package help

import (
	"fmt"
	"slices"
	"strings"

	"backfield/cmd/backfield/paper"
	"backfield/cue/rules"
	"backfield/cue/score"
	"backfield/layout/stands"
)

// lists are what the pages take from the program's own lists, by the words that stand for it in a page.
var lists = map[string]func() string{
	"{{printed sheets}}\n":       paper.Reference,
	"{{policy names}}":           policyNames,
	"{{thresholds}}\n":           thresholds,
	"{{bounds of thresholds}}\n": bounds,
	"{{rules: Safety}}\n":        func() string { return rulesAbout(rules.Safety) },
	"{{rules: The mixer}}\n":     func() string { return rulesAbout(rules.TheMixer) },
	"{{rules: The operator}}\n":  func() string { return rulesAbout(rules.TheOperator) },
	"{{rules: The score}}\n":     func() string { return rulesAbout(rules.TheScore) },
	"{{rules: The sound}}\n":     func() string { return rulesAbout(rules.TheSound) },
}

// filled is a page with the program's lists in it.
func filled(page string) string {
	for words, list := range lists {
		if strings.Contains(page, words) {
			page = strings.Replace(page, words, list(), 1)
		}
	}
	return withRules(page)
}

// entry is an entry of a list whose text has lines.
func entry(head, text string) string {
	return "- " + head + strings.ReplaceAll(text, "\n", "\n  ") + "\n"
}

func policyNames() string {
	var quoted []string
	for _, name := range stands.PolicyNames() {
		quoted = append(quoted, "`\""+name+"\"`")
	}
	last := len(quoted) - 1
	return strings.Join(quoted[:last], ", ") + " or " + quoted[last]
}

// thresholds are the keys of [check] that the rules go by, with their defaults.
func thresholds() string {
	var b strings.Builder
	for _, x := range score.Thresholds {
		text := x.Holds
		if x.Of != nil {
			text = fmt.Sprintf(text, x.Of(score.DefaultRules()))
		}
		b.WriteString(entry("`check."+x.Key+"`  ", text))
	}
	return b.String()
}

// bounds are the same keys, with how far each may go.
func bounds() string {
	var b strings.Builder
	for _, x := range score.Thresholds {
		b.WriteString(entry("`check."+x.Key+"`  ", x.Bounds))
	}
	return b.String()
}

// rulesAbout are the rules of a section, as the page of rules has them.
func rulesAbout(s rules.Section) string {
	var b strings.Builder
	for _, r := range rules.List {
		if r.Section == s {
			b.WriteString(entry("`"+r.Code+"`: ", r.Help))
		}
	}
	return b.String()
}

// endOfProblems stands at the end of the list of problems, which the rules go into by the alphabet.
const endOfProblems = "{{and the rules}}\n"

// withRules puts the rules into the list of problems, where the page has one.
func withRules(page string) string {
	before, after, found := strings.Cut(page, endOfProblems)
	if !found {
		return page
	}
	from := strings.Index(before, "\n- `") + 1
	var entries []string
	for line := range strings.Lines(before[from:]) {
		if strings.HasPrefix(line, "- ") {
			entries = append(entries, line)
		} else {
			entries[len(entries)-1] += line
		}
	}
	for _, r := range rules.List {
		entries = append(entries, entry("`"+r.Code+"` (warning): ", r.Fix))
	}
	slices.SortFunc(entries, func(a, b string) int { // a code goes before longer ones
		return strings.Compare(strings.ReplaceAll(a, "`", ""), strings.ReplaceAll(b, "`", ""))
	})
	return before[:from] + strings.Join(entries, "") + after
}
