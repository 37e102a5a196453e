package liverun

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"backfield/cmd/backfield/journalfile"
	"backfield/osc/journal"
	"backfield/osc/run"
)

// begin starts a new run with a new journal.
func (r *LiveRun) begin(now time.Time) error {
	if err := r.alone(""); err != nil {
		return err
	}
	path := r.o.Journal
	if path == "" {
		path = journalfile.NewPath(r.o.Score, now)
	} else if dir := filepath.Dir(path); !isFolder(dir) { // a folder made now could be on the wrong disk
		return fmt.Errorf("--journal %s: the folder %s is not there; make it, or plug in its disk. Nothing was sent",
			path, dir)
	}
	file, err := journalfile.New(path, r.journalOptions())
	if err != nil {
		if errors.Is(err, os.ErrExist) {
			err = fmt.Errorf("it exists already; name another file, or resume it with --resume=%s", path)
		}
		return fmt.Errorf("the journal %s: %w", path, err)
	}
	if r.journal = file; r.id == "" { // else it is the other laptop's
		r.id = newRunID()
	}
	r.writeStart(now, "")
	r.engine = run.New(r.plan(), r.options(), now)
	return nil
}

func isFolder(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.IsDir()
}

func (r *LiveRun) journalOptions() journalfile.FileOptions {
	return journalfile.FileOptions{Copy: r.o.Copy, InUse: r.o.InUse, Report: r.reportJournalProblem}
}

// resume continues the run of a journal, and goes on writing that journal.
func (r *LiveRun) resume(now time.Time) error {
	path := r.o.Resume
	if path == Newest {
		var err error
		if path, err = journalfile.Find(r.o.Score, r.show.Show.Title, now); err != nil {
			if several := (*journalfile.Several)(nil); errors.As(err, &several) {
				return &WrongJournal{err}
			}
			return err
		}
	}
	file, err := journalfile.Continue(path, r.journalOptions())
	if errors.Is(err, journalfile.ErrInUse) {
		return wrongJournal("--resume %s: another run is writing it, and two runs at one mixer fight.\n%s\n"+
			"If you know that it sends nothing, add --in-use", path, writerOf(path))
	} else if err != nil {
		return err
	}
	if err = r.alone(path); err == nil {
		err = r.resumeFrom(file, now)
	}
	if err != nil {
		file.Close()
		return err
	}
	return nil
}

// resumeFrom continues the run of a journal file. Nothing is written to it unless the run begins.
func (r *LiveRun) resumeFrom(file *journalfile.JournalWriter, now time.Time) error {
	path := file.Path()
	entries, skipped, err := journalfile.Read(path)
	if err != nil {
		return &WrongJournal{err}
	}
	if len(entries) == 0 {
		return wrongJournal("--resume %s: this journal is empty; start a new run without --resume", path)
	}
	// Two shows may have the same cue ids and still have other players on a channel.
	if other := journalfile.TitleOfAnother(entries, r.show.Show.Title); other != "" {
		return wrongJournal("--resume %s: the journal is from %q, but this show is %q; "+
			"name the journal's show, or start a new run without --resume", path, other, r.show.Show.Title)
	}
	// Try this before anything is written to the journal.
	state, _ := stateAt(entries, now)
	trial, err := run.Resume(r.plan(), run.Options{To: r.o.To}, state, now)
	if err != nil {
		return wrongJournal("--resume %s: %w; run the show that the journal is from, or start a new run without "+
			"--resume", path, err)
	}
	if now, err = r.confirm(path, entries, trial.View(now), now); err != nil {
		return err
	}
	for _, s := range skipped {
		r.notices.Say(fmt.Sprintf("%s: %v", path, s))
	}
	if start, ok := journal.LastStart(entries); ok {
		r.id = start.Run
	}
	if r.id == "" { // the journal of an older build
		r.id = newRunID()
	}
	r.journal = file
	r.writeStart(now, "resumed; ")
	state, stands := stateAt(entries, now)
	if r.engine, err = run.Resume(r.plan(), r.options(), state, now); err != nil {
		return err
	}
	age := journalfile.Age(entries[len(entries)-1], now)
	v := r.engine.View(now)
	r.notices.Say(resumedWords(v, age))
	if stands {
		r.engine.ReportProblem(standingWords(v, age), now)
	}
	return nil
}

// resumedWords says where a resumed run stands and what is open, since mics may open before anyone has looked.
func resumedWords(v run.View, age string) string {
	at := "before the first cue"
	if v.Step != "" {
		at = "at cue " + v.Step
	}
	if v.Name != "" {
		at += fmt.Sprintf(" %q", v.Name)
	}
	return fmt.Sprintf("RESUMED %s; the journal's last entry was %s. %s", at, age, opensWords(v))
}

func (r *LiveRun) writeStart(now time.Time, how string) {
	if !r.o.Rehearsal {
		r.closers = append(r.closers, journalfile.Announce(r.o.Score, r.journal.Path(), now))
	}
	host, _ := os.Hostname() // without one the entry has none
	_, zoneS := now.Local().Zone()
	r.journal.Write(journal.Entry{
		At: now, Kind: "start", Format: journal.Format, Run: r.id, PID: os.Getpid(), Host: host, ZoneS: zoneS,
		Title: r.show.Show.Title, Show: r.showMark(), Rehearsal: r.o.Rehearsal, Text: how + strings.Join(r.o.To, ", "),
	})
}
