package importer

import (
	"io"
	"os"
	"path/filepath"
	"testing"
)

// Nothing that is there is replaced without a second yes.
func TestAgreed(t *testing.T) {
	dir := t.TempDir()
	answers := func(list ...bool) (ask func(string) bool, asked *int) {
		asked = new(int)
		return func(string) bool { *asked++; return list[*asked-1] }, asked
	}
	ask, asked := answers(true)
	if !Agreed(ask, io.Discard, dir) || *asked != 1 {
		t.Errorf("asked %d times with nothing to replace", *asked)
	}
	if err := os.WriteFile(filepath.Join(dir, "dots.csv"), []byte("x"), 0o644); err != nil {
		t.Fatal(err)
	}
	ask, asked = answers(true, false)
	if Agreed(ask, io.Discard, dir) || *asked != 2 {
		t.Errorf("asked %d times, and agreed without a yes", *asked)
	}
	ask, _ = answers(true, true)
	if !Agreed(ask, io.Discard, dir) {
		t.Error("two times yes is not enough")
	}
	if ask, _ = answers(false); Agreed(ask, io.Discard, dir) {
		t.Error("a no is a yes")
	}
}
