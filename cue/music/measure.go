package music

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"

	"backfield/cue/clock"
	"backfield/cue/notes"
	"backfield/cue/repeats"
	"backfield/layout/source"
)

// measure reads one measure of one part.
func (x *partwise) measure(e *notes.Element) error {
	x.bar++
	x.tags = append(x.tags, measureTag{e.At.Start, x.part, e.Attr("number")})
	if x.part == 0 {
		if len(x.c.bars) >= mostMeasures {
			return fmt.Errorf("more than %d measures", mostMeasures)
		}
		number := e.Attr("number")
		x.c.bars = append(x.c.bars,
			bar{number: number, span: e.At, pickup: x.bar == 0 && (e.Attr("implicit") == "yes" || number == "0")})
		x.implicit = append(x.implicit, e.Attr("implicit") == "yes" || number == "0")
		x.held = append(x.held, 0)
	} else if x.bar >= len(x.c.bars) {
		return fmt.Errorf("this part has more than the %d measures of the first", len(x.c.bars))
	}
	x.place, x.filled, x.noteAt, x.noteTo = 0, 0, 0, 0
	if len(x.within) > mostSigns {
		return fmt.Errorf("more than %d tempos, marks and fermatas", mostSigns)
	}
	for _, k := range e.Kids {
		var err error
		switch k.Name {
		case "attributes":
			err = x.attributes(k)
		case "note":
			err = x.note(k)
		case "backup", "forward":
			var d float64
			if d, err = x.duration(k); k.Name == "backup" {
				d = -d
			}
			x.place = math.Max(x.place+d, 0)
		case "direction":
			err = x.direction(k)
		case "sound":
			if text := notes.UnreadSound(k); text != "" {
				x.p.Idle(k.At, text)
			}
			err = x.sound(k, x.place+x.offset(k))
		case "barline":
			x.barline(k)
		}
		if err != nil {
			return err
		}
		x.filled = math.Max(x.filled, x.place)
	}
	x.held[x.bar] = math.Max(x.held[x.bar], x.filled)
	x.repeats.EndMeasure(x.bar, x.filled)
	if x.held[x.bar] > mostQuarters {
		return fmt.Errorf("measure %q lasts %g quarter notes, which is too long", clip(e.Attr("number")), x.held[x.bar])
	}
	if x.part == 0 {
		x.c.bars[x.bar].meter = x.meter
	}
	return nil
}

func (x *partwise) attributes(e *notes.Element) error {
	if err := x.notes.Attributes(e, x.bar, x.place); err != nil {
		return err
	}
	if text := e.Say("divisions"); text != "" {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || !(v > 0 && v <= 1e6) {
			return fmt.Errorf("divisions of %q", clip(text))
		}
		x.divisions = v
	}
	for _, k := range e.All("time") {
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

func (x *partwise) duration(e *notes.Element) (quarters float64, err error) {
	text := e.Say("duration")
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || !(v >= 0 && v <= 1e9) {
		return 0, fmt.Errorf("a duration of %q", clip(text))
	}
	return v / x.divisions, nil
}

func (x *partwise) note(e *notes.Element) error {
	var d float64
	if e.Kid("grace") == nil {
		var err error
		if d, err = x.duration(e); err != nil {
			return err
		}
	}
	if e.Kid("chord") == nil {
		x.noteAt, x.noteTo = x.place, x.place+d
		x.place += d
	}
	if err := x.notes.Note(e, x.bar, x.noteAt, x.noteAt+d); err != nil {
		return err
	}
	if e.Attr("time-only") != "" && x.timed.File == nil {
		x.timed = e.At
	}
	if notes.CueSized(e) && x.small != x.part+1 {
		x.small = x.part + 1
		x.p.Idle(e.At, fmt.Sprintf("the small notes (size \"cue\") from %s on: they count as cue notes, which are not "+
			"played", x.whereIn(e.At)))
	}
	for _, n := range e.All("notations") {
		for _, k := range n.All("dynamics") {
			if text := notes.UnreadMark(k); text != "" {
				x.p.Idle(k.At, text)
			}
		}
		if k := n.Kid("fermata"); k != nil {
			x.within = append(x.within,
				inBar{bar: x.bar, part: x.part, at: x.noteAt, to: x.noteTo, fermata: true, span: k.At})
		}
	}
	return nil
}

// offset is how far a direction's or a sound's effect is from where it is written. That of a direction is for the eye
// only unless it says otherwise.
func (x *partwise) offset(e *notes.Element) float64 {
	k := e.Kid("offset")
	if k == nil || e.Name == "direction" && k.Attr("sound") != "yes" {
		return 0
	}
	v, err := strconv.ParseFloat(strings.TrimSpace(k.Text), 64)
	if err != nil || math.Abs(v) > 1e9 {
		return 0
	}
	return v / x.divisions
}

func (x *partwise) direction(e *notes.Element) error {
	place := x.place + x.offset(e)
	sound := e.Kid("sound")
	if sound != nil {
		if err := x.sound(sound, place+x.offset(sound)); err != nil {
			return err
		}
	}
	if err := x.notes.Direction(e, x.bar, x.place); err != nil {
		return err
	}
	text, at := notes.Words(e), e.At
	for _, t := range e.All("direction-type") {
		for _, k := range t.Kids {
			switch k.Name {
			case "rehearsal":
				if name := clock.MarkName(k.Text); name != "" {
					x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: x.place, mark: name, span: k.At})
				}
			case "metronome":
				x.metronome(k, place, sound)
			case "words":
				if at == e.At {
					at = k.At
				}
			case "coda":
				x.repeats.Coda(k.At, x.bar)
			}
		}
	}
	if text != "" {
		x.words(text, at)
		x.idleWord(e, text, at)
	}
	if text := notes.Unread(e, x.notes.Name(x.part)); text != "" && !repeats.OnlySometimes(notes.Words(e)) {
		x.p.Idle(at, text)
	}
	return nil
}

