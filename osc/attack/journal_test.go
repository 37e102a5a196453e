package attack

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"runtime"
	"strings"
	"testing"
	"time"

	"backfield/osc"
	"backfield/osc/glance"
	"backfield/osc/journal"
	"backfield/osc/run"
)

// mostMemory is how much a journal of a few hundred KiB may cost to read, report and resume from.
const mostMemory = 256 << 20

// A journal that is torn, cut, mixed, or written by someone with bad intentions is read, reported and resumed from
// without a panic, in little time and memory. What is damaged at the end of a line costs that line alone.
func TestBadJournals(t *testing.T) {
	seeds(t, 8, func(seed uint64) error {
		a := newArena(seed)
		good := record(a)
		if entries, skipped, err := journal.Read(bytes.NewReader(good)); err != nil || len(skipped) > 0 || len(entries) < 10 {
			return fmt.Errorf("the journal itself: %d entries, %v, %w", len(entries), skipped, err)
		}
		for range 20 {
			if err := a.survives(spoiled(a.random, good)); err != nil {
				return err
			}
		}
		return a.tornLines(good)
	})
}

// record plays an operator who does everything, and returns the journal.
func record(a *arena) []byte {
	var out bytes.Buffer
	out.Write(journal.Entry{At: a.now, Kind: "start", Format: journal.Format, Title: a.show.Title}.Line())
	a.engine = run.New(run.ShowSetup{Show: a.show, Mixer: a.mixer},
		run.Options{To: []string{"mixer"}, Record: func(e journal.Entry) { out.Write(e.Line()) }}, a.now)
	a.engine.LinkUp(0, a.now)
	for range 40 {
		n := 1 + a.random.IntN(channels)
		line := []string{"go", "back", "hush", "unhush", "start", "stop", fmt.Sprintf(`hold "Horn %d"`, n), "release all",
			fmt.Sprintf(`swap "Horn %d" to %d`, n, 13+a.random.IntN(4)), fmt.Sprintf(`nudge "Horn %d" +%d`, n, 1+a.random.IntN(6)),
			fmt.Sprintf("jump %d", 1+a.random.IntN(len(a.show.Cues)))}[a.random.IntN(11)]
		if c, err := run.Parse(line); err == nil {
			a.engine.Do(c, a.now) // a refusal is in the journal too
		}
		for range 100 {
			a.exchange()
			a.now = a.now.Add(tick)
		}
		if replies, err := a.device.Move(a.now, fmt.Sprintf("/in/%d/level", n), osc.Float32(0.5)); err == nil && a.random.IntN(8) == 0 {
			a.reply(replies)
		}
	}
	out.Write(journal.Entry{At: a.now, Kind: "end"}.Line())
	return out.Bytes()
}

// spoiled is a journal with damage of one kind, or several.
func spoiled(r *rand.Rand, good []byte) []byte {
	text := bytes.Clone(good)
	for range 1 + r.IntN(4) {
		at := r.IntN(len(text) + 1)
		switch r.IntN(9) {
		case 0: // cut off
			text = text[:at]
		case 1: // bits flipped
			for range 1 + r.IntN(50) {
				if len(text) > 0 {
					text[r.IntN(len(text))] ^= 1 << r.IntN(8)
				}
			}
		case 2: // a block of zeros, as after a power cut
			text = append(text[:at:at], append(make([]byte, r.IntN(5000)), text[at:]...)...)
		case 3: // a piece of it again
			text = append(text[:at:at], good[r.IntN(len(good)):]...)
		case 4: // numbers that nobody means
			word := []string{"1e308", "-1e308", "99999999999999999999", "-1", "1e-320", "null", "[]", `""`, "2147483648"}[r.IntN(9)]
			text = bytes.ReplaceAll(text, []byte(`"channel":`+fmt.Sprint(1+r.IntN(channels))), []byte(`"channel":`+word))
		case 5: // a line of someone's own, with its checksum or without
			text = append(text[:at:at], append(hostile(r), text[at:]...)...)
		case 6: // one very long line
			text = append(text, []byte(strings.Repeat("x", 1<<20))...)
		case 7: // deep nesting
			text = append(text, []byte(strings.Repeat(`{"state":`, 20_000)+"\n")...)
		case 8: // lines in another order
			lines := bytes.SplitAfter(text, []byte("\n"))
			r.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
			text = bytes.Join(lines, nil)
		}
	}
	return text
}

