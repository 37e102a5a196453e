package shellquote

import (
	"errors"
	"io"
	"strings"
	"testing"
)

// What cobra writes is replaced where it takes a name with a space for two words, and nothing else is.
func TestRequoted(t *testing.T) {
	const zsh, fish = `words=("${=words[1,CURRENT]}")`, "set -l args (commandline -opc)"
	script := func(w io.Writer) error {
		_, err := io.WriteString(w, "a\n"+zsh+"\n"+fish+"\nb\n")
		return err
	}
	for want, write := range map[string]func(io.Writer, func(io.Writer) error) error{zsh: Fish, fish: Zsh} {
		var b strings.Builder
		if err := write(&b, script); err != nil {
			t.Fatal(err)
		}
		other := fish
		if want == fish {
			other = zsh
		}
		got := b.String()
		if !strings.HasPrefix(got, "a\n") || !strings.HasSuffix(got, "\nb\n") ||
			!strings.Contains(got, want+"\n") || strings.Contains(got, other+"\n") {
			t.Errorf("it writes\n%s", got)
		}
	}
	broken := errors.New("broken")
	if err := Zsh(io.Discard, func(io.Writer) error { return broken }); err != broken {
		t.Errorf("it ends with %v", err)
	}
}
