package show

import (
	"errors"
	"fmt"
	"path/filepath"

	"backfield/cue/tonight"
	"backfield/layout/source"
	"backfield/layout/table"
)

// TonightFile is the name of a night next to a score.
const TonightFile = "tonight.toml"

// OpenPlaces opens the sheet of standing places that a night in a folder names; nil if it cannot be read.
func OpenPlaces(dir string, name table.Text, p *source.Problems) *source.File {
	l := loader{rd: Disk{}, p: p}
	return l.openRelative(name, dir, "tonight", table.CSVLimit)
}

// night reads the file that is laid over the show for one night, and the sheet of places that it names.
func (l *loader) night(s *Loaded, path string) error {
	if path == "" {
		return nil
	}
	// A night is not of an earlier version of the show: it is read as it is saved.
	if rd, old := l.rd.(Commit); old {
		l.rd = Disk{}
		defer func() { l.rd = rd }()
	}
	f, err := named(l.rd, path, "tonight")
	if err != nil {
		if near := filepath.Join(l.dir, filepath.Base(path)); near != path && errors.Is(err, errNotThere) {
			if _, missing := l.rd.Read(near); missing == nil {
				err = fmt.Errorf("is not there; did you mean --tonight %s?", near)
			}
		}
		return &Unreadable{"--tonight " + path, err}
	}
	l.files = append(l.files, path)
	f.Order = len(l.files)
	s.Night = tonight.Read(f, l.p)
	if s.Night.Standing.Set && !s.Night.InSet() {
		s.Night.Places = l.openRelative(s.Night.Standing, filepath.Dir(path), "tonight", table.CSVLimit)
	}
	return nil
}