// words reads the words of a direction, all of them together, for who plays what and when.
func (x *partwise) words(text string, at source.Span) {
	x.repeats.Words(text, at, x.bar)
	switch {
	case repeats.OnlySometimes(text):
		x.p.Add(onlySometimes(at, x.whereIn(at), clip(text), x.at))
	case repeats.Open(text):
		x.p.Add(openTimes(at, x.whereIn(at), clip(text), x.at))
	}
}

// tempoWord begins words that change the tempo for a player, and for nobody else without a number.
var tempoWord = regexp.MustCompile(`(?i)^\s*(poco |molto |sub\.? )*(rit|rall|allarg|accel|string|a tempo|tempo|` +
	`meno mosso|pi[uù] mosso|largo|lento|adagio|andante|moderato|allegr|vivace|presto|slower|faster)`)

// idleWord notes a tempo word that no number is beside: it changes no count's time. Parts may each have the same word,
// and the number may be in one of them; such a word is listed once, or not at all.
func (x *partwise) idleWord(direction *notes.Element, text string, at source.Span) {
	key := fmt.Sprint(x.bar, strings.ToLower(text))
	if !tempoWord.MatchString(text) || x.heard[key] {
		return
	}
	x.heard[key] = true
	sound := direction.Kid("sound")
	numbered := sound != nil && sound.Attr("tempo") != ""
	for _, t := range direction.All("direction-type") {
		numbered = numbered || t.Kid("metronome") != nil
	}
	if !numbered {
		x.p.Idle(at, fmt.Sprintf("the tempo word %q: no number is beside it", clip(text)))
	}
}

func (x *partwise) sound(e *notes.Element, place float64) error {
	x.repeats.Sound(e, x.bar, place)
	if text := e.Attr("tempo"); text != "" {
		v, err := strconv.ParseFloat(strings.TrimSpace(text), 64)
		if err != nil || !(v > 0 && v <= 1e4) {
			return fmt.Errorf("a tempo of %q", clip(text))
		}
		x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: place, tempo: v, span: e.At})
	}
	return nil
}

func (x *partwise) barline(e *notes.Element) {
	x.repeats.Barline(e, x.bar, x.filled)
	if k := e.Kid("fermata"); k != nil && x.bar >= 0 {
		x.within = append(x.within,
			inBar{bar: x.bar, part: x.part, at: math.Max(x.place-1/x.divisions, 0), to: x.place, fermata: true,
				span: k.At})
	}
}

// noteValues are those of beat-unit, in quarters.
var noteValues = map[string]float64{"breve": 8, "whole": 4, "half": 2, "quarter": 1, "eighth": 0.5, "16th": 0.25,
	"32nd": 0.125}

// metronome reads a tempo that is written for the eye. A sound beside it says it exactly, and goes before it.
func (x *partwise) metronome(e *notes.Element, place float64, sound *notes.Element) {
	said := 0.0
	if sound != nil {
		said, _ = strconv.ParseFloat(strings.TrimSpace(sound.Attr("tempo")), 64)
	}
	unit, text := noteValues[e.Say("beat-unit")], e.Say("per-minute")
	v, err := strconv.ParseFloat(text, 64)
	if unit == 0 || err != nil || !(v > 0 && v <= 1e4) || len(e.All("beat-unit")) > 1 {
		if said > 0 {
			return
		}
		x.p.Add(unclearMetronome(e.At, x.at))
		return
	}
	add := unit
	for range min(len(e.All("beat-unit-dot")), 3) {
		add /= 2
		unit += add
	}
	switch {
	case said == 0:
		x.within = append(x.within, inBar{bar: x.bar, part: x.part, at: place, tempo: v * unit, span: e.At})
	case math.Abs(said/(v*unit)-1) > 0.02:
		x.p.Add(metronomeDiffers(e.At, v*unit, said, sound.At))
	}
}
