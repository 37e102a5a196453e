// Package unit turns quantities as people write them ("75 F", "18 ft", "5 yd 6 in", "4 steps", "12 ms")
// into the one unit that the program uses inside, and finishes numbers on a grid of steps. It knows no file.
package unit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// StepM is the marching step: 8 to 5 yards, 22.5 inches, in meters.
const StepM = 22.5 * InchM

// InchM and YardM are exact by definition (international inch and yard, 1959).
const (
	InchM = 0.0254
	YardM = 0.9144
)

// Dimension is a kind of quantity: the unit that a bare number is taken in, and what others are worth.
type Dimension struct {
	Name  string
	Bare  string
	units []named
}

// named is a unit by one of its names: v of it is mul v + shift of the result.
type named struct {
	name       string
	mul, shift float64
}

// The dimensions, each with the unit of its result.
var (
	// Length results in meters.
	Length = Dimension{"a length", "m", []named{
		{"m", 1, 0}, {"meter", 1, 0}, {"meters", 1, 0}, {"metre", 1, 0}, {"metres", 1, 0}, {"cm", 0.01, 0},
		{"mm", 0.001, 0},
		{"ft", 12 * InchM, 0}, {"foot", 12 * InchM, 0}, {"feet", 12 * InchM, 0}, {"'", 12 * InchM, 0},
		{"in", InchM, 0}, {"inch", InchM, 0}, {"inches", InchM, 0}, {"\"", InchM, 0},
		{"yd", YardM, 0}, {"yds", YardM, 0}, {"yard", YardM, 0}, {"yards", YardM, 0},
		{"steps", StepM, 0}, {"step", StepM, 0}}}
	// Delay results in milliseconds.
	Delay = Dimension{"a delay", "ms", []named{{"ms", 1, 0}, {"s", 1000, 0}, {"us", 0.001, 0}}}
	// Duration results in seconds.
	Duration = Dimension{"a duration", "s",
		[]named{{"s", 1, 0}, {"sec", 1, 0}, {"second", 1, 0}, {"seconds", 1, 0}, {"ms", 0.001, 0},
			{"min", 60, 0}, {"minute", 60, 0}, {"minutes", 60, 0},
			{"h", 3600, 0}, {"hour", 3600, 0}, {"hours", 3600, 0}}}
	// Temperature results in degrees Celsius.
	Temperature = Dimension{"a temperature", "C", []named{
		{"C", 1, 0}, {"°C", 1, 0}, {"degC", 1, 0}, {"F", 5. / 9, -32 * 5. / 9}, {"°F", 5. / 9, -32 * 5. / 9},
		{"degF", 5. / 9, -32 * 5. / 9}, {"K", 1, -273.15}}}
	// Level results in decibels.
	Level = Dimension{"a level", "dB", []named{{"dB", 1, 0}}}
)

// LengthIn is Length with another unit for bare numbers, and a step of stepM meters: steps in depth are not
// those of 22.5 in on every grid.
func LengthIn(bare string, stepM float64) Dimension {
	d := Length
	d.Bare, d.units = bare, slices.Clone(d.units)
	for i := range d.units {
		if strings.HasPrefix(d.units[i].name, "step") {
			d.units[i].mul = stepM
		}
	}
	return d
}

// Part is one number with its unit; Unit is "" for a bare number.
type Part struct {
	Value float64
	Unit  string
}

// Parse splits a written quantity into its parts: one, or for a length several ("53 ft 4 in").
func Parse(text string) ([]Part, error) {
	var parts []Part
	rest := strings.TrimSpace(text)
	if rest == "" {
		return nil, fmt.Errorf("is empty")
	}
	for rest != "" {
		n := 0
		for n < len(rest) && strings.IndexByte("+-0123456789.", rest[n]) >= 0 {
			n++
		}
		if n == 0 {
			return nil, fmt.Errorf("%q does not begin with a number", text)
		}
		value, err := strconv.ParseFloat(rest[:n], 64)
		if err != nil || math.IsInf(value, 0) {
			return nil, fmt.Errorf("%q is not a number", rest[:n])
		}
		rest = strings.TrimLeft(rest[n:], " \t")
		n = 0
		for n < len(rest) && strings.IndexByte("+-0123456789. \t", rest[n]) < 0 {
			n++
		}
		parts = append(parts, Part{value, rest[:n]})
		rest = strings.TrimLeft(rest[n:], " \t")
	}
	if len(parts) > 1 {
		for _, p := range parts {
			if p.Unit == "" {
				return nil, fmt.Errorf("%q has a number without a unit", text)
			}
		}
	}
	return parts, nil
}

