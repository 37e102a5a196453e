package music

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"backfield/cue/clock"
	"backfield/layout/source"
)

// measure reads one measure of one part.
func (x *partwise) measure(e *element) error {
	x.bar++
	if x.part == 0 {
		if len(x.c.bars) >= mostMeasures {
			return fmt.Errorf("more than %d measures", mostMeasures)
		}
		number := e.attr("number")
		x.c.bars = append(x.c.bars,
			bar{number: number, span: e.at, pickup: x.bar == 0 && (e.attr("implicit") == "yes" || number == "0")})
		x.implicit = append(x.implicit, e.attr("implicit") == "yes" || number == "0")
		x.held = append(x.held, 0)
	} else if x.bar >= len(x.c.bars) {
		return fmt.Errorf("this part has more than the %d measures of the first", len(x.c.bars))
	}
	x.place, x.noteAt, x.noteTo = 0, 0, 0
	if len(x.within) > mostSigns {
		return fmt.Errorf("more than %d tempos, marks and fermatas", mostSigns)
	}
	for _, k := range e.kids {
		var err error
		switch k.name {
		case "attributes":
			err = x.attributes(k)
		case "note":
			err = x.note(k)
		case "backup", "forward":
			var d float64
			if d, err = x.duration(k); k.name == "backup" {
				d = -d
			}
			x.place = math.Max(x.place+d, 0)
		case "direction":
			err = x.direction(k)
		case "sound":
			err = x.sound(k, x.place+x.offset(k))
		case "barline":
			x.barline(k)
		}
		if err != nil {
			return err
		}
		x.held[x.bar] = math.Max(x.held[x.bar], x.place)
	}
	if x.held[x.bar] > mostQuarters {
		return fmt.Errorf("measure %q lasts %g quarter notes, which is too long", clip(e.attr("number")), x.held[x.bar])
	}
	if x.part == 0 {
		x.c.bars[x.bar].meter = x.meter
	}
	return nil
}

func (x *partwise) attributes(e *element) error {
	if text := e.say("divisions"); text != "" {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v > 0 && v <= 1e6) {
			return fmt.Errorf("divisions of %q", clip(text))
		}
		x.divisions = v
	}
	for _, k := range e.all("time") {
		m, err := readMeter(k)
		if err != nil {
			return err
		}
		if x.part == 0 {
			x.meter = m
		}
	}
	return nil
}

func (x *partwise) duration(e *element) (quarters float64, err error) {
	text := e.say("duration")
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0 && v <= 1e9) {
		return 0, fmt.Errorf("a duration of %q", clip(text))
	}
	return v / x.divisions, nil
}

func (x *partwise) note(e *element) error {
	var d float64
	if e.kid("grace") == nil {
		var err error
		if d, err = x.duration(e); err != nil {
			return err
		}
	}
	if e.kid("chord") == nil {
		x.noteAt, x.noteTo = x.place, x.place+d
		x.place += d
	}
	for _, n := range e.all("notations") {
		if k := n.kid("fermata"); k != nil {
			x.within = append(x.within,
				inBar{bar: x.bar, part: x.part, at: x.noteAt, to: x.noteTo, fermata: true, span: k.at})
		}
	}
	return nil
}

// offset is how far a direction's or a sound's effect is from where it is written. That of a direction is for the eye
// only unless it says otherwise.
func (x *partwise) offset(e *element) float64 {
	k := e.kid("offset")
	if k == nil || e.name == "direction" && k.attr("sound") != "yes" {
		return 0
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(k.text), 64)
	if err != nil || math.Abs(v) > 1e9 {
		return 0
	}
	return v / x.divisions
}

// jumpWords are directions in words that send the players elsewhere.
var jumpWords = regexp.MustCompile(`(?i)^\s*(d\.\s?[cs]\.|d[cs] al\b|da capo\b|dal segno\b|to coda\b|repeat\b)`)

func (x *partwise) direction(e *element) error {
	place := x.place + x.offset(e)
	sound := e.kid("sound")
	if sound != nil {
		if err := x.sound(sound, place+x.offset(sound)); err != nil {
			return err
		}
	}
	for _, t := range e.all("direction-type") {
		for _, k := range t.kids {
			switch k.name {
			case "rehearsal":
				if name := clock.MarkName(k.text); name != "" {
					x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: x.place, mark: name, span: k.at})
				}
			case "metronome":
				x.metronome(k, place, sound)
			case "words":
				if jumpWords.MatchString(k.text) {
					x.jump(k.at)
				}
			}
		}
	}
	return nil
}

func (x *partwise) sound(e *element, place float64) error {
	for _, name := range []string{"dacapo", "dalsegno", "tocoda", "forward-repeat"} {
		if v := e.attr(name); v != "" && v != "no" {
			x.jump(e.at)
		}
	}
	if text := e.attr("tempo"); text != "" {
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(v > 0 && v <= 1e4) {
			return fmt.Errorf("a tempo of %q", clip(text))
		}
		x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: place, tempo: v, span: e.at})
	}
	return nil
}

// jump reports that the file is not written out. Once is enough.
func (x *partwise) jump(at source.Span) {
	if x.jumped {
		return
	}
	x.jumped = true
	x.p.Add(hasRepeats(at, x.at))
}

func (x *partwise) barline(e *element) {
	if k := e.kid("repeat"); k != nil {
		x.jump(k.at)
	}
	if k := e.kid("ending"); k != nil {
		x.jump(k.at)
	}
	if k := e.kid("fermata"); k != nil && x.bar >= 0 {
		x.within = append(x.within,
			inBar{bar: x.bar, part: x.part, at: math.Max(x.place-1/x.divisions, 0), to: x.place, fermata: true,
				span: k.at})
	}
}

// noteValues are those of beat-unit, in quarters.
var noteValues = map[string]float64{"breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": 0.5, "16th": 0.25,
	"32nd": 0.125}

// metronome reads a tempo that is written for the eye. A sound beside it says it exactly, and goes before it.
func (x *partwise) metronome(e *element, place float64, sound *element) {
	said := 0.0
	if sound != nil {
		said, _ = strconv.ParseFloat(strings.TrimSpace(sound.attr("tempo")), 64)
	}
	unit, text := noteValues[e.say("beat-unit")], e.say("per-minute")
	v, err := strconv.ParseFloat(text, 64)
	if unit == 0 || err != nil || !(v > 0 && v <= 1e4) || len(e.all("beat-unit")) > 1 {
		if said > 0 {
			return
		}
		x.p.Add(unclearMetronome(e.at, x.at))
		return
	}
	add := unit
	for range min(len(e.all("beat-unit-dot")), 3) {
		add /= 2
		unit += add
	}
	switch {
	case said == 0:
		x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: place, tempo: v * unit, span: e.at})
	case math.Abs(said/(v*unit)-1) > 0.02:
		x.p.Add(metronomeDiffers(e.at, v*unit, said, sound.at))
	}
}
