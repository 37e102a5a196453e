// Package publish writes the files that a command makes into a folder, whole or not at all, and makes the tables
// among them. What stands in a file is no business of this package.
package publish

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// OutputFile is a file to write: its name within the folder, and its content.
type OutputFile struct {
	Name string
	Data []byte
}

// Names lists the names of files, in their order.
func Names(files []OutputFile) (names []string) {
	for _, f := range files {
		names = append(names, f.Name)
	}
	return names
}

// Files writes files into a folder whole or not at all: each goes to a temporary file next to its place and is synced;
// only when all are on the disk are they renamed, in their order. A failure leaves what was there before. The folder is
// made if it is missing. The error names the file or folder that could not be written.
func Files(dir string, files []OutputFile) (err error) {
	_, statErr := os.Stat(dir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder: %w", err)
	}
	for _, f := range files {
		if info, err := os.Stat(filepath.Join(dir, f.Name)); err == nil && info.IsDir() {
			return fmt.Errorf("cannot write %s: it is a folder", filepath.Join(dir, f.Name))
		}
	}
	for _, f := range files {
		sweep(dir, f.Name)
	}
	var temps []string
	defer func() {
		if err != nil {
			for _, t := range temps {
				os.Remove(t)
			}
			if os.IsNotExist(statErr) {
				os.Remove(dir) // only if it is ours and empty
			}
		}
	}()
	for _, f := range files {
		temp, err := writeTemp(dir, f)
		if temp != "" {
			temps = append(temps, temp)
		}
		if err != nil {
			return fmt.Errorf("cannot write %s: %w", filepath.Join(dir, f.Name), err)
		}
	}
	var undo []func()
	for i, f := range files {
		path := filepath.Join(dir, f.Name)
		before, readErr := os.ReadFile(path)
		if err := os.Rename(temps[i], path); err != nil { // such as a sheet that is open elsewhere, on Windows
			for _, u := range undo {
				u()
			}
			return fmt.Errorf("cannot write %s: %w", path, err)
		}
		undo = append(undo, func() { restore(dir, f.Name, before, readErr == nil) })
	}
	return nil
}

// restore puts back what a file held before Files replaced it, as well as it can.
func restore(dir, name string, before []byte, existed bool) {
	if !existed {
		os.Remove(filepath.Join(dir, name))
		return
	}
	if temp, err := writeTemp(dir, OutputFile{Name: name, Data: before}); err == nil {
		os.Rename(temp, filepath.Join(dir, name))
	}
}

// Abandoned is how old a temporary file is that no command is writing any more: its command was killed.
const Abandoned = 10 * time.Minute

// sweep removes what commands that were killed left of a file.
func sweep(dir, name string) {
	entries, err := os.ReadDir(dir)
	if err != nil {
		return // what can be written is not known yet either
	}
	for _, e := range entries {
		if !strings.HasPrefix(e.Name(), "."+name+"-") || !e.Type().IsRegular() {
			continue
		}
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > Abandoned {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

func writeTemp(dir string, f OutputFile) (name string, err error) {
	temp, err := os.CreateTemp(dir, "."+f.Name+"-*")
	if err != nil {
		return "", err
	}
	defer func() {
		if closing := temp.Close(); err == nil {
			err = closing
		}
	}()
	if _, err = temp.Write(f.Data); err == nil {
		err = temp.Chmod(0o644)
	}
	if err == nil {
		err = temp.Sync()
	}
	return temp.Name(), err
}

// SafeName makes a name, such as a cue's id, safe as part of a file name on any system.
func SafeName(name string) string {
	return strings.Map(func(r rune) rune {
		if r < ' ' || strings.ContainsRune(`<>:"/\|?*`, r) {
			return '_'
		}
		return r
	}, name)
}
