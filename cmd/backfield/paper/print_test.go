package paper

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"backfield/cmd/backfield/chromium"
)

// outside returns the path of another program, or skips the test. If BACKFIELD_REQUIRE_TOOLS is set, the test fails
// instead.
func outside(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil && os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
		t.Fatalf("%s is not installed, and BACKFIELD_REQUIRE_TOOLS is set", program)
	}
	if err != nil {
		t.Skipf("%s is not installed (Debian: chromium, poppler-utils)", program)
	}
	return path
}

// printer is a browser that prints, and the program that reads PDFs.
func printer(t *testing.T) (browser *chromium.Browser, pdftotext string) {
	t.Helper()
	if testing.Short() {
		t.Skip("prints with a browser")
	}
	outside(t, "chromium")
	pdftotext = outside(t, "pdftotext")
	browser, err := chromium.Find()
	if err != nil {
		t.Fatal(err)
	}
	return browser, pdftotext
}

// Chromium prints, poppler reads. Every cue is on the paper, each page has the table's heads and the mark in its
// footer, no row is split, and the paper has the requested size.
func TestPDF(t *testing.T) {
	browser, pdftotext := printer(t)
	p := gathered(t, sixty(), "show.toml", nil)
	all := pagesOf(t, p)
	for paper, box := range map[string]string{"letter": "612 792", "a4": "59[45][.0-9]* 84[12]"} {
		print := []PrintedPage{all["run"]}
		if paper == "letter" { // a browser takes seconds
			print = append(print, all["chart"], all["chart"])
		}
		pdfs, err := Print(context.Background(), browser, print, paper)
		if err != nil {
			t.Fatal(err)
		}
		if !regexp.MustCompile(`/MediaBox \[0 0 ` + box).Match(pdfs[0]) {
			t.Errorf("%s: the run sheet is of another size: %s", paper, regexp.MustCompile(`/MediaBox \[[^\]]*\]`).Find(pdfs[0]))
		}
		sheets := text(t, pdftotext, pdfs[0])
		if len(sheets) < 8 || len(sheets) > 20 {
			t.Errorf("%s: the run sheet has %d pages", paper, len(sheets))
		}
		found := 0
		for i, s := range sheets {
			if !strings.Contains(s, fmt.Sprintf("page %d of %d", i+1, len(sheets))) || !strings.Contains(s, "compile "+p.Mark) {
				t.Errorf("%s, page %d: no foot", paper, i+1)
			}
			for c, r := range p.Rows {
				has := regexp.MustCompile(`(?m)^\s*` + r.ID + `\s`).MatchString(s)
				if has {
					found++
				}
				if has && !strings.Contains(s, "What happens") {
					t.Errorf("%s, page %d: no heads", paper, i+1)
				}
				// The row's name and its last line, the fade, are on the same page.
				if name := fmt.Sprintf("number %d\n", c+1); strings.Contains(s, name) != has {
					t.Errorf("%s, page %d: cue %s is on another page than its name", paper, i+1, r.ID)
				}
			}
			if names, fades := strings.Count(s, "number "), strings.Count(s, "fade 2 counts"); names != fades {
				t.Errorf("%s, page %d: %d names and %d fades: a row is split", paper, i+1, names, fades)
			}
		}
		if found != len(p.Rows) {
			t.Errorf("%s: %d cues found, want %d", paper, found, len(p.Rows))
		}
		if paper != "letter" {
			continue
		}
		if charts := text(t, pdftotext, pdfs[1]); len(charts) != 4 {
			t.Errorf("the chart has %d pages, want the show and its three movements", len(charts))
		}
		if !bytes.Equal(pdfs[1], pdfs[2]) {
			t.Error("printing the same page twice gives different bytes")
		}
	}
}

// With long names of show and movements each chart is still one page. A heading of one more line would fill every other
// page with nothing but the heading.
func TestLongNamesPDF(t *testing.T) {
	browser, pdftotext := printer(t)
	files := sixty()
	long := strings.NewReplacer(
		`name = "Part A"`, `name = "`+strings.Repeat("Part A goes on ", 12)+`"`,
		`title = "`, `title = "`+strings.Repeat("The Keepers ", 15))
	files["show.toml"] = long.Replace(files["show.toml"])
	chart := pagesOf(t, gathered(t, files, "show.toml", nil))["chart"]
	if name := strings.Repeat("Part A goes on ", 12); strings.Count(string(chart.HTML), name) != 1 {
		t.Error("the movement's name is not cut on the chart of the whole show")
	}
	pdfs, err := Print(context.Background(), browser, []PrintedPage{chart}, "a4")
	if err != nil {
		t.Fatal(err)
	}
	if pages := text(t, pdftotext, pdfs[0]); len(pages) != 4 {
		t.Errorf("the chart has %d pages, want the show and its three movements", len(pages))
	}
}

// text is the text of a PDF, page by page, in its layout.
func text(t *testing.T, pdftotext string, pdf []byte) []string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(pdftotext, "-layout", path, "-").Output()
	if err != nil {
		t.Fatal(err)
	}
	return strings.Split(strings.TrimSuffix(string(out), "\f"), "\f")
}
