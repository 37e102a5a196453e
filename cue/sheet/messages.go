package sheet

import (
	"fmt"
	"math"

	"backfield/layout/source"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

func badDay(at source.Span, what, do string, notes ...source.Note) source.Problem {
	return source.ErrorAt("bad-day", at, what, do, notes...)
}

func overlap(at source.Span, text string, before DayEntry) source.Problem {
	return badDay(at,
		fmt.Sprintf("%s begins before the entry ahead of it is over, at %s", text, ClockText(before.ToMin)),
		"write the day in order, without overlap",
		source.Note{Span: before.Span, Text: "the entry ahead of it"})
}

func noTime(at source.Span, hours, minutes string) source.Problem {
	return badDay(at, fmt.Sprintf("%s:%s is no time of day", hours, minutes),
		"hours go from 0 to 24, minutes from 00 to 59")
}

func backwards(at source.Span, text string) source.Problem {
	return badDay(at, fmt.Sprintf("%s ends before it begins", text),
		"write the earlier time first, on a clock of 24 hours; a rehearsal past midnight is another day's")
}

func noEntry(at source.Span, text string) source.Problem {
	what := "an entry of the day is empty"
	if text != "" {
		what = fmt.Sprintf("%q is no part of a day", text)
	}
	return badDay(at, what, `write "9:00-12:00" for a rehearsal, or "20:30 show"; commas between`)
}

func noTimeToChange(show DayEntry, freeMin int) source.Problem {
	minutes := source.Count(float64(max(freeMin, 0)), "minute")
	return badDay(show.Span,
		fmt.Sprintf("only %s before the show at %s: no time to change the batteries", minutes, ClockText(show.FromMin)),
		fmt.Sprintf("leave %d minutes before it", ChangeMin))
}

func showTooLong(show DayEntry, lengthMin, usableMin int) source.Problem {
	needMin := int(math.Ceil(float64(lengthMin) / (1 - Reserve)))
	return badDay(show.Span,
		fmt.Sprintf("from line-up to pack-up the show takes %s, and the batteries are good for %s",
			Hours(lengthMin), Hours(usableMin)),
		fmt.Sprintf("take batteries that run for %s or more", Hours(needMin)))
}

func noLife(lifeMin int) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("batteries that run for %s", Hours(lifeMin)),
		Do:   `write how long a pack runs on fresh ones, such as "5 h" or "4.5 h"`,
	}
}
