package sheet

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"backfield/layout/source"
)

// DayEntry is a part of the day: a rehearsal from one time to another, or a show with its downbeat. Times are minutes
// since midnight. A show is over at ToMin.
type DayEntry struct {
	FromMin, ToMin int
	Show           bool
	Span           source.Span
}

var (
	rehearsalForm = regexp.MustCompile(`^(\d{1,2}):(\d{2})\s*[-–]\s*(\d{1,2}):(\d{2})$`)
	showForm      = regexp.MustCompile(`^(\d{1,2}):(\d{2})\s+(?i:show)$`)
)

// ReadDay reads the schedule of a day, "9:00-12:00,13:00-17:00,20:30 show", for a show that lasts showS seconds. What is
// wrong with it goes to p.
func ReadDay(f *source.File, showS float64, p *source.Problems) []DayEntry {
	var day []DayEntry
	at := 0
	for _, entry := range strings.Split(f.Text, ",") {
		text := strings.TrimSpace(entry)
		lo := at + strings.Index(entry, text)
		span := source.Span{File: f, Start: lo, End: lo + len(text)}
		at += len(entry) + 1
		if s, ok := readSpan(text, span, showS, p); ok {
			if n := len(day); n > 0 && s.FromMin < day[n-1].ToMin {
				p.Add(overlap(span, text, day[n-1]))
				continue
			}
			day = append(day, s)
		}
	}
	return day
}

func readSpan(text string, at source.Span, showS float64, p *source.Problems) (s DayEntry, ok bool) {
	minutes := func(hours, mins string) int {
		h, _ := strconv.Atoi(hours)
		m, _ := strconv.Atoi(mins)
		if m > 59 || 60*h+m > 24*60 {
			p.Add(noTime(at, hours, mins))
			ok = false
		}
		return 60*h + m
	}
	ok = true
	if m := rehearsalForm.FindStringSubmatch(text); m != nil {
		s = DayEntry{FromMin: minutes(m[1], m[2]), ToMin: minutes(m[3], m[4]), Span: at}
		if ok && s.ToMin <= s.FromMin {
			p.Add(backwards(at, text))
			ok = false
		}
		return s, ok
	}
	if m := showForm.FindStringSubmatch(text); m != nil {
		s = DayEntry{FromMin: minutes(m[1], m[2]), Show: true, Span: at}
		s.ToMin = s.FromMin + int(math.Ceil(showS/60))
		return s, ok
	}
	p.Add(noEntry(at, text))
	return s, false
}

// ClockText writes minutes since midnight as a time of day: "9:05"; below 0, "23:50 the day before".
func ClockText(min int) string {
	if min < 0 {
		return ClockText(min+24*60) + " the day before"
	}
	return fmt.Sprintf("%d:%02d", min/60%24, min%60)
}

// Hours writes minutes as hours and minutes: "4 h", "1 h 30 min", "45 min".
func Hours(min int) string {
	switch h, m := min/60, min%60; {
	case h == 0:
		return fmt.Sprintf("%d min", m)
	case m == 0:
		return fmt.Sprintf("%d h", h)
	default:
		return fmt.Sprintf("%d h %d min", h, m)
	}
}

// CheckLife takes the run time of a set of batteries and reports one that no pack has.
func CheckLife(lifeS float64) (lifeMin int, fault *source.Fault) {
	lifeMin = int(lifeS / 60)
	if lifeMin < leastRunMin || lifeMin > 7*24*60 {
		return 0, noLife(lifeMin)
	}
	return lifeMin, nil
}
