package mixer

import (
	"fmt"
	"strconv"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
	"backfield/osc/scale"
)

// The problems of this package, one function each: what is wrong, in the reader's terms, and what to do.

func noTable(f *source.File, name string) source.Problem {
	return source.WarningAt("mixer-no-"+name, f.Whole(),
		fmt.Sprintf("mixer.toml has no [%s], so the mixer is sent no %s", name, name),
		fmt.Sprintf("add the table, or set every %s by hand from snapshots.csv", name))
}

func badWhole(name string, v table.Int, lo, hi int) source.Problem {
	return source.ErrorAt("mixer-range", v.Span,
		fmt.Sprintf("%s = %d is out of range (%d to %d)", name, v.V, lo, hi),
		"write a whole number in this range")
}

func panWithUnit(at source.Span) source.Problem {
	return source.ErrorAt("bad-quantity", at,
		"a pan has no unit",
		"write a number from -1 (left) to 1 (right)")
}

func ownWithUnit(at source.Span) source.Problem {
	return source.ErrorAt("bad-quantity", at,
		"the numbers of this parameter are written without a unit",
		"write the number alone; `unit` says what it is in")
}

func unevenPan(at source.Span, step float64) source.Problem {
	return source.ErrorAt("mixer-step", at,
		fmt.Sprintf("a pan step of %v does not divide center-to-side into whole steps", step),
		"write a step such as 0.01, 0.02 or 0.05")
}

func unknownDelayUnit(at source.Span, name string) source.Problem {
	names := delayUnitNames()
	return source.ErrorAt("mixer-unit", at,
		fmt.Sprintf("unknown unit of delay %q", name),
		source.DidYouMean(name, names, "write "+source.OneOf(names)))
}

func unknownManual(word table.Text) source.Problem {
	words := manualWord{}.Words()
	return source.ErrorAt("mixer-manual", word.Span,
		fmt.Sprintf("unknown end of manual %q", word.V),
		source.DidYouMean(word.V, words, "write "+source.OneOf(words)))
}

func unknownMoves(word table.Text) source.Problem {
	words := movesWord{}.Words()
	return source.ErrorAt("mixer-moves", word.Span,
		fmt.Sprintf("unknown way for a delay to move %q", word.V),
		source.DidYouMean(word.V, words, "write "+source.OneOf(words)))
}

func glideCoarse(at source.Span, stepMS float64) source.Problem {
	return source.ErrorAt("glide-coarse", at,
		fmt.Sprintf("a delay that moves in steps of %.4g ms clicks, it cannot glide (at most 0.2 ms)", stepMS),
		"write the mixer's finer step, or moves = \"closed\" or \"cues\"")
}

func noSampleRate(at source.Span) source.Problem {
	return source.ErrorAt("missing-key", at,
		`a delay in samples needs the key "sample_rate"`,
		"add it, in Hz: sample_rate = 48000")
}

func badSampleRate(v table.Num) source.Problem {
	return source.ErrorAt("mixer-range", v.Span,
		fmt.Sprintf("a sample rate of %v Hz is out of range (1000 to 1000000 Hz)", v.V),
		"write it in Hz: sample_rate = 48000")
}

func uselessSampleRate(at source.Span, unit string) source.Problem {
	return source.ErrorAt("mixer-unit", at,
		"a delay in "+unit+" has no use for a sample rate",
		`write unit = "samples", or remove this`)
}

func noLongestDelay(at source.Span, unit string) source.Problem {
	return source.ErrorAt("missing-key", at,
		`the key "max" is missing: the longest delay of this mixer`,
		"add it, in "+unit)
}

func noSwitch(at source.Span, name string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		fmt.Sprintf("a %s is not a switch", name),
		"write "+scale.Forms)
}

func notInDB(at source.Span, name string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		fmt.Sprintf("a %s is not in dB", name),
		"use { from = [..], to = [..] } or { table = [[in, out], ..] }")
}

func scaleElsewhere(at source.Span, x *Parameter, lo, hi float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("this scale covers %v to %v, outside the range of a %s", lo, hi, x.Name),
		fmt.Sprintf("cover %v to %v", x.lo, x.hi))
}

