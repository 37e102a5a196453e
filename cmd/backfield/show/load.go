package show

import (
	"fmt"
	"path/filepath"
	"slices"

	"backfield/cue/music"
	"backfield/cue/score"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/layout/workbook"
)

// loader reads the files that a score names, relative to its folder.
type loader struct {
	rd     Reader
	p      *source.Problems
	dir    string
	files  []string
	scores music.Library
}

// open reads a file that the score names; page is the help page about files of its kind.
func (l *loader) open(name table.Text, page string, limit int) *source.File {
	return l.openRelative(name, l.dir, page, limit)
}

// music reads the file that a movement takes its time from, if there is one.
func (l *loader) music(m *score.Movement) {
	if m.File == nil {
		return
	}
	path, ok := l.path(m.File.Name, l.dir)
	if !ok {
		return
	}
	if raw, ok := l.bytes(path, m.File.Name.Span); ok {
		l.scores.Read(path, raw, len(l.files), m, l.p)
	}
}

// path is where a file is that another file names, relative to a folder.
func (l *loader) path(name table.Text, dir string) (path string, ok bool) {
	switch {
	case !name.Set:
		return "", false // reported as a missing key, or not needed
	case name.V == "":
		l.p.Error("cannot-read", name.Span, "this file name is empty", "write the file's name, or remove the key")
		return "", false
	case filepath.IsAbs(name.V):
		return name.V, true
	}
	return filepath.Join(dir, name.V), true
}

// openRelative reads a file that another file names, relative to a folder.
func (l *loader) openRelative(name table.Text, dir, page string, limit int) *source.File {
	path, ok := l.path(name, dir)
	if !ok {
		return nil
	}
	return l.read(path, page, limit, name.Span)
}

// named reads a TOML file that the caller names, relative to the working directory.
func named(rd Reader, path, page string) (*source.File, error) {
	raw, err := rd.Read(path)
	if err != nil {
		return nil, err
	}
	file, err := source.Open(path, raw, table.TOMLLimit)
	if err != nil {
		return nil, fmt.Errorf("is %w", err)
	}
	file.Page = page
	return file, nil
}

// Open makes a file of what was read: of text, or of a sheet, which is the drill's or the roster's, also of a workbook.
func Open(path, page string, raw []byte, limit int) (*source.File, error) {
	if (page == "drill" || page == "roster") && workbook.Is(raw) {
		return workbook.Open(path, raw)
	}
	return source.Open(path, raw, limit)
}

// OpenSheet opens a sheet of a drill that the caller names, and gives it a place in the order of problems.
func OpenSheet(path string, order int) (*source.File, error) {
	raw, err := Disk{}.Read(path)
	if err != nil {
		return nil, fmt.Errorf("%s %w", path, err)
	}
	f, err := Open(path, "drill", raw, table.CSVLimit)
	if err != nil {
		return nil, fmt.Errorf("%s is %w", path, err)
	}
	f.Order, f.Page = order, "drill"
	return f, nil
}

// bytes reads a file that is named at a place, and lists it.
func (l *loader) bytes(path string, at source.Span) (raw []byte, ok bool) {
	if !slices.Contains(l.files, path) {
		l.files = append(l.files, path)
	}
	raw, err := l.rd.Read(path)
	if err != nil {
		l.p.Error("cannot-read", at, fmt.Sprintf("%s %v", path, err), "")
	}
	return raw, err == nil
}

func (l *loader) read(path, page string, limit int, at source.Span) *source.File {
	raw, ok := l.bytes(path, at)
	if !ok {
		return nil
	}
	return l.opened(path, page, raw, limit, at)
}

// opened makes a file of what was read.
func (l *loader) opened(path, page string, raw []byte, limit int, at source.Span) *source.File {
	file, err := Open(path, page, raw, limit)
	if err != nil {
		l.p.Error("cannot-read", at, fmt.Sprintf("%s is %v", path, err), "")
		return nil
	}
	file.Order, file.Page = len(l.files), page
	return file
}