// Sum adds the parts up in the dimension's own unit.
func (d Dimension) Sum(parts []Part) (float64, error) {
	if len(parts) > 1 && d.Name != Length.Name {
		return 0, fmt.Errorf("%s is one number and one unit", d.Name)
	}
	total := 0.0
	for i, p := range parts {
		name := p.Unit
		if name == "" {
			name = d.Bare
		}
		u := slices.IndexFunc(d.units, func(u named) bool { return u.name == name })
		if u < 0 {
			u = slices.IndexFunc(d.units, func(u named) bool { return strings.EqualFold(u.name, name) })
		}
		if u < 0 {
			return 0, fmt.Errorf("%q is not a unit for %s; use %s", p.Unit, d.Name, d.Units())
		}
		if i > 0 && p.Value < 0 {
			return 0, fmt.Errorf("only the first part of a length may have a sign")
		}
		v := p.Value*d.units[u].mul + d.units[u].shift
		if i > 0 && math.Signbit(parts[0].Value) { // "-0 ft 6 in" has a sign too
			v = -v
		}
		total += v
	}
	if math.IsInf(total, 0) {
		return 0, fmt.Errorf("%s of this size is too large", d.Name)
	}
	return total, nil
}

// Units lists the dimension's units, each by its first name.
func (d Dimension) Units() string {
	var names []string
	for i, u := range d.units {
		if i == 0 || u.mul != d.units[i-1].mul || u.shift != d.units[i-1].shift {
			names = append(names, u.name)
		}
	}
	return strings.Join(names, ", ")
}

// Read is Parse and Sum in one: a quantity as written, in the dimension's own unit.
func (d Dimension) Read(text string) (float64, error) {
	parts, err := Parse(text)
	if err != nil {
		return 0, err
	}
	return d.Sum(parts)
}

// Round finishes v on a grid of the given step, halves upwards: floor(v/step + 1/2 + 1e-9) step. The result
// is cleaned of binary dust so that it prints as it is meant.
func Round(v, step float64) float64 { return onGrid(math.Floor(v/step+0.5+1e-9), step) }

// RoundUp finishes v on the grid without going below it: ceil(v/step - 1e-9) step.
func RoundUp(v, step float64) float64 { return onGrid(math.Ceil(v/step-1e-9), step) }

// RoundSigned finishes v on the grid with halves away from zero, so that left and right mirror:
// sgn(v) floor(|v|/step + 1/2 + 1e-9) step.
func RoundSigned(v, step float64) float64 {
	if v < 0 {
		return 0 - Round(-v, step)
	}
	return Round(v, step)
}

func onGrid(k, step float64) float64 {
	const dust = 1e9
	v := math.Round(k*step*dust) / dust
	if v == 0 {
		return 0 // never -0, which would print as such
	}
	return v
}

// Fahrenheit is a temperature in F of one in C.
func Fahrenheit(airC float64) float64 { return airC*9/5 + 32 }

// bareAirC is the highest air temperature that is taken without its unit: a higher one may well be meant in F.
const bareAirC = 45

// AirInDoubt is what is wrong with an air temperature that has no unit and could be in F; nil where nothing is.
func AirInDoubt(parts []Part) *Doubt {
	if len(parts) != 1 || parts[0].Unit != "" || parts[0].Value <= bareAirC {
		return nil
	}
	v := parts[0].Value
	return &Doubt{fmt.Sprintf("air of %.4g without a unit would be %s", v, AirText(v)),
		fmt.Sprintf(`for Fahrenheit write "%.4g F", for Celsius "%.4g C"`, v, v)}
}

// Doubt is a quantity that could be meant in two ways: what it comes to, and what to write.
type Doubt struct{ What, Do string }

func (d *Doubt) Error() string { return d.What + "; " + d.Do }

// AirText is an air temperature in both scales: "18 C (64 F)".
func AirText(airC float64) string {
	return fmt.Sprintf("%s C (%s F)", Short(airC), Short(math.Round(Fahrenheit(airC))+0))
}

// Short is a number with four digits, and all of those before the period.
func Short(v float64) string {
	if math.Abs(v) >= 1000 && math.Abs(v) < 1e9 {
		return strconv.FormatFloat(v, 'f', 0, 64)
	}
	return fmt.Sprintf("%.4g", v)
}