func outsideScale(at source.Span, name string, v float64, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("%s = %v is outside the range of this %s and its scale", name, v, x.Name),
		fmt.Sprintf("write a number from %v to %v", max(x.lo, -scale.Largest), min(x.hi, scale.Largest)))
}

func emptyRange(at source.Span, least, most float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("min %v is not below max %v", least, most),
		"write a max that is above min")
}

func badStep(at source.Span, step float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a step of %v is out of range", step),
		"write one over 0.000001 and smaller than max minus min")
}

func scaleOverflows(at source.Span, x *Parameter, v float64) source.Problem {
	return source.ErrorAt("mixer-overflow", at,
		fmt.Sprintf("type %c cannot hold %g", x.of.Tag, v),
		`32-bit whole numbers end at 2147483647; use type "h" or "d" if the mixer takes it`)
}

func coarse(at source.Span, x *Parameter, values float64) source.Problem {
	return source.WarningAt("mixer-coarse", at,
		fmt.Sprintf("sent as a whole number, this %s has only %v values", x.Name, values),
		`use type "f", or a scale with more values, unless the mixer is that coarse`)
}

func offTooLarge(at source.Span) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("off is out of range (%g at most)", float64(scale.Largest)),
		"write the number that the mixer takes as silence")
}

func offNotWhole(at source.Span, x *Parameter, off float64) source.Problem {
	return source.ErrorAt("mixer-overflow", at,
		fmt.Sprintf("type %c cannot hold %v", x.of.Tag, off),
		`write a whole number, or use type "f"`)
}

func offOverflows(at source.Span, x *Parameter, off float64) source.Problem {
	return source.ErrorAt("mixer-overflow", at,
		fmt.Sprintf("type %c cannot hold %v", x.of.Tag, off),
		"write a 32-bit number")
}

func loudOff(at source.Span, off, softest float64) source.Problem {
	return source.WarningAt("mixer-loud-off", at,
		fmt.Sprintf("off = %v is louder than the softest level of the scale, %v", off, softest),
		"a closed channel must make no sound: check this number on the mixer")
}

func noOff(at source.Span) source.Problem {
	return source.ErrorAt("mixer-off", at,
		"nothing says what is sent for the level of a closed channel",
		"add off = the number that the mixer takes as minus infinity")
}

func muteScale(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"a mute is a switch",
		"write scale = { on = 1, off = 0 }, where on is muted")
}

func takenName(name table.Text) source.Problem {
	return source.ErrorAt("mixer-param-name", name.Span,
		fmt.Sprintf("%q already means something else", name.V),
		"give this parameter another name")
}

func badName(name table.Text) source.Problem {
	return source.ErrorAt("mixer-param-name", name.Span,
		fmt.Sprintf("%q cannot be the name of a parameter", name.V),
		"use lower-case letters, digits and _, starting with a letter, 32 characters at most")
}

func tooManyOwn(at source.Span) source.Problem {
	return source.ErrorAt("mixer-param-name", at,
		fmt.Sprintf("a mixer has at most %d parameters of its own", maxOwn),
		"remove those that no cue needs")
}

func badUnit(unit table.Text) source.Problem {
	return source.ErrorAt("mixer-unit", unit.Span,
		fmt.Sprintf("%q cannot be a unit", unit.V),
		`write 1 to 8 letters, such as "dB", or "%"; it is for display only`)
}

func notOfSwitch(at source.Span, key string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"a switch has no "+key,
		"remove it, or give this parameter a scale of numbers")
}

func defaultOfSwitch(at source.Span, v float64) source.Problem {
	return source.ErrorAt("mixer-default", at,
		fmt.Sprintf("this parameter is a switch, and its default is %v", v),
		"write true (on) or false (off)")
}

func defaultNoNumber(at source.Span, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-default", at,
		fmt.Sprintf("the default of %s is not a number", x.Name),
		"write a number, or make it a switch: scale = { on = 1, off = 0 }")
}

func defaultOutside(at source.Span, v float64, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a default of %v is out of range for %s (%v to %v)", v, x.Name, x.lo, x.hi),
		"write a default in this range, or change min and max")
}

