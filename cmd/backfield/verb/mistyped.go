package verb

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"backfield/layout/source"
)

// Mistyped words an error in the flags of a command line: the flag that was probably meant, or how its value is
// written.
func Mistyped(c *cobra.Command, err error) error {
	var unknown *pflag.NotExistError
	if errors.As(err, &unknown) && unknown.GetSpecifiedShortnames() == "" {
		var names []string
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if !f.Hidden {
				names = append(names, f.Name)
			}
		})
		if near := nearestFlag(unknown.GetSpecifiedName(), names); near != "" {
			return Usage("%w; did you mean --%s?", err, near)
		}
		return Usage("%w", err)
	}
	var value *pflag.InvalidValueError
	if !errors.As(err, &value) {
		return Usage("%w", err)
	}
	text, flag := value.GetValue(), value.GetFlag()
	do := ""
	switch flag.Value.Type() {
	case "float64":
		do = fmt.Sprintf("write a number, such as --%s 0.2", flag.Name)
		if v, err := strconv.ParseFloat(strings.TrimSuffix(text, "%"), 64); err == nil && strings.HasSuffix(text, "%") {
			do = fmt.Sprintf("write a share from 0 to 1: --%s %g", flag.Name, v/100)
		}
	case "duration":
		do = fmt.Sprintf("write a number and its unit, such as --%s 20ms or --%s 30s", flag.Name, flag.Name)
		if _, err := strconv.ParseFloat(text, 64); err == nil {
			do = fmt.Sprintf("it has no unit; write --%s %sms or --%s %ss", flag.Name, text, flag.Name, text)
		}
	case "int", "uint64", "int64":
		do = fmt.Sprintf("write a whole number, such as --%s 3", flag.Name)
	case "bool":
		do = fmt.Sprintf("write --%s alone, or --%s=false", flag.Name, flag.Name)
	default:
		return Usage("%w", err)
	}
	return Usage("--%s %s cannot be read; %s", flag.Name, text, do)
}

// nearestFlag is the flag that a misspelt one means. One without some of its letters, such as txt for text, is as good
// as one with another letter.
func nearestFlag(name string, flags []string) string {
	if near := source.Nearest(name, flags); near != "" {
		return near
	}
	for _, f := range flags {
		if len(name) > 1 && strings.HasPrefix(f, name) {
			return f
		}
	}
	return ""
}
