package paper

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
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

// Chromium prints, poppler reads. On letter and on A4 each page that we lay out is one page on paper, with its foot. Every
// cue is on the paper with its name and its fade on the same page, under the name of its movement. Names of every Latin
// script are there, all fonts are in the file, and no text is smaller than 9 pt.
func TestPDF(t *testing.T) {
	browser, pdftotext := printer(t)
	p := gathered(t, sixty(), "show.toml", nil)
	all := pagesOf(t, p)
	for paper, box := range map[string]string{"letter": "612 792", "a4": "59[45][.0-9]* 84[12]"} {
		print := []PrintedPage{all["run"], all["sections"]}
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
		for i, page := range print {
			fonts(t, paper+" "+page.Name, pdfs[i])
		}
		for i := range 2 {
			laid := strings.Count(string(print[i].HTML), `<section class="page`)
			pages := text(t, pdftotext, pdfs[i])
			if len(pages) != laid || laid < 3 {
				t.Errorf("%s: %s is laid out on %d pages, and takes %d", paper, print[i].Name, laid, len(pages))
			}
			for n, text := range pages {
				if !strings.Contains(text, "compile "+p.Mark) {
					t.Errorf("%s, %s, page %d: no foot", paper, print[i].Name, n+1)
				}
			}
		}
		if handouts := text(t, pdftotext, pdfs[1]); !strings.Contains(strings.Join(handouts, ""), vietnamese) {
			t.Errorf("%s: %s is not on the handouts", paper, vietnamese)
		}
		sheets := text(t, pdftotext, pdfs[0])
		found := 0
		for i, s := range sheets {
			if !strings.Contains(s, fmt.Sprintf("page %d of %d", i+1, len(sheets))) {
				t.Errorf("%s, page %d: no number", paper, i+1)
			}
			for c, r := range p.Rows {
				has := regexp.MustCompile(`(?m)^\s*` + r.ID + `\s`).MatchString(s)
				if has {
					found++
				}
				if band := fmt.Sprintf("%d\\s+Part %c", r.Movement, 'A'+r.Movement-1); has && !regexp.MustCompile(band).MatchString(s) {
					t.Errorf("%s, page %d: cue %s is without the name of its movement", paper, i+1, r.ID)
				}
				if regexp.MustCompile(fmt.Sprintf(`\b%d\s`, c+1)).MatchString(s) != has && has {
					t.Errorf("%s, page %d: cue %s is on another page than its name", paper, i+1, r.ID)
				}
			}
			if names, fades := strings.Count(s, "a name that says"), strings.Count(s, "fade 2 (1.0 s)"); names != fades {
				t.Errorf("%s, page %d: %d names and %d fades: a row is split", paper, i+1, names, fades)
			}
		}
		if found != len(p.Rows) {
			t.Errorf("%s: %d cues found, want %d", paper, found, len(p.Rows))
		}
		if paper != "letter" {
			continue
		}
		if charts := text(t, pdftotext, pdfs[2]); len(charts) != 5 {
			t.Errorf("the chart has %d pages, want two of the show and its three movements", len(charts))
		}
		if !bytes.Equal(pdfs[2], pdfs[3]) {
			t.Error("printing the same page twice gives different bytes")
		}
	}
}

// fonts checks the fonts of a PDF: each is in the file, and none is used smaller than 9 pt. pdftohtml gives sizes at three
// times their size, rounded down for letters with a rim, which are drawn as shapes.
func fonts(t *testing.T, what string, pdf []byte) {
	t.Helper()
	path := filepath.Join(t.TempDir(), "x.pdf")
	if err := os.WriteFile(path, pdf, 0o600); err != nil {
		t.Fatal(err)
	}
	list, err := exec.Command(outside(t, "pdffonts"), path).Output()
	if err != nil {
		t.Fatal(err)
	}
	rows := strings.Split(strings.TrimSpace(string(list)), "\n")[2:]
	for _, row := range rows {
		if !regexp.MustCompile(`\s+yes\s+(yes|no)\s+(yes|no)\s+\d+\s+\d+$`).MatchString(row) {
			t.Errorf("%s: a font is not in the file: %s", what, row)
		}
	}
	xml, err := exec.Command(outside(t, "pdftohtml"), "-xml", "-i", "-stdout", "-zoom", "3", path).Output()
	if err != nil {
		t.Fatal(err)
	}
	sizes := regexp.MustCompile(`<fontspec [^>]*size="(\d+)" family="([^"]*)"`).FindAllStringSubmatch(string(xml), -1)
	if len(sizes) < 2 || len(rows) < 2 {
		t.Fatalf("%s: %d sizes, %d fonts", what, len(sizes), len(rows))
	}
	for _, m := range sizes {
		least := 27
		if m[2] == "Times" { // what pdftohtml calls shapes
			least = 26
		}
		if size, _ := strconv.Atoi(m[1]); size < least {
			t.Errorf("%s: text of %.1f pt", what, float64(size)/3)
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
	if pages := text(t, pdftotext, pdfs[0]); len(pages) != 5 {
		t.Errorf("the chart has %d pages, want two of the show and its three movements", len(pages))
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
