package main

import (
	"os"
	"path/filepath"
	"testing"
)

func holds(t *testing.T, dir string, want map[string]string) {
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
	if err := publish(dir, []output{{"a", []byte("1")}, {"b", []byte("2")}}); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, map[string]string{"a": "1", "b": "2"})
	if err := publish(dir, []output{{"a", []byte("3")}, {"b", []byte("4")}}); err != nil {
		t.Fatal(err)
	}
	holds(t, dir, map[string]string{"a": "3", "b": "4"})
}

// A file that cannot take its place leaves all as they were, those included that had theirs already.
func TestPublishPutsBack(t *testing.T) {
	dir := t.TempDir()
	if err := publish(dir, []output{{"a", []byte("1")}, {"b", []byte("2")}}); err != nil {
		t.Fatal(err)
	}
	// The third name makes its rename fail after the first two have succeeded: its folder is not there.
	err := publish(dir, []output{{"a", []byte("3")}, {"b", []byte("4")}, {"c", nil}, {"new", nil}, {filepath.Join("new", "d"), nil}})
	if err == nil {
		t.Fatal("a name in no folder was written")
	}
	holds(t, dir, map[string]string{"a": "1", "b": "2"})
	for _, u := range []func(){
		func() { restore(dir, "a", []byte("0"), true) },
		func() { restore(dir, "b", nil, false) },
	} {
		u()
	}
	holds(t, dir, map[string]string{"a": "0"})
}
