package term

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"
)

// A question is asked until the answer can be taken; an empty answer keeps the default.
func TestAsker(t *testing.T) {
	any := func(string) error { return nil }
	digit := func(v string) error {
		if !slices.Contains([]string{"2", "4", "6"}, v) {
			return fmt.Errorf("%q is no number", v)
		}
		return nil
	}
	var out strings.Builder
	a := NewAsker(strings.NewReader("\nfour\n 4 \n"), &out, false)
	name, stacks := "New Show", "2"
	if err := a.Put("Name", &name, any); err != nil || name != "New Show" {
		t.Errorf("%q, %v", name, err)
	}
	if err := a.Put("Stacks", &stacks, digit); err != nil || stacks != "4" {
		t.Errorf("%q, %v", stacks, err)
	}
	if want := "Name [New Show]: Stacks [2]: \"four\" is no number\nStacks [2]: "; out.String() != want {
		t.Errorf("%q", out.String())
	}
	if err := a.Put("Name", &name, any); !errors.Is(err, ErrNoAnswer) {
		t.Errorf("the end of the input is no answer: %v", err)
	}
	out.Reset()
	if err := NewAsker(strings.NewReader("x\n"), &out, true).Put("Name", &name, any); err != nil ||
		name != "New Show" || out.Len() > 0 {
		t.Errorf("a quiet one: %q, %v, %q", name, err, out.String())
	}
}

// An answer is yes or no; anything else is asked again, and the end of the input is no.
func TestYes(t *testing.T) {
	for input, want := range map[string]bool{
		"yes\n": true, "Y\n": true, "perhaps\ny\n": true, "no\n": false, "": false, "\n\n": false, "perhaps\n": false,
	} {
		var out strings.Builder
		if got := AskYes(strings.NewReader(input), &out, "Right?"); got != want ||
			!strings.HasPrefix(out.String(), "Right? [yes/no] ") {
			t.Errorf("%q: %v, %q", input, got, out.String())
		}
	}
}
