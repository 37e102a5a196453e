package osctype

import (
	"math"
	"strconv"
	"testing"
)

// Every number type holds the numbers it takes, gives them back, and stops at its ends.
func TestNumbers(t *testing.T) {
	for _, x := range All {
		if x.Kind != Number {
			continue
		}
		for _, v := range []float64{0, 1, -1, 7, -1000} {
			if !x.Takes(v) || x.Value(x.Bits(v)) != v {
				t.Errorf("%c holds %v as %v", x.Tag, v, x.Value(x.Bits(v)))
			}
			if word := x.Word(x.Bits(v), ""); word != strconv.FormatFloat(v, 'f', -1, 64) {
				t.Errorf("%c writes %v as %s", x.Tag, v, word)
			}
		}
		if x.Takes(0.5) == x.Whole || x.Whole && (x.Value(x.Bits(0.5)) != 1 || x.Value(x.Bits(-0.5)) != -1) {
			t.Errorf("%c holds 0.5 as %v", x.Tag, x.Value(x.Bits(0.5)))
		}
		if x.Takes(math.Inf(1)) || x.Takes(2*x.Most) || !x.Takes(x.Most) || !x.Takes(-x.Most) {
			t.Errorf("%c does not end at %v", x.Tag, x.Most)
		}
		for _, v := range []float64{x.Most, -x.Most} {
			if got := x.Value(x.Bits(v)); got != v {
				t.Errorf("%c holds its end %v as %v", x.Tag, v, got)
			}
			if got := x.Value(x.Bits(4 * v)); math.Abs(got) < x.Most || math.IsInf(got, 0) || got > 0 != (v > 0) {
				t.Errorf("%c holds %v, which is over its end, as %v", x.Tag, 4*v, got)
			}
		}
		if x.Bits(math.Copysign(0, -1)) != 0 {
			t.Errorf("%c has a zero with a sign", x.Tag)
		}
	}
}

// A value of a file fits the types of one kind, and a boolean only one of the two.
func TestFits(t *testing.T) {
	for v, kind := range map[any]ArgKind{1.0: Number, "on": Text, true: Bool, false: Bool} {
		for _, x := range All {
			if want := x.Kind == kind && (kind != Bool || x.Yes == v); x.Fits(v) != want {
				t.Errorf("%v fits %c: %t", v, x.Tag, !want)
			}
		}
	}
	for _, x := range All {
		if x.Fits(nil) || x.Fits([]any{1.0}) || Of(x.Tag).Is != x.Is {
			t.Errorf("%c fits nil, or is found as %q", x.Tag, Of(x.Tag).Is)
		}
	}
	if Of('?') != nil {
		t.Error("a type ? is known")
	}
}

func TestReadText(t *testing.T) {
	for _, text := range []string{"", "a", "abc", "four", "a longer one"} {
		packed := make([]byte, TextSize(text)+4)
		copy(packed, text)
		if got, size, err := ReadText(packed); got != text || size != TextSize(text) || err != nil {
			t.Errorf("%q is read as %q, %d bytes, %v", text, got, size, err)
		}
		packed[TextSize(text)-1] = 1
		if _, _, err := ReadText(packed[:TextSize(text)]); err == nil {
			t.Errorf("%q with padding that is not zero is read", text)
		}
	}
	if _, _, err := ReadText([]byte("four")); err == nil {
		t.Error("a string without an end is read")
	}
}