func sameAddress(at source.Span, address string, other *Parameter, first source.Span) source.Problem {
	return source.ErrorAt("mixer-same-address", at,
		fmt.Sprintf("%s is also the address of [%s]", address, other.table()),
		"give each parameter its own address",
		source.Note{Span: first, Text: "first used here"})
}

func parameterAddress(at source.Span, m osc.Message, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-same-address", at,
		fmt.Sprintf("%s is also the address of [%s]", m.Address, x.table()),
		"give it its own address")
}

func tooLong(at source.Span, what string, size, room int) source.Problem {
	return source.ErrorAt("mixer-too-long", at,
		fmt.Sprintf("%s takes %d bytes, and a packet holds %d", what, size, room),
		"shorten it, or raise max_packet in mixer.toml")
}

func badExtra(address table.Text, f source.Fault) source.Problem {
	if before, after, ok := strings.Cut(address.V, " "); ok && f.Lo == len(before) {
		var args []string
		for _, word := range strings.Fields(after) {
			if _, err := strconv.ParseFloat(word, 64); err != nil {
				word = strconv.Quote(word)
			}
			args = append(args, word)
		}
		return source.ErrorAt("raw-address", table.Inside(address, f.Lo, f.Hi), "an OSC address has no spaces",
			fmt.Sprintf("write address = %q and args = [%s]", before, strings.Join(args, ", ")))
	}
	return source.ErrorAt("raw-address", table.Inside(address, f.Lo, f.Hi), f.What, f.Do)
}

func extraParameter(at source.Span, m osc.Message, c Control) source.Problem {
	return source.ErrorAt("raw-parameter", at,
		fmt.Sprintf("%s is the %s of channel %d, which the cues set and the run sends again",
			m.Address, c.Param, c.Channel),
		"set it by its name, or remove this message")
}

func listedTwice(to table.Text) source.Problem {
	return source.ErrorAt("mixer-twice", to.Span,
		to.V+" is listed twice",
		"remove it, or write the address of the other mixer")
}

func badTolerance(at source.Span, tolerance float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a tolerance of %v is out of range (0 to %v)", tolerance, maxTolerance),
		"write a number in this range")
}

func looseEcho(at source.Span, tolerance float64, x *Parameter) source.Problem {
	what := "muted and open count as the same"
	if x.own != nil {
		what = "on and off of " + x.Name + " count as the same"
	}
	return source.ErrorAt("mixer-echo", at,
		fmt.Sprintf("with a tolerance of %v, %s", tolerance, what),
		"write a smaller tolerance: tolerance = 0")
}

func queryWithoutAddress(at source.Span) source.Problem {
	return source.ErrorAt("mixer-query", at,
		"this query does not say which value it asks for",
		`write address = "{address}", or args = ["{address}"]`)
}

func queryThatSets(at source.Span) source.Problem {
	return source.ErrorAt("mixer-query", at,
		"this query would set the value instead of asking for it",
		"ask with the address alone (args = []), or use a separate address for queries")
}

func recallWithoutStore(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scene", at,
		"[recall] has no [store]",
		"add [store] with its address and slots: it says which slots there are")
}

func recallIsStore(at, store source.Span) source.Problem {
	return source.ErrorAt("mixer-same-address", at,
		"the same message stores and recalls a scene",
		"give each its own address or argument",
		source.Note{Span: store, Text: "stored here"})
}

func noSlot(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scene", at,
		"this message does not say which slot",
		`put {slot} into the address, or write args = ["{slot}"]`)
}

func noChannel(channel table.Int, channels int) source.Problem {
	return source.ErrorAt("mixer-range", channel.Span,
		fmt.Sprintf("this mixer has no channel %d", channel.V),
		fmt.Sprintf("write 1 to %d, or change the key \"channels\"", channels))
}

func ceilingTwice(channel table.Int, first source.Span) source.Problem {
	return source.ErrorAt("mixer-twice", channel.Span,
		fmt.Sprintf("channel %d already has a ceiling", channel.V),
		"keep one of the two",
		source.Note{Span: first, Text: "first given here"})
}

func badCeiling(at source.Span, v float64, level *Parameter) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a ceiling of %v dB is outside the range of the level", v),
		fmt.Sprintf("write one from %v to %v dB", max(level.lo, -scale.Largest), min(level.hi, scale.Largest)))
}