// hostile is an entry that asks for far too much.
func hostile(r *rand.Rand) []byte {
	huge := []float64{1e300, -1e300, 1e9, -1e9, 0, -0.5, 60, 1e18}
	number := func() float64 { return huge[r.IntN(len(huge))] }
	s := &journal.RunState{Step: []string{"1", "2", "99", "", "\x1b[2J", "1.1.1"}[r.IntN(6)]}
	s.Clock = journal.PlayClock{ShowS: number(), At: start.Add(time.Duration(r.Int64N(1 << 60))), Rate: number(), Running: r.IntN(2) == 0}
	for range r.IntN(200) {
		n := int(r.Int32()) >> r.IntN(30)
		s.Swaps = append(s.Swaps, journal.Swap{Channel: n, Spare: -n})
		s.OldSpares = append(s.OldSpares, n, n)
		s.Nudges = append(s.Nudges, journal.RunNudge{Name: fmt.Sprint("Horn ", n%20), DB: number(), Step: "1"})
		s.Manual = append(s.Manual, journal.ManualChannel{Mixer: n % 3, Channel: n, Param: "level", Player: "Horn 1", OffsetDB: number()})
		s.Presses = append(s.Presses, journal.Press{PlannedS: number(), At: start})
		s.Past = append(s.Past, journal.Past{Step: fmt.Sprint(n), Clock: s.Clock})
	}
	e := journal.Entry{At: start.Add(time.Duration(r.Int64())), Kind: "step", Step: s.Step, PlannedS: number(), Rate: number(), State: s}
	if r.IntN(2) == 0 {
		return e.Line()
	}
	line, _ := json.Marshal(e)
	return append(line, '\n')
}

// survives reads, reports and resumes from a journal.
func (a *arena) survives(text []byte) error {
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	began := time.Now()
	entries, skipped, err := journal.Read(bytes.NewReader(text))
	if err != nil && err.Error() == "" {
		return fmt.Errorf("an error without words")
	}
	for _, s := range skipped {
		_ = s.String()
	}
	open := func(string) []string { return []string{"1", "2", "3"} }
	_ = journal.NewReport(entries, open).String()
	state, ok := journal.Last(entries)
	if !ok {
		return nil
	}
	e, err := run.Resume(run.ShowSetup{Show: a.show, Mixer: a.mixer}, run.Options{To: []string{"mixer"}}, state, a.now)
	if err != nil {
		return nil // it says why
	}
	e.LinkUp(0, a.now)
	now := a.now
	for range 200 {
		now = now.Add(tick)
		e.Advance(now)
		e.Take(0, now)
	}
	_ = glance.Status(e.View(now))
	runtime.ReadMemStats(&after)
	if grown := after.TotalAlloc - before.TotalAlloc; grown > mostMemory {
		return fmt.Errorf("%d MiB for a journal of %d KiB", grown>>20, len(text)>>10)
	}
	if took := time.Since(began); took > 10*time.Second {
		return fmt.Errorf("%v for a journal of %d KiB", took, len(text)>>10)
	}
	return nil
}

// tornLines tears lines apart where a disk was full for a moment. All other lines are read.
func (a *arena) tornLines(good []byte) error {
	lines := bytes.SplitAfter(bytes.TrimSuffix(good, []byte("\n")), []byte("\n"))
	torn := 0
	var text []byte
	for i, line := range lines {
		if i > 0 && a.random.IntN(10) == 0 && len(line) > 2 {
			torn++
			line = append(line[:1+a.random.IntN(len(line)-2):len(line)], '\n')
		}
		text = append(text, line...)
	}
	text = append(text, '\n')
	entries, skipped, err := journal.Read(bytes.NewReader(text))
	if err != nil || len(entries) != len(lines)-torn || (torn > 0) != (len(skipped) > 0) {
		return fmt.Errorf("of %d lines %d were torn: %d entries, %v, %w", len(lines), torn, len(entries), skipped, err)
	}
	return nil
}
