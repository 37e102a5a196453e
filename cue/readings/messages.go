package readings

import (
	"fmt"
	"math"
	"strings"

	"backfield/layout/level"
	"backfield/layout/source"
	"backfield/layout/table"
)

// The messages of this package, one function each: what is wrong, in the reader's terms, and what to do.

// Unused is a reading that cannot be used, and is not.
func Unused(at source.Span, what, do string) source.Problem {
	return source.WarningAt("level-unused", at, what+": this reading is not used", do)
}

// NotBrass is a reading of a section that has another instrument than brass.
func NotBrass(at source.Span, section, instrument string) source.Problem {
	return Unused(at, fmt.Sprintf("%s is not a brass section (instrument: %s)", section, instrument),
		"read the largest brass section")
}

// UnknownSet is a reading in a set that the drill does not have.
func UnknownSet(label table.Text, labels []string) source.Problem {
	return Unused(label.Span, fmt.Sprintf("no set %q in the drill", label.V),
		source.DidYouMean(label.V, labels, "write the set in which they stood"))
}

// UnknownMark is a reading at a dynamic that there is not.
func UnknownMark(mark table.Text) source.Problem {
	marks := level.DynamicsNames()
	return Unused(mark.Span, fmt.Sprintf("unknown dynamic mark %q", mark.V),
		source.DidYouMean(mark.V, marks, "it is "+source.OneOf(marks)))
}

// NobodyThere is a reading of somebody who has no dot in the set.
func NobodyThere(name table.Text, set string) source.Problem {
	return Unused(name.Span,
		fmt.Sprintf("%s has no dot in set %s, or no instrument that is known", name.V, set),
		"write the set in which they stood")
}

func twice(first, again *Reading) source.Problem {
	line, _ := first.At.Position()
	return source.WarningAt("level-unused", again.At,
		fmt.Sprintf("%s is read twice, %g here and %g in line %d: neither is used", again.Name, again.Read, first.Read,
			line),
		"keep the one that you trust, or read it again")
}

// nearBackground is about a reading that the background covers.
func nearBackground(r *Reading, backgroundDBA float64) source.Problem {
	do := "wait until it is quieter and read it again, or remove the line"
	if r.Kind == "noise" {
		do = "read it nearer to the stack, write the place as `at`, or wait until it is quieter"
	}
	return source.WarningAt("level-noise", r.At,
		fmt.Sprintf("%g dBA is less than 3 dB above the background of %g dBA, so it says nothing: it is not used",
			r.Read, backgroundDBA), do)
}

// loudBackground is about a background that covers most readings.
func loudBackground(b *Reading, covered []Reading) source.Problem {
	var words []string
	for _, r := range covered {
		words = append(words, fmt.Sprintf("%s (%g)", r.label(), r.Read))
	}
	return source.WarningAt("level-noise", b.At,
		fmt.Sprintf("the background of %g dBA is within 3 dB of these readings, or over them: %s. None of them is used",
			b.Read, strings.Join(words, ", ")),
		"read the background again, while nobody plays")
}

// label names a reading for a list.
func (r *Reading) label() string {
	if r.Kind == "solo" {
		return r.Name
	}
	return r.Kind
}

// odd is a reading that may be right, and most likely is not.
func odd(at source.Span, what, do string) source.Problem {
	return source.WarningAt("level-odd", at, what, do)
}

func oddBackground(b *Reading) source.Problem {
	return odd(b.At, fmt.Sprintf("a background of %g dBA; usual is %d to %d", b.Read, quietDBA, loudDBA),
		"read it again, dBA slow, while nobody plays")
}

func oddNominal(r *Reading) source.Problem {
	return odd(r.At, fmt.Sprintf("by this, noise at nominal has %.0f dB at 1 m from the stack; usual is %d to %d",
		r.DB, leastNominalDB, mostNominalDB),
		"check the fader (0), the channel's meter, the stack and its trim, and read it again")
}

// ringsTogether blames the noise for rings that are all off by about the same.
func ringsTogether(noise *Reading, rings int, db float64) source.Problem {
	return odd(noise.At, fmt.Sprintf("by this, all %d fixed mics ring with the fader about %s than computed, so most "+
		"likely this reading is wrong, not theirs", rings, lower(db)),
		"check the fader (0), the channel's meter, the stack and its trim, and read the noise again")
}

func oddBand(r *Reading) source.Problem {
	return odd(r.At, fmt.Sprintf("by this, everybody is %+.0f dB against the table; usual is %d to %d", r.DB,
		leastBandDB, mostBandDB),
		"check who played, at which dots and how loudly, and that the loudspeakers were off, and read it again")
}

// solosTogether blames the brass for soloists who are all off by about the same.
func solosTogether(brass *Reading, solos int, db float64) source.Problem {
	return odd(brass.At, fmt.Sprintf("by this, all %d soloists play about %.0f dB %s than everybody, so most likely "+
		"this reading is wrong, not theirs", solos, math.Abs(db), louder(db)),
		"check who played, at which dots and how loudly, and that the loudspeakers were off, and read the brass again")
}

func oddSolo(r *Reading, brass *Reading) source.Problem {
	what := fmt.Sprintf("by this, %s plays %.0f dB %s than everybody; usual is up to %d", r.Name, math.Abs(r.DB),
		louder(r.DB), mostPlayerDB)
	if brass != nil && r.Read > brass.Read {
		what += fmt.Sprintf(". It is more than the whole %s section (%g dBA)", brass.Name, brass.Read)
	}
	return odd(r.At, what, "check the player and the set, and that the loudspeakers were off, and read it again")
}

func swapped(a, b *Reading) source.Problem {
	line, _ := b.At.Position()
	return odd(a.At, fmt.Sprintf("by this and line %d, %s plays %.0f dB %s than everybody and %s %.0f dB %s: most "+
		"likely the two readings are swapped", line, a.Name, math.Abs(a.DB), louder(a.DB), b.Name, math.Abs(b.DB),
		louder(b.DB)),
		fmt.Sprintf("swap %g and %g, or read both again", a.Read, b.Read))
}

func oddRing(r *Reading) source.Problem {
	return odd(r.At, fmt.Sprintf("by this, %s rings with the fader %s than computed; usual is up to %d", r.Name,
		lower(r.DB), mostRingDB),
		"check the fader, the mic's place and its preamp, and that all other mics were closed, and read it again")
}

// lower words how far the fader of a ring is off.
func lower(ringDB float64) string {
	if ringDB < 0 {
		return fmt.Sprintf("%.0f dB higher", -ringDB)
	}
	return fmt.Sprintf("%.0f dB lower", ringDB)
}

func louder(db float64) string {
	if db < 0 {
		return "softer"
	}
	return "louder"
}
