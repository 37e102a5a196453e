package paper

import (
	"strconv"

	"backfield/cue/sheet"
	"backfield/layout/source"
	"backfield/layout/unit"
)

// Plan reads the day's schedule and how long a pack runs on fresh batteries, as typed, and plans the battery changes.
// Without a day it returns nil. endS is the end of the show, in seconds from its first downbeat. Text that cannot be
// read becomes a problem at its place in the flag --day or --battery.
func Plan(day, battery string, endS float64, p *source.Problems) *sheet.Batteries {
	if day == "" {
		return nil
	}
	lifeMin, known := readLife(battery, p)
	entries := sheet.ReadDay(&source.File{Name: "--day", Text: day}, endS, p)
	var plan sheet.Batteries
	if known {
		plan = sheet.Plan(entries, lifeMin, p)
	}
	return &plan
}

// readLife reads how long a pack runs, in minutes.
func readLife(battery string, p *source.Problems) (lifeMin int, known bool) {
	file := &source.File{Name: "--battery", Text: battery, Order: 1}
	if _, err := strconv.ParseFloat(battery, 64); err == nil {
		p.Error("bad-battery", source.Span{File: file, End: len(battery)}, battery+" has no unit",
			"write "+battery+"h")
		return 0, false
	}
	lifeS, err := unit.Duration.Read(battery)
	if err == nil {
		var fault *source.Fault
		if lifeMin, fault = sheet.CheckLife(lifeS); fault != nil {
			err = fault
		}
	}
	if err != nil {
		p.Error("bad-battery", source.Span{File: file, End: len(battery)}, err.Error(), "")
		return 0, false
	}
	return lifeMin, true
}
