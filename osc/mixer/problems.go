package mixer

import (
	"fmt"

	"backfield/layout/source"
	"backfield/layout/table"
	"backfield/osc"
	"backfield/osc/scale"
)

// The problems of this package, one function each: what is wrong, in the reader's terms, and what to do.

func noTable(f *source.File, name string) source.Problem {
	return source.WarningAt("mixer-no-"+name, f.Whole(),
		fmt.Sprintf("this mixer has no [%s]: it is sent no %s", name, name),
		fmt.Sprintf("add the table, or set every %s by hand from the run sheet", name))
}

func badWhole(name string, v table.Int, lo, hi int) source.Problem {
	return source.ErrorAt("mixer-range", v.Span,
		fmt.Sprintf("%s cannot be %d", name, v.V),
		fmt.Sprintf("it is a whole number from %d to %d", lo, hi))
}

func panWithUnit(at source.Span) source.Problem {
	return source.ErrorAt("bad-quantity", at,
		"a pan position has no unit",
		"write a number from -1 (left) to 1 (right)")
}

func ownWithUnit(at source.Span) source.Problem {
	return source.ErrorAt("bad-quantity", at,
		"the numbers of a parameter of your own have no unit",
		"write a bare number; `unit` says what it counts")
}

func unevenPan(at source.Span, step float64) source.Problem {
	return source.ErrorAt("mixer-step", at,
		fmt.Sprintf("a pan step of %v does not part the way from centre to one side evenly", step),
		"1 divided by the step must be a whole number: 0.01, 0.02, 0.05")
}

func unknownDelayUnit(at source.Span, name string) source.Problem {
	names := delayUnitNames()
	return source.ErrorAt("mixer-unit", at,
		fmt.Sprintf("no unit of delay %q is known", name),
		source.DidYouMean(name, names, "it is "+source.OneOf(names)))
}

func noSampleRate(at source.Span) source.Problem {
	return source.ErrorAt("missing-key", at,
		`a delay in samples needs the key "sample_rate"`,
		"add it, in Hz: sample_rate = 48000")
}

func badSampleRate(v table.Num) source.Problem {
	return source.ErrorAt("mixer-range", v.Span,
		fmt.Sprintf("a sample rate of %v Hz is none", v.V),
		"write it in Hz, from 1000 to 1000000")
}

func uselessSampleRate(at source.Span, unit string) source.Problem {
	return source.ErrorAt("mixer-unit", at,
		"a sample rate means nothing to a delay in "+unit,
		`write unit = "samples", or leave this out`)
}

func noLongestDelay(at source.Span, unit string) source.Problem {
	return source.ErrorAt("missing-key", at,
		`the key "max" is missing: how long a delay this mixer can make`,
		"add it, in "+unit)
}

func noSwitch(at source.Span, name string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		fmt.Sprintf("a %s is no switch", name),
		"write "+scale.Forms)
}

func notInDB(at source.Span, name string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		fmt.Sprintf("a %s is not in dB", name),
		"use { from = [..], to = [..] } or { table = [[in, out], ..] }")
}

func scaleElsewhere(at source.Span, x *Parameter, lo, hi float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("this scale covers %v to %v, where a %s never is", lo, hi, x.Name),
		fmt.Sprintf("cover %v to %v", x.lo, x.hi))
}

func outsideScale(at source.Span, name string, v float64, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("%s %v lies outside what this %s can be", name, v, x.Name),
		fmt.Sprintf("it and its scale go from %v to %v", max(x.lo, -scale.Largest), min(x.hi, scale.Largest)))
}

func emptyRange(at source.Span, least, most float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("min %v is not below max %v", least, most),
		"leave some way between the two")
}

func badStep(at source.Span, step float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a step of %v is none", step),
		"it is over 0.000001 and smaller than the way from min to max")
}

func scaleOverflows(at source.Span, x *Parameter, v float64) source.Problem {
	return source.ErrorAt("mixer-overflow", at,
		fmt.Sprintf("type %c holds no %g", x.of.Tag, v),
		`whole numbers of 32 bits end at 2147483647; use type "h" or "d" if the mixer takes it`)
}

func coarse(at source.Span, x *Parameter, values float64) source.Problem {
	return source.WarningAt("mixer-coarse", at,
		fmt.Sprintf("as a whole number this %s has only %v values on the wire", x.Name, values),
		`use type "f", or a scale with more room, unless the mixer is that coarse`)
}

func offTooLarge(at source.Span) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("off goes up to %g", float64(scale.Largest)),
		"write the number that the mixer takes for silence")
}

func offNotWhole(at source.Span, x *Parameter, off float64) source.Problem {
	return source.ErrorAt("mixer-overflow", at,
		fmt.Sprintf("type %c holds no %v", x.of.Tag, off),
		`write a whole number, or use type "f"`)
}

func offOverflows(at source.Span, x *Parameter, off float64) source.Problem {
	return source.ErrorAt("mixer-overflow", at,
		fmt.Sprintf("type %c holds no %v", x.of.Tag, off),
		"write a number of 32 bits")
}

func loudOff(at source.Span, off, softest float64) source.Problem {
	return source.WarningAt("mixer-loud-off", at,
		fmt.Sprintf("off = %v is louder than the softest level of the scale, %v", off, softest),
		"a closed channel must be silent: check this number against the mixer")
}

func noOff(at source.Span) source.Problem {
	return source.ErrorAt("mixer-off", at,
		"nothing says what a closed channel's level is sent as",
		"add off = the number that the mixer takes for minus infinity")
}

func muteScale(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"a mute is a switch",
		"write scale = { on = 1, off = 0 }, where on is muted")
}

