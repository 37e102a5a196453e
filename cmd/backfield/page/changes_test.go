package page_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"backfield/cmd/backfield/page"
	"backfield/cmd/backfield/show"
	"backfield/layout/source"
)

// TestChangesByEdit saves a show twice. The page has the line of backfield diff for the edit. Before there is a show, it says
// so, and not that the show has errors.
func TestChangesByEdit(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	if err := os.CopyFS(dir, os.DirFS("../../../examples/tiny")); err != nil {
		t.Fatal(err)
	}
	site := page.NewSite(nil, nil, "")
	ask := func(path string) (int, string) {
		w := httptest.NewRecorder()
		site.Handler(page.Loopback).ServeHTTP(w, httptest.NewRequest("GET", "http://127.0.0.1/"+path, nil))
		return w.Code, w.Body.String()
	}
	for _, path := range []string{"view", "seat?place=box&count=0", "changes"} {
		if code, text := ask(path); code != http.StatusServiceUnavailable || !strings.Contains(text, "still being read") {
			t.Errorf("%s before there is a show: %d %q", path, code, text)
		}
	}
	file := filepath.Join(dir, "show.toml")
	save := func(old, new string) {
		t.Helper()
		text, err := os.ReadFile(file)
		if err != nil || !strings.Contains(string(text), old) {
			t.Fatal(err, "no such text: ", old)
		}
		if err := os.WriteFile(file, []byte(strings.Replace(string(text), old, new, 1)), 0o644); err != nil {
			t.Fatal(err)
		}
		var p source.Problems
		s, err := show.Load(show.Disk{}, file, show.LoadOptions{}, &p)
		if err != nil {
			t.Fatal(err)
		}
		if err := site.Update(s, p.All()); err != nil {
			t.Fatal(err)
		}
	}
	save("feature = 0", "feature = 0")
	if _, text := ask("changes"); strings.TrimSpace(text) != "[]" {
		t.Errorf("the first version has changes: %s", text)
	}
	save("feature = 0", "feature = -2.5")
	var lines []string
	code, text := ask("changes")
	if err := json.Unmarshal([]byte(text), &lines); err != nil || code != http.StatusOK {
		t.Fatal(code, text, err)
	}
	if all := strings.Join(lines, "\n"); all != "role feature: level 0 -> -2.5 dB; -2.5 dB for Tpt 1 and Bari 1 in cues 1 and 2" {
		t.Errorf("the edit of a role: %s", all)
	}
}
