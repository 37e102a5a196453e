package help

import (
	"strings"
	"testing"
)

// Every word with a section leads to one that its page has.
func TestSections(t *testing.T) {
	for word := range sections {
		topic, ok := ByWord(word)
		if !ok {
			t.Errorf("%s leads to no page", word)
			continue
		}
		text, ok := Section(topic, word)
		if !ok || strings.Count(text, "\n") < 2 {
			t.Errorf("%s: the page %s has no section %q: %q", word, topic, sections[word], text)
		}
	}
	if text, _ := Section("mixer", "keepalive"); !strings.Contains(text, "[[keepalive]]") ||
		strings.Contains(text, "## Scenes") {
		t.Errorf("keepalive:\n%s", text)
	}
	if _, ok := Section("mixer", "elephants"); ok {
		t.Error("a section about elephants")
	}
}

// A code has its entry and not the next one's; one with two lines has both.
func TestEntry(t *testing.T) {
	for code, want := range map[string]string{
		"no-mic": "`no-mic` (error): a cue names someone who wears no mic at that moment. Check pack and `from` in " +
			"the roster.\n",
		"handover-fast": "`handover-fast` (warning): there is too little time for a handover. Give one of the " +
			"two another pack.\n",
	} {
		if got, ok := Entry(code); !ok || got != want {
			t.Errorf("%s: %q, want %q", code, got, want)
		}
	}
	if got, ok := Entry("uneven-pickup"); !ok || strings.Count(got, "\n") != 2 || strings.Contains(got, "- ") {
		t.Errorf("%q", got)
	}
	if _, ok := Entry("elephants"); ok {
		t.Error("a code for elephants")
	}
}
