package form

import (
	"fmt"
	"strings"

	"backfield/layout/source"
	"backfield/layout/table"
)

// The problems of this package, one function each: what is wrong, in the reader's terms, and what to do.

// braced lists the placeholders: "{channel} or {zone}".
func braced(placeholders []string) string {
	if len(placeholders) == 0 {
		return "an address without braces"
	}
	return "{" + strings.Join(placeholders, "} or {") + "}"
}

func noSlash(hi int) source.Fault {
	return source.Fault{Lo: 0, Hi: hi, What: "an OSC address starts with a slash",
		Do: `write it like "/in/{channel}/level"`}
}

func openBrace(at int, placeholders []string) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "this brace is never closed", Do: "write " + braced(placeholders)}
}

func strayBrace(at int, placeholders []string) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "this brace closes nothing", Do: "write " + braced(placeholders)}
}

func emptyPart(at int) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "a part of the address is empty",
		Do: "put a name after each slash"}
}

func doubleSlash(at int) source.Fault {
	return source.Fault{Lo: at, Hi: at + 1, What: "a part of the address is empty",
		Do: "{address} already starts with a slash; remove this one"}
}

func badCharacter(at int, character string) source.Fault {
	return source.Fault{Lo: at, Hi: at + len(character),
		What: fmt.Sprintf("%q is not allowed in an OSC address", character),
		Do:   "use printable ASCII without space # * , ? [ ] { }"}
}

func zoneWithoutSend(length int) *source.Fault {
	return &source.Fault{Lo: 0, Hi: length, What: "only a send has a zone",
		Do: "write {channel}, or put this address under [send]"}
}

func unknownPlaceholder(name string, placeholders []string) *source.Fault {
	return &source.Fault{Lo: 0, Hi: len(name), What: fmt.Sprintf("unknown placeholder {%s}", name),
		Do: source.DidYouMean(name, placeholders, "write "+braced(placeholders))}
}

func addressWidth(lo, hi int) *source.Fault {
	return &source.Fault{Lo: lo, Hi: hi, What: "{address} has no width", Do: "write {address}"}
}

func badWidth(lo, hi int, name, width string) *source.Fault {
	return &source.Fault{Lo: lo, Hi: hi, What: fmt.Sprintf("%q is not a width", width),
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
		fmt.Sprintf("an argument is a number, a string, or true or false, and this is %s", n.Kind),
		`write args like [1, 0.5, "on", true]`)
}

func overflow(at source.Span, tag byte, v float64) source.Problem {
	do := "write a smaller number"
	if tag == 'i' {
		do = "write a 32-bit number, or one with a decimal point"
	}
	return source.ErrorAt("mixer-overflow", at, fmt.Sprintf("type %c cannot hold %v", tag, v), do)
}

func placeholderInText(at source.Span, name string) source.Problem {
	return source.ErrorAt("mixer-argument", at,
		fmt.Sprintf("{%s} must be a whole argument", name),
		fmt.Sprintf("write \"{%s}\" as one argument, and the other text as separate arguments", name))
}

func unknownArgPlaceholder(at source.Span, name string, placeholders []string) source.Problem {
	return source.ErrorAt("mixer-argument", at,
		fmt.Sprintf("unknown placeholder {%s}", name),
		source.DidYouMean(name, placeholders, "write "+braced(placeholders)))
}

func notPrintable(at source.Span, text string) source.Problem {
	return source.ErrorAt("mixer-argument", at,
		fmt.Sprintf("%q is not allowed in an OSC string", text),
		"use printable ASCII")
}
