package sheet

import (
	"fmt"
	"math"

	"backfield/layout/source"
)

// The messages of this package, one function each.

func badDay(at source.Span, what, do string, notes ...source.Note) source.Problem {
	return source.ErrorAt("bad-day", at, what, do, notes...)
}

func overlap(at source.Span, text string, before DayEntry) source.Problem {
	return badDay(at,
		fmt.Sprintf("%s overlaps the entry before it, which ends at %s", text, ClockText(before.ToMin)),
		"write the day in order, without overlaps",
		source.Note{Span: before.Span, Text: "the entry before it"})
}

func noTime(at source.Span, hours, minutes string) source.Problem {
	return badDay(at, fmt.Sprintf("%s:%s is not a time of day", hours, minutes),
		"hours go from 0 to 24, minutes from 00 to 59")
}

func backwards(at source.Span, text string) source.Problem {
	return badDay(at, fmt.Sprintf("%s ends before it begins", text),
		"write the earlier time first, on a 24-hour clock; a rehearsal past midnight goes into another day")
}

func noEntry(at source.Span, text string) source.Problem {
	what := "an entry of the day is empty"
	if text != "" {
		what = fmt.Sprintf("%q is neither a rehearsal nor a show", text)
	}
	return badDay(at, what, `write "9:00-12:00" for a rehearsal and "20:30 show" for a show, separated by commas`)
}

func noTimeToChange(show DayEntry, freeMin int) source.Problem {
	minutes := source.Count(float64(max(freeMin, 0)), "minute")
	return badDay(show.Span,
		fmt.Sprintf("only %s to change the batteries before the show at %s", minutes, ClockText(show.FromMin)),
		fmt.Sprintf("leave %d minutes before it", ChangeMin))
}

func showTooLong(show DayEntry, lengthMin, usableMin int) source.Problem {
	needMin := int(math.Ceil(float64(lengthMin) / (1 - Reserve)))
	return badDay(show.Span,
		fmt.Sprintf("from line-up to pack-up the show takes %s, and the batteries last %s with the reserve",
			Hours(lengthMin), Hours(usableMin)),
		fmt.Sprintf("use batteries that run for %s or more", Hours(needMin)))
}

func noLife(lifeMin int) *source.Fault {
	return &source.Fault{
		What: fmt.Sprintf("a battery life of %s is out of range (30 min to 7 days)", Hours(lifeMin)),
		Do:   `write how long a pack runs on fresh batteries, such as "5 h" or "4.5 h"`,
	}
}
