package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"
)

// output is one file to be written.
type output struct {
	name string
	data []byte
}

// publish writes files into a folder whole or not at all: each goes to a temporary file beside its place
// and is synced; only when all are on the disk are they renamed. A failure leaves what was there before.
func publish(dir string, files []output) (err error) {
	_, statErr := os.Stat(dir)
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return fmt.Errorf("cannot make the folder: %w", err)
	}
	for _, f := range files {
		if info, err := os.Stat(filepath.Join(dir, f.name)); err == nil && info.IsDir() {
			return fmt.Errorf("cannot write %s: it is a folder", filepath.Join(dir, f.name))
		}
	}
	for _, f := range files {
		sweep(dir, f.name)
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
			return fmt.Errorf("cannot write %s: %w", filepath.Join(dir, f.name), err)
		}
	}
	var undo []func()
	for i, f := range files {
		path := filepath.Join(dir, f.name)
		before, readErr := os.ReadFile(path)
		if err := os.Rename(temps[i], path); err != nil { // such as a sheet that is open elsewhere, on Windows
			for _, u := range undo {
				u()
			}
			return fmt.Errorf("cannot write %s: %w", path, err)
		}
		undo = append(undo, func() { restore(dir, f.name, before, readErr == nil) })
	}
	return nil
}

// restore puts back what a file held before publish replaced it, as well as it can.
func restore(dir, name string, before []byte, existed bool) {
	if !existed {
		os.Remove(filepath.Join(dir, name))
		return
	}
	if temp, err := writeTemp(dir, output{name, before}); err == nil {
		os.Rename(temp, filepath.Join(dir, name))
	}
}

// abandoned is how old a temporary file is that nobody writes any more: its command was killed.
const abandoned = 10 * time.Minute

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
		if info, err := e.Info(); err == nil && time.Since(info.ModTime()) > abandoned {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

func writeTemp(dir string, f output) (name string, err error) {
	temp, err := os.CreateTemp(dir, "."+f.name+"-*")
	if err != nil {
		return "", err
	}
	defer func() {
		if closing := temp.Close(); err == nil {
			err = closing
		}
	}()
	if _, err = temp.Write(f.data); err == nil {
		err = temp.Chmod(0o644)
	}
	if err == nil {
		err = temp.Sync()
	}
	return temp.Name(), err
}
