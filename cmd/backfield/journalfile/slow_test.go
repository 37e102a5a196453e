package journalfile

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

// slowFile is a file on a disk that takes its time.
type slowFile struct {
	*os.File
	write, sync time.Duration
}

func (s slowFile) Write(b []byte) (int, error) {
	time.Sleep(s.write)
	return s.File.Write(b)
}

func (s slowFile) Sync() error {
	time.Sleep(s.sync)
	return s.File.Sync()
}

// A disk that takes seconds to sync or to write holds nobody up who writes an entry, and loses none.
func TestSlowDiskHoldsNobodyUp(t *testing.T) {
	for name, slow := range map[string]slowFile{
		"sync":  {sync: 1500 * time.Millisecond},
		"write": {write: 300 * time.Millisecond},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			path := filepath.Join(t.TempDir(), "j.jsonl")
			j, _ := begin(t, path, FileOptions{})
			d := j.disks[0]
			d.writing.Lock()
			slow.File = d.file.(*os.File)
			d.file = slow
			d.writing.Unlock()
			const entries = 12
			var worst, all time.Duration
			for range entries {
				began := time.Now()
				j.Write(entry("one"))
				took := time.Since(began)
				worst, all = max(worst, took), all+took
				time.Sleep(200 * time.Millisecond) // past the sync that comes each second
			}
			if worst > 250*time.Millisecond || all > 400*time.Millisecond {
				t.Errorf("the slowest entry took %v, and all %v", worst, all)
			}
			j.Close()
			list, skipped, err := Read(path)
			if err != nil || len(skipped) > 0 || len(list) != entries {
				t.Errorf("%d entries, %v, %v", len(list), skipped, err)
			}
		})
	}
}

// On a disk that is not slow, an entry is in the file when Write returns: a run that is killed then has it.
func TestQuickDiskHasEachEntryAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "j.jsonl")
	j, _ := begin(t, path, FileOptions{})
	defer j.Close()
	late := 0
	for n := 1; n <= 200; n++ {
		j.Write(entry("one"))
		if list, _, err := Read(path); err != nil || len(list) != n {
			late++
		}
	}
	if late > 20 { // some are where the machine has no time for the disk
		t.Errorf("%d of 200 entries were not in the file", late)
	}
}
