package publish

import (
	"os"
	"path/filepath"
	"testing"
)

func folderHolds(t *testing.T, dir string, want map[string]string) {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	if len(entries) != len(want) {
		t.Errorf("%d files in the folder, want %d: %v", len(entries), len(want), entries)
	}
	for name, text := range want {
		if got, _ := os.ReadFile(filepath.Join(dir, name)); string(got) != text {
			t.Errorf("%s holds %q, want %q", name, got, text)
		}
	}
}

func TestPublish(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "new", "folder")
	if err := Files(dir, []OutputFile{{"a", []byte("1")}, {"b", []byte("2")}}); err != nil {
		t.Fatal(err)
	}
	folderHolds(t, dir, map[string]string{"a": "1", "b": "2"})
	if err := Files(dir, []OutputFile{{"a", []byte("3")}, {"b", []byte("4")}}); err != nil {
		t.Fatal(err)
	}
	folderHolds(t, dir, map[string]string{"a": "3", "b": "4"})
}

// A file that cannot be written leaves all others as they were.
func TestPublishAllOrNothing(t *testing.T) {
	dir := t.TempDir()
	if err := Files(dir, []OutputFile{{"a", []byte("1")}, {"b", []byte("2")}}); err != nil {
		t.Fatal(err)
	}
	if err := Files(dir, []OutputFile{{"a", []byte("3")}, {"b", []byte("4")},
		{filepath.Join("nowhere", "c"), nil}}); err == nil {
		t.Fatal("a name in no folder was written")
	}
	folderHolds(t, dir, map[string]string{"a": "1", "b": "2"})
}

// What a rename that fails midway has to put back: a file that was there, and one that was not.
func TestRestore(t *testing.T) {
	dir := t.TempDir()
	if err := Files(dir, []OutputFile{{"a", []byte("1")}, {"b", []byte("2")}}); err != nil {
		t.Fatal(err)
	}
	restore(dir, "a", []byte("0"), true)
	restore(dir, "b", nil, false)
	folderHolds(t, dir, map[string]string{"a": "0"})
}
