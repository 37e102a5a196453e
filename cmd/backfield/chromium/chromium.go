// Package chromium finds an installed Chromium, or a related browser, and prints HTML pages as PDF with it.
package chromium

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"time"
)

// Browser is an installed browser that can print.
type Browser struct {
	Path      string
	noSandbox bool // as root it runs only without its sandbox
}

// names are the program names of Chromium and related browsers.
var names = []string{
	"chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "headless_shell",
}

// envs are the variables that can name a browser. They win over the names on the path.
var envs = []string{"BACKFIELD_CHROMIUM", "CHROME"}

// Find looks for a browser: BACKFIELD_CHROMIUM or CHROME, else the usual names on the path. The error says what is
// missing.
func Find() (*Browser, error) {
	for _, env := range envs {
		name := os.Getenv(env)
		if name == "" {
			continue
		}
		path, err := exec.LookPath(name)
		if err != nil {
			return nil, fmt.Errorf("%s=%s: no such program", env, name)
		}
		return &Browser{path, os.Geteuid() == 0}, nil
	}
	for _, name := range names {
		if path, err := exec.LookPath(name); err == nil {
			return &Browser{path, os.Geteuid() == 0}, nil
		}
	}
	return nil, fmt.Errorf("no Chromium was found (install it, or name it in %s)", envs[0])
}

// pageLimit is how long printing one page may take.
const pageLimit = 90 * time.Second

// PrintPage is a page to print: the name of its file without .html, and HTML that needs no other file. Its @page rule
// sets the paper size.
type PrintPage struct {
	Name string
	HTML []byte
}

// Print makes a PDF of each page, in the same order. The same page gives the same bytes. It works in a folder that it
// removes at the end, and gives the browser no network. On an error it returns no PDF.
func (b *Browser) Print(ctx context.Context, pages []PrintPage) ([][]byte, error) {
	dir, err := os.MkdirTemp("", "backfield-paper-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	var done [][]byte
	for _, page := range pages {
		data, err := b.print(ctx, dir, page)
		if err != nil {
			return nil, fmt.Errorf("printing %s.html: %w", page.Name, err)
		}
		done = append(done, data)
	}
	return done, nil
}

func (b *Browser) print(ctx context.Context, dir string, page PrintPage) ([]byte, error) {
	ctx, cancel := context.WithTimeout(ctx, pageLimit)
	defer cancel()
	html, pdf := filepath.Join(dir, page.Name+".html"), filepath.Join(dir, page.Name+".pdf")
	if err := os.WriteFile(html, page.HTML, 0o600); err != nil {
		return nil, err
	}
	args := []string{
		"--headless", "--disable-gpu", "--no-first-run", "--no-default-browser-check", "--disable-extensions",
		"--disable-sync", "--disable-background-networking", "--disable-component-update", "--disable-quic",
		"--host-resolver-rules=MAP * ~NOTFOUND", "--disable-dev-shm-usage", "--no-pdf-header-footer",
		"--user-data-dir=" + filepath.Join(dir, "profile"), "--print-to-pdf=" + pdf,
	}
	if b.noSandbox {
		args = append(args, "--no-sandbox")
	}
	cmd := exec.CommandContext(ctx, b.Path, append(args, address(html))...)
	cmd.WaitDelay = 5 * time.Second // helper processes may keep its output open
	out, runErr := cmd.CombinedOutput()
	data, err := os.ReadFile(pdf)
	switch {
	case errors.Is(ctx.Err(), context.DeadlineExceeded):
		return nil, fmt.Errorf("%s took over %v", b.Path, pageLimit)
	case err != nil || !whole(data):
		return nil, fmt.Errorf("%s made no PDF (%v): %s", b.Path, runErr, lastLine(out))
	}
	return undated(data), nil
}

// whole reports whether a PDF has its beginning and its end.
func whole(pdf []byte) bool {
	return bytes.HasPrefix(pdf, []byte("%PDF-")) && bytes.Contains(pdf[max(len(pdf)-64, 0):], []byte("%%EOF"))
}

// address is the URL of a file.
func address(path string) string {
	path = filepath.ToSlash(path)
	if !strings.HasPrefix(path, "/") { // C:/...
		path = "/" + path
	}
	return (&url.URL{Scheme: "file", Path: path}).String()
}

var dates = regexp.MustCompile(`/(CreationDate|ModDate) \(D:[^)]*\)`)

// undated replaces the dates in a PDF with spaces, so that the same show gives the same file.
func undated(pdf []byte) []byte {
	return dates.ReplaceAllFunc(pdf, func(b []byte) []byte {
		key, value, _ := strings.Cut(string(b), " ")
		return []byte(key + " (" + strings.Repeat(" ", len(value)-2) + ")")
	})
}

func lastLine(out []byte) string {
	lines := strings.Split(strings.TrimSpace(string(out)), "\n")
	line := lines[len(lines)-1]
	return line[:min(len(line), 200)]
}
