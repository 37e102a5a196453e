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

// outside returns the path of a program that is not ours, or skips; where BACKFIELD_REQUIRE_TOOLS is set its absence
// is a failure.
func outside(t *testing.T, program string) string {
	t.Helper()
	path, err := exec.LookPath(program)
	if err != nil && os.Getenv("BACKFIELD_REQUIRE_TOOLS") != "" {
		t.Fatalf("%s is not installed, and the tests are told to require it", program)
	}
	if err != nil {
		t.Skipf("%s is not installed (Debian: chromium, poppler-utils)", program)
	}
	return path
}

// printer is a browser that prints, and what reads it back.
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

// Printed by Chromium and read back by poppler: every cue is on the paper, each page repeats the heads of the table and
// has the mark at its foot, no row is parted, and the paper is of the size that was asked for.
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
			if !strings.Contains(s, "What happens") {
				t.Errorf("%s, page %d: no heads", paper, i+1)
			}
			for c, r := range p.Rows {
				has := regexp.MustCompile(`(?m)^\s*` + r.ID + `\s`).MatchString(s)
				if has {
					found++
				}
				// The row's name and the line about its fade, which stands at its end, are on the same page.
				if name := fmt.Sprintf("number %d\n", c+1); strings.Contains(s, name) != has {
					t.Errorf("%s, page %d: cue %s is parted from its name", paper, i+1, r.ID)
				}
			}
			if names, fades := strings.Count(s, "number "), strings.Count(s, "fade 2 counts"); names != fades {
				t.Errorf("%s, page %d: %d names and %d fades: a row is parted", paper, i+1, names, fades)
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
			t.Error("the same page is printed as other bytes")
		}
	}
}

// A show and movements of long names are printed as charts of one page each: a heading of one line more would leave
// nothing but the heading on every other page.
func TestLongNamesPDF(t *testing.T) {
	browser, pdftotext := printer(t)
	files := sixty()
	long := strings.NewReplacer(
		`name = "Part A"`, `name = "`+strings.Repeat("Part A goes on ", 12)+`"`,
		`title = "`, `title = "`+strings.Repeat("The Keepers ", 15))
	files["show.toml"] = long.Replace(files["show.toml"])
	chart := pagesOf(t, gathered(t, files, "show.toml", nil))["chart"]
	if name := strings.Repeat("Part A goes on ", 12); strings.Count(string(chart.HTML), name) != 1 {
		t.Error("on the chart of the whole show the movement's name is as long as the movement is wide, and no longer")
	}
	pdfs, err := Print(context.Background(), browser, []PrintedPage{chart}, "a4")
	if err != nil {
		t.Fatal(err)
	}
	if pages := text(t, pdftotext, pdfs[0]); len(pages) != 4 {
		t.Errorf("the chart has %d pages, want the show and its three movements", len(pages))
	}
}

// text is a PDF's text by page, as it is laid out.
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
