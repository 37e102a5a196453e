package show

import (
	"errors"
	"fmt"
	"io/fs"
	"path/filepath"

	"backfield/cue/clock"
	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc/presses"
)

// remote reads remote.toml next to the score; nil if there is none. at is where its absence would be said, if that were
// a mistake: one that is there and cannot be read is.
func (l *loader) remote(at source.Span) *presses.Remote {
	path := filepath.Join(l.dir, "remote.toml")
	raw, err := l.rd.Read(path)
	_, old := l.rd.(Commit)
	if errors.Is(err, errNotThere) || errors.Is(err, fs.ErrNotExist) || old && err != nil {
		return nil
	}
	l.files = append(l.files, path)
	if err != nil {
		l.p.Error("cannot-read", at, fmt.Sprintf("%s %v", path, err), "")
		return nil
	}
	f := l.opened(path, "midi", raw, table.TOMLLimit, at)
	if f == nil {
		return nil
	}
	return presses.Read(f, l.p)
}

// Times is what another machine's time must know of the show.
func (s *Loaded) Times() presses.ShowTimes {
	t := presses.ShowTimes{CountS: func(movement int, counts float64) float64 {
		return s.Clock.Seconds(clock.Moment{Movement: movement + 1, Elapsed: counts})
	}}
	for n := range s.Clock.Movements {
		t.StartsS = append(t.StartsS, t.CountS(n, 0))
	}
	return t
}