func takenName(name table.Text) source.Problem {
	return source.ErrorAt("mixer-param-name", name.Span,
		fmt.Sprintf("%q has a meaning already", name.V),
		"give this parameter another name")
}

func badName(name table.Text) source.Problem {
	return source.ErrorAt("mixer-param-name", name.Span,
		fmt.Sprintf("%q is no name for a parameter", name.V),
		"use small letters, digits and _, a letter first, 32 at most")
}

func tooManyOwn(at source.Span) source.Problem {
	return source.ErrorAt("mixer-param-name", at,
		fmt.Sprintf("a mixer has at most %d parameters of its own", maxOwn),
		"leave out those that no cue needs")
}

func badUnit(unit table.Text) source.Problem {
	return source.ErrorAt("mixer-unit", unit.Span,
		fmt.Sprintf("%q is no unit", unit.V),
		`write a few letters, such as "dB", or "%"; it is only shown`)
}

func notOfSwitch(at source.Span, key string) source.Problem {
	return source.ErrorAt("mixer-scale", at,
		"a switch has no "+key,
		"leave it out, or give this parameter a scale of numbers")
}

func defaultOfSwitch(at source.Span, v float64) source.Problem {
	return source.ErrorAt("mixer-default", at,
		fmt.Sprintf("the default of a switch is %v", v),
		"write true or false: a switch is on or off")
}

func defaultNoNumber(at source.Span, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-default", at,
		fmt.Sprintf("the default of %s is no number", x.Name),
		"write a number, or make it a switch: scale = { on = 1, off = 0 }")
}

func defaultOutside(at source.Span, v float64, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a default of %v lies outside what %s can be", v, x.Name),
		fmt.Sprintf("it goes from %v to %v", x.lo, x.hi))
}

func sameAddress(at source.Span, address string, other *Parameter, first source.Span) source.Problem {
	return source.ErrorAt("mixer-same-address", at,
		fmt.Sprintf("%s is the address of [%s] as well", address, other.table()),
		"give each parameter an address of its own",
		source.Note{Span: first, Text: "first used here"})
}

func parameterAddress(at source.Span, m osc.Message, x *Parameter) source.Problem {
	return source.ErrorAt("mixer-same-address", at,
		fmt.Sprintf("%s is the address of [%s] as well", m.Address, x.table()),
		"give it an address of its own")
}

func tooLong(at source.Span, what string, size, room int) source.Problem {
	return source.ErrorAt("mixer-too-long", at,
		fmt.Sprintf("%s takes %d bytes, and a packet has room for %d", what, size, room),
		"shorten it, or raise max_packet in mixer.toml")
}

func badExtra(address table.Text, f source.Fault) source.Problem {
	return source.ErrorAt("raw-address", table.Inside(address, f.Lo, f.Hi), f.What, f.Do)
}

func extraParameter(at source.Span, m osc.Message, place Control) source.Problem {
	return source.ErrorAt("raw-parameter", at,
		fmt.Sprintf("%s is the %s of channel %d, which the cues set and the run sends again",
			m.Address, place.Param, place.Channel),
		"set it by its name, or take this line out")
}

func listedTwice(to table.Text) source.Problem {
	return source.ErrorAt("mixer-twice", to.Span,
		to.V+" is fed twice",
		"take it out, or write the address of the other mixer")
}

func badTolerance(at source.Span, tolerance float64) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a tolerance of %v is none", tolerance),
		fmt.Sprintf("it is a number from 0 to %v", maxTolerance))
}

func looseEcho(at source.Span, tolerance float64, x *Parameter) source.Problem {
	what := "muted is the same as open"
	if x.own != nil {
		what = x.Name + " is on as it is off"
	}
	return source.ErrorAt("mixer-echo", at,
		fmt.Sprintf("to a tolerance of %v, %s", tolerance, what),
		"write a smaller tolerance: tolerance = 0")
}

func queryWithoutAddress(at source.Span) source.Problem {
	return source.ErrorAt("mixer-query", at,
		"nothing says which value is asked for",
		`write address = "{address}", or args = ["{address}"]`)
}

func queryThatSets(at source.Span) source.Problem {
	return source.ErrorAt("mixer-query", at,
		"this would set the value instead of asking for it",
		"ask with the address alone, args = [], or at an address of its own")
}

func recallWithoutStore(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scene", at,
		"this mixer can recall scenes and not store them",
		"add [store] with its address and slots: it says which slots there are")
}

func recallIsStore(at, store source.Span) source.Problem {
	return source.ErrorAt("mixer-same-address", at,
		"a scene is recalled by the message that stores one",
		"give each an address or an argument of its own",
		source.Note{Span: store, Text: "stored here"})
}

func noSlot(at source.Span) source.Problem {
	return source.ErrorAt("mixer-scene", at,
		"every slot is the same to this message",
		`put {slot} into the address, or write args = ["{slot}"]`)
}

func noChannel(channel table.Int, channels int) source.Problem {
	return source.ErrorAt("mixer-range", channel.Span,
		fmt.Sprintf("this mixer has no channel %d", channel.V),
		fmt.Sprintf("its channels are 1 to %d; see the key \"channels\"", channels))
}

func ceilingTwice(channel table.Int, first source.Span) source.Problem {
	return source.ErrorAt("mixer-twice", channel.Span,
		fmt.Sprintf("channel %d has a ceiling already", channel.V),
		"keep one of the two",
		source.Note{Span: first, Text: "first given here"})
}

func badCeiling(at source.Span, v float64, level *Parameter) source.Problem {
	return source.ErrorAt("mixer-range", at,
		fmt.Sprintf("a ceiling of %v dB is none", v),
		fmt.Sprintf("the level goes from %v to %v here", max(level.lo, -scale.Largest), min(level.hi, scale.Largest)))
}
