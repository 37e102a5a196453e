package work

import (
	"reflect"
	"slices"
	"testing"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// TestInputKeyHasEveryField: inputs that differ in any value have other keys, whatever fields they have.
func TestInputKeyHasEveryField(t *testing.T) {
	one := func() *stretchInput {
		pan, delay := 0.5, 7.0
		return &stretchInput{
			Worn: true, Pan: &pan, DelayMS: &delay,
			Samples: []sampleInput{{At: layout.Point{X: 1, Y: 2, Z: 3}, Policy: stands.MostSeats}, {Policy: stands.Joint}},
		}
	}
	seen := map[string]string{one().key(): "the base input"}
	add := func(what string, x *stretchInput) {
		t.Helper()
		if twin, taken := seen[x.key()]; taken {
			t.Errorf("another %s has the key of %s", what, twin)
		}
		seen[x.key()] = "another " + what
	}
	zero := 0.0
	for _, at := range []struct {
		what string
		edit func(x *stretchInput)
	}{
		{"kind", func(x *stretchInput) { x.Worn = false }},
		{"pan", func(x *stretchInput) { *x.Pan = 0.25 }},
		{"pan, none", func(x *stretchInput) { x.Pan = nil }},
		{"player", func(x *stretchInput) { x.Player = true }},
		{"latency", func(x *stretchInput) { x.LaterMS = -3 }},
		{"delay", func(x *stretchInput) { *x.DelayMS = 8 }},
		{"delay, none", func(x *stretchInput) { x.DelayMS = nil }},
		{"pan and delay of 0", func(x *stretchInput) { x.Pan, x.DelayMS = &zero, &zero }},
		{"policy", func(x *stretchInput) { x.Samples[1].Policy = stands.NeverEarly }},
		{"number of samples", func(x *stretchInput) { x.Samples = x.Samples[:1] }},
	} {
		x := one()
		at.edit(x)
		add(at.what, x)
	}
	n := 0
	for ; ; n++ { // the nth number or switch of the first sample is another
		x, left := one(), n
		policy := x.Samples[0].Policy
		x.Samples[0].Policy = nil
		changed := change(reflect.ValueOf(&x.Samples[0]).Elem(), &left)
		if x.Samples[0].Policy = policy; !changed {
			break
		}
		add("number of a sample", x)
	}
	if fields := reflect.TypeFor[stretchInput]().NumField(); n != 13 || fields != 6 {
		t.Errorf("%d values of a sample and %d fields: the test does not know all", n, fields)
	}
}

// A memo forgets everything as soon as anything that all answers depend on changes.
func TestMemoComparesTheBasisWhole(t *testing.T) {
	at := func() basis {
		return basis{
			[]stands.Seat{{At: layout.Point{Y: -20}, Weight: 1}},
			acoustics{
				System: sound.System{Stacks: []sound.Loudspeaker{{Name: "a", Left: 1, Trim: 1}}, LatencyS: 0.004,
					SpeedMPS: 343},
				Reference: layout.Point{Y: -30},
			},
			PathRules{Moves: "glide"},
		}
	}
	var m Memo
	solved := 0
	solve := func(b basis) *stands.Listeners {
		l := m.begin(b)
		m.paths.get("a path", func() *StretchPath { solved++; return nil })
		return l
	}
	first := solve(at())
	if solve(at()) != first || solved != 1 {
		t.Error("equal values do not compare as equal")
	}
	n := 0
	for ; ; n++ { // the nth number, word or switch of the basis is another
		other, left := at(), n
		changed := change(reflect.ValueOf(&other.acoustics).Elem(), &left) || change(reflect.ValueOf(other.seats), &left)
		sound := changed
		if changed = changed || change(reflect.ValueOf(&other.rules).Elem(), &left); !changed {
			break
		}
		before := solve(at())
		was := solved
		if after := solve(other); solved == was || sound && after == before {
			t.Errorf("change %d is not seen: %+v", n, other)
		}
	}
	if n < 35 {
		t.Errorf("only %d values were changed", n)
	}
}

// change makes the nth value in a tree of structs and lists another; false where there are not that many.
func change(v reflect.Value, n *int) bool {
	switch v.Kind() {
	case reflect.Struct:
		for i := range v.NumField() {
			if change(v.Field(i), n) {
				return true
			}
		}
		return false
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if change(v.Index(i), n) {
				return true
			}
		}
		return false
	case reflect.Pointer:
		return false
	}
	if *n > 0 {
		*n--
		return false
	}
	switch v.Kind() {
	case reflect.Float64:
		v.SetFloat(v.Float() + 1)
	case reflect.Int:
		v.SetInt(v.Int() + 1)
	case reflect.Bool:
		v.SetBool(!v.Bool())
	case reflect.String:
		v.SetString(v.String() + "x")
	default:
		panic("a memo cannot compare a " + v.Kind().String() + " by value")
	}
	return true
}

// TestMemoForgets: an answer that a whole compile did not use is forgotten.
func TestMemoForgets(t *testing.T) {
	var r remembered[int, int]
	var solved []int
	for _, ask := range [][]int{{1, 2}, {1}, {1, 2}} {
		r.turn()
		for _, k := range ask {
			r.get(k, func() int { solved = append(solved, k); return k })
		}
	}
	if !slices.Equal(solved, []int{1, 2, 2}) {
		t.Errorf("computed %v", solved)
	}
}
