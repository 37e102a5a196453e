package cue

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"backfield/layout/osctype"
)

// Extra is an extra message of a cue, as its designer wrote it. Types has an OSC type tag for each argument: i, h, f or
// d for a float64 here, s for a string, T for true and F for false.
type Extra struct {
	Address string `json:"address"`
	Types   string `json:"types"`
	Args    []any  `json:"args"`
}

// Equal reports whether two are the same message.
func (r Extra) Equal(o Extra) bool {
	return r.Address == o.Address && r.Types == o.Types && slices.Equal(r.Args, o.Args)
}

// String is the message in one line: address, types, arguments ("/room/2/mute i 1").
func (r Extra) String() string {
	words := []string{r.Address}
	if r.Types != "" {
		words = append(words, r.Types)
	}
	for _, a := range r.Args {
		switch a := a.(type) {
		case float64:
			words = append(words, strconv.FormatFloat(a, 'f', -1, 64))
		case string:
			words = append(words, strconv.Quote(a))
		}
	}
	return strings.Join(words, " ")
}

// check reports arguments that do not match the types.
func (r Extra) check() error {
	if len(r.Args) != len(r.Types) {
		return fmt.Errorf("%s has %d arguments for the types %q", r.Address, len(r.Args), r.Types)
	}
	for i, a := range r.Args {
		if t := osctype.Of(r.Types[i]); t == nil || !t.Fits(a) {
			return fmt.Errorf("%s: argument %d, %v, is not of type %q", r.Address, i+1, a, r.Types[i])
		}
	}
	return nil
}
