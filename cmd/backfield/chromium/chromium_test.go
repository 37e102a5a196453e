package chromium

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// The environment's browser comes first, and an error names the variable.
func TestFind(t *testing.T) {
	for _, env := range envs {
		t.Setenv(env, "")
	}
	program := filepath.Join(t.TempDir(), "browser.exe")
	if err := os.WriteFile(program, []byte("#!/bin/sh\n"), 0o700); err != nil {
		t.Fatal(err)
	}
	t.Setenv("CHROME", program)
	if b, err := Find(); err != nil || b.Path != program {
		t.Errorf("found %v, %v; want %s", b, err, program)
	}
	t.Setenv("BACKFIELD_CHROMIUM", "no-such-program")
	if b, err := Find(); err == nil || !strings.Contains(err.Error(), "BACKFIELD_CHROMIUM=no-such-program") {
		t.Errorf("found %v, %v", b, err)
	}
	t.Setenv("BACKFIELD_CHROMIUM", "")
	t.Setenv("CHROME", "")
	t.Setenv("PATH", "")
	if b, err := Find(); err == nil || !strings.Contains(err.Error(), "no Chromium was found") {
		t.Errorf("found %v, %v on an empty path", b, err)
	}
}

// If the program makes no PDF, or half of one, the error names the page, and no PDF is returned.
func TestNoPDF(t *testing.T) {
	pages := []PrintPage{{"run", []byte("<p>")}, {"packs", []byte("<p>")}}
	script := `#!/bin/sh
for a; do case "$a" in --print-to-pdf=*) printf '%%PDF-1.4 half' >"${a#*=}";; esac; done
echo "it broke" >&2
`
	for name, text := range map[string]string{"nothing": "#!/bin/sh\necho it broke\n", "half": script} {
		program := filepath.Join(t.TempDir(), name)
		if err := os.WriteFile(program, []byte(text), 0o700); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat("/bin/sh"); err != nil {
			t.Skip("there is no /bin/sh here")
		}
		pdfs, err := (&Browser{Path: program}).Print(context.Background(), pages)
		if pdfs != nil || err == nil || !strings.Contains(err.Error(), "printing run.html") ||
			!strings.Contains(err.Error(), "it broke") {
			t.Errorf("%s: %d PDFs, %v", name, len(pdfs), err)
		}
	}
}

// The dates become spaces. No other byte moves, since a PDF ends with a table of offsets.
func TestUndated(t *testing.T) {
	const pdf = "%PDF-1.4\n/CreationDate (D:20260301200000+00'00')\n/ModDate (D:20260301200000+00'00')>>\nrest %%EOF"
	got := string(undated([]byte(pdf)))
	if len(got) != len(pdf) || strings.Contains(got, "2026") || strings.Index(got, "rest") != strings.Index(pdf,
		"rest") {
		t.Errorf("%q", got)
	}
	if !strings.Contains(got, "/CreationDate (  ") || !strings.Contains(got, "  )>>") {
		t.Errorf("%q has no blank dates", got)
	}
	if !whole([]byte(got)) || whole([]byte(pdf[1:])) || whole([]byte(pdf[:len(pdf)-2])) {
		t.Error("a whole PDF is not distinguished from a broken one")
	}
}
