package form

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// The problems of this package, one function each: what is wrong, in the reader's terms, and what to do.

// braced words the places that there are: "{channel} or {zone}".
func braced(places []string) string {
	if len(places) == 0 {
		return "an address without braces"
	}
	return "{" + strings.Join(places, "} or {") + "}"
}

func noSlash(hi int) source.Fault {
	return source.Fault{Lo: 0, Hi: hi, What: "an OSC address begins with a slash",
		Do: `write it like "/in/{channel}/level"`}
}

func openBrace(at int, places []string) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "this brace is never closed", Do: "write " + braced(places)}
}

func strayBrace(at int, places []string) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "this brace closes nothing", Do: "write " + braced(places)}
}

func emptyPart(at int) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "a part of the address is empty",
		Do: "each slash is followed by a name"}
}

func doubleSlash(at int) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "a part of the address is empty",
		Do: "what {address} stands for begins with a slash itself; leave this one out"}
}

func badCharacter(at int, character string) source.Fault {
	return source.Fault{Lo: at, Hi: at + len(character),
		What: fmt.Sprintf("%q may not stand in an OSC address", character),
		Do:   "use printable ASCII without space # * , ? [ ] { }"}
}

func zoneWithoutSend(length int) *source.Fault {
	return &source.Fault{Lo: 0, Hi: length, What: "only a send has a zone",
		Do: "write {channel}, or put this address under [send]"}
}

func unknownPlaceholder(name string, places []string) *source.Fault {
	return &source.Fault{Lo: 0, Hi: len(name), What: fmt.Sprintf("no placeholder {%s} is known here", name),
		Do: source.DidYouMean(name, places, "write "+braced(places))}
}

func addressWidth(lo, hi int) *source.Fault {
	return &source.Fault{Lo: lo, Hi: hi, What: "an address has no width", Do: "write {address}"}
}

func badWidth(lo, hi int, name, width string) *source.Fault {
	return &source.Fault{Lo: lo, Hi: hi, What: fmt.Sprintf("%q is no width", width),
		Do: "write 0 and one digit: {" + name + ":02} makes 3 into 03"}
}

func badAddress(t table.Text, f source.Fault) source.Problem {
	return source.ErrorAt("mixer-address", table.Inside(t, f.Lo, f.Hi), f.What, f.Do)
}

func sameForEvery(t table.Text, name string) source.Problem {
	return source.ErrorAt("mixer-address", table.Inside(t, 0, len(t.V)),
		"this address is the same for every "+name,
		fmt.Sprintf("put {%s} where its number goes, or {%s:02} for two digits", name, name))
}

func noArgument(n *table.Node) source.Problem {
	return source.ErrorAt("wrong-type", n.Span,
		fmt.Sprintf("an argument is a number, a string or true or false, and this is %s", n.Kind),
		`write args like [1, 0.5, "on", true]`)
}

func overflow(at source.Span, tag byte, v float64) source.Problem {
	do := "write a smaller number"
	if tag == 'i' {
		do = "write a number of 32 bits, or one with a point"
	}
	return source.ErrorAt("mixer-overflow", at, fmt.Sprintf("type %c holds no %v", tag, v), do)
}

func placeholderInText(at source.Span, name string) source.Problem {
	return source.ErrorAt("mixer-argument", at,
		fmt.Sprintf("{%s} must be an argument by itself", name),
		fmt.Sprintf("write \"{%s}\" between commas, and other text before or after as arguments of their own", name))
}

func unknownArgPlaceholder(at source.Span, name string, places []string) source.Problem {
	return source.ErrorAt("mixer-argument", at,
		fmt.Sprintf("no place {%s} is known here", name),
		source.DidYouMean(name, places, "write "+braced(places)))
}

func notPrintable(at source.Span, text string) source.Problem {
	return source.ErrorAt("mixer-argument", at,
		fmt.Sprintf("%q may not stand in an OSC string", text),
		"use printable ASCII")
}
