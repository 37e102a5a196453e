package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp/kb"

	"backfield/cmd/backfield/browser"
)

// TestAgainstIsNoOption gives options of git as a revision.
func TestAgainstIsNoOption(t *testing.T) {
	t.Parallel()
	outside(t, "git")
	made := filepath.Join(t.TempDir(), "made")
	for _, verb := range []string{"diff", "page"} {
		cmd := exec.Command("backfield", verb, "../../examples/tiny", "--against", "--output="+made)
		said, err := cmd.CombinedOutput()
		if err == nil || !strings.Contains(string(said), "is not a revision") {
			t.Errorf("%s: %v\n%s", verb, err, said)
		}
	}
	if _, err := os.Stat(made); err == nil {
		t.Error("git has written a file")
	}
}

// TestNamesAreText puts markup into every name of a show, and looks at the page for what it would do.
func TestNamesAreText(t *testing.T) {
	t.Parallel()
	const evil = `<img src=x onerror=document.title=1><script>document.title=2</script>`
	b := browser.Open(t, 1000, 700)
	dir, address := paged(t, "../../examples/tiny")
	replace(t, filepath.Join(dir, "show.toml"), `"Two Lanterns"`, `'`+evil+`'`)
	replace(t, filepath.Join(dir, "show.toml"), `"trumpet alone"`, `'`+evil+`'`)
	replace(t, filepath.Join(dir, "show.toml"), `"Dusk"`, `'`+evil+`'`)
	for _, file := range []string{"roster.csv", "dots.csv"} {
		replace(t, filepath.Join(dir, file), "Tpt 1", evil)
	}
	replace(t, filepath.Join(dir, "show.toml"), `"Tpt 1"`, `'`+evil+`'`)
	b.Go(address)
	b.Await("document.querySelector('#title').textContent.includes('onerror')", 10*time.Second)
	b.Key("]")
	b.Key(kb.ArrowDown) // chooses a player
	for _, tab := range []string{"1", "2", "3", "4"} {
		b.Key(tab)
	}
	if n := browser.Eval[int](b, "document.querySelectorAll('img, script:not([src])').length"); n != 0 {
		t.Errorf("%d pieces of markup from names", n)
	}
	if title := browser.Eval[string](b, "document.title"); !strings.Contains(title, "onerror") {
		t.Errorf("the title is %q", title)
	}
	papers := filepath.Join(t.TempDir(), "papers")
	if said, err := exec.Command("backfield", "sheet", dir, "--no-pdf", "-o", papers).CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, said)
	}
	files, _ := filepath.Glob(filepath.Join(papers, "*.html"))
	if len(files) < 4 {
		t.Fatalf("%d papers", len(files))
	}
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(text), "<img src=x") || strings.Contains(string(text), "<script") {
			t.Errorf("%s holds markup of a name", filepath.Base(file))
		}
	}
}
