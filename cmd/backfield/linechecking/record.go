package linechecking

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/cmd/backfield/show"
	"backfield/osc/linecheck"
)

// RecordName is the name of the record, next to the score.
const RecordName = "linecheck.jsonl"

// RecordPath is where the record of a show is.
func RecordPath(score string) string { return filepath.Join(filepath.Dir(score), RecordName) }

// ReadRecord reads the record of a show; an empty one if there is none. bad are lines that cannot be read, with their
// places.
func ReadRecord(score string) (r linecheck.Record, bad []string, err error) {
	data, err := os.ReadFile(RecordPath(score))
	if errors.Is(err, fs.ErrNotExist) {
		return r, nil, nil
	}
	if err != nil {
		return r, nil, err
	}
	r, lines := linecheck.Read(data)
	for _, l := range lines {
		bad = append(bad, fmt.Sprintf("%s, %v: left out", RecordPath(score), l))
	}
	return r, bad, nil
}

// Running reports whether a line check of a show is going on.
func Running(score string) bool {
	file, err := os.Open(RecordPath(score))
	if err != nil {
		return false
	}
	defer file.Close()
	return errors.Is(journalfile.Lock(file), journalfile.ErrInUse)
}

// recordFile is the record of a show, open to be added to. No other line check can open it meanwhile.
type recordFile struct{ file *os.File }

// openRecord opens the record of a show. A last line that was cut off gets an end.
func openRecord(score string) (*recordFile, error) {
	path := RecordPath(score)
	file, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_APPEND, 0o644)
	if err != nil {
		return nil, err
	}
	if err := journalfile.Lock(file); err != nil {
		file.Close()
		if errors.Is(err, journalfile.ErrInUse) {
			err = fmt.Errorf("another line check of this show is going on: it writes %s. Two of them would open two "+
				"mics; quit that one first", path)
		}
		return nil, err
	}
	r := &recordFile{file}
	if info, err := file.Stat(); err == nil && info.Size() > 0 {
		last := make([]byte, 1)
		if _, err := file.ReadAt(last, info.Size()-1); err == nil && last[0] != '\n' {
			r.file.Write([]byte("\n")) // if that fails, so does the next entry, which is reported
		}
	}
	return r, nil
}

// add writes an entry through to the disk.
func (r *recordFile) add(e linecheck.CheckEntry) error {
	line, err := e.Line()
	if err != nil {
		return err
	}
	if _, err := r.file.Write(line); err != nil {
		return err
	}
	return r.file.Sync()
}

func (r *recordFile) close() { r.file.Close() }

// fresh is how long after its last entry a check is still about tonight.
const fresh = 12 * time.Hour

// GoesOn reports whether a new start goes on with the latest check of a record: it is of tonight.
func GoesOn(r linecheck.Record, now time.Time) bool {
	at := r.At()
	return !at.IsZero() && now.Sub(at) < fresh
}

// NightFixes are the rows about packs of the night that is laid over a show.
func NightFixes(s *show.Loaded) (list []linecheck.Fix) {
	if s.Night == nil {
		return nil
	}
	for _, d := range s.Night.Dead {
		list = append(list, linecheck.Fix{Kind: linecheck.Dead, Packs: []string{d.Pack.V}})
	}
	for _, x := range s.Night.Swapped {
		list = append(list, linecheck.Fix{Kind: linecheck.Swapped, Packs: []string{x.A.V, x.B.V}})
	}
	return list
}

// Warnings says what the line check of tonight found that no fix answers, for a run: at most two lines. fixed are the
// rows that the run goes by.
func Warnings(r linecheck.Record, fixed []linecheck.Fix, now time.Time) (list []string) {
	if !GoesOn(r, now) {
		return nil
	}
	var bad, skipped, unused []string
	for _, e := range r.Failed() {
		who := e.Pack + " " + e.Player
		switch {
		case e.Result == linecheck.Skipped:
			skipped = append(skipped, who)
		case linecheck.Covered(fixed, e):
		case linecheck.Covered(r.Fixes(), e):
			unused = append(unused, who)
		case e.Heard != "":
			bad = append(bad, fmt.Sprintf("%s wrong player (%s was heard)", who, e.Heard))
		default:
			bad = append(bad, fmt.Sprintf("%s %s", who, e.Result))
		}
	}
	at := r.At().Local().Format("15:04")
	if len(bad) > 0 {
		list = append(list, fmt.Sprintf("LINE CHECK %s, not fixed: %s", at, strings.Join(bad, ", ")))
	}
	var open []string
	if len(skipped) > 0 {
		open = append(open, "skipped: "+strings.Join(skipped, ", "))
	}
	if start := r.Latest()[0]; start.Packs > len(r.Judged()) {
		open = append(open, fmt.Sprintf("%d of %d packs not checked", start.Packs-len(r.Judged()), start.Packs))
	}
	if len(open) > 0 {
		list = append(list, fmt.Sprintf("LINE CHECK %s, %s", at, strings.Join(open, "; ")))
	}
	if len(unused) > 0 {
		list = append(list, fmt.Sprintf("LINE CHECK %s: the fix of %s is in tonight.toml, and this run does not "+
			"go by it: quit, and start it with --tonight", at, strings.Join(unused, ", ")))
	}
	return list
}
