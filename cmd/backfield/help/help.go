// Package help holds the reference pages that `backfield help TOPIC` shows. What is a list in the program, such as the
// printed sheets, is put in from there.
package help

import (
	"embed"
	"io/fs"
	"strings"
)

//go:embed *.md
var pages embed.FS

// Topics lists the pages by their names, in order.
func Topics() []string {
	names, err := fs.Glob(pages, "*.md")
	if err != nil {
		panic(err) // the pattern is right
	}
	for i, name := range names {
		names[i] = strings.TrimSuffix(name, ".md")
	}
	return names
}

// Page is the page of a topic. The error is for a topic that there is no page of.
func Page(topic string) (string, error) {
	text, err := pages.ReadFile(topic + ".md")
	return filled(string(text)), err
}
