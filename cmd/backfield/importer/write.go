package importer

import (
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"backfield/cmd/backfield/publish"
	"backfield/layout/drill"
)

// Old lists the files in a folder that writing a drill there replaces.
func Old(dir string) (names []string) {
	for _, name := range []string{"sets.csv", "dots.csv"} {
		if info, err := os.Stat(filepath.Join(dir, name)); err == nil && info.Mode().IsRegular() {
			names = append(names, name)
		}
	}
	return names
}

// Agreed asks whether the dots are right, and whether the files in a folder, if one is given, may be replaced.
func Agreed(ask func(question string) bool, talk io.Writer, dir string) bool {
	if !ask("Are these dots right?") {
		fmt.Fprintln(talk, "nothing was written; correct it with --column KEY=NAME (backfield help import)")
		return false
	}
	old := Old(dir)
	if dir == "" || len(old) == 0 {
		return true
	}
	if !ask(fmt.Sprintf("Write sets.csv and dots.csv into %s, REPLACING the %s there?", dir,
		strings.Join(old, " and "))) {
		fmt.Fprintln(talk, "nothing was written; name another folder with -o")
		return false
	}
	return true
}

// Next says what was replaced by files that were written, and how a score uses them.
func Next(w io.Writer, kept []string) {
	if len(kept) > 0 {
		fmt.Fprintf(w, "REPLACED what was there; kept as %s\n", strings.Join(kept, ", "))
	}
	fmt.Fprintf(w, "Put this line into show.toml:\n\n"+
		"    drill = { sets = \"sets.csv\", dots = \"dots.csv\" }\n")
}

// Write writes a drill into a folder. What it replaces is kept under the names that it returns. The error names the
// file that cannot be read or written.
func Write(dir string, d *drill.Drill) (kept []string, err error) {
	var files []publish.OutputFile
	for _, name := range Old(dir) {
		old, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			return nil, err
		}
		files = append(files, publish.OutputFile{Name: name + ".bak", Data: old})
	}
	kept = publish.Names(files)
	sets, dots := d.Sheets()
	files = append(files, publish.ShowCSV("sets.csv", sets), publish.ShowCSV("dots.csv", dots))
	return kept, publish.Files(dir, files)
}
