package work

import (
	"reflect"
	"testing"

	"backfield/layout"
	"backfield/layout/sound"
	"backfield/layout/stands"
)

// Questions that differ in any field have other keys. A field that this test does not know fails it, so that none is
// added to the question and left out of its key.
func TestQuestionKeyHasEveryField(t *testing.T) {
	base := solverInput{
		Policy: stands.MostSeats, Gains: []float64{1, 0.5}, Path: []layout.Point{{X: 1, Y: 2, Z: 3}, {X: 4}}, DelayMS: 7,
	}
	others := map[string][]solverInput{
		"Policy": {{Policy: stands.Joint}, {}},
		"Gains":  {{Gains: []float64{1, 0.25}}, {Gains: []float64{1}}, {Gains: []float64{0, 1, 0.5}}},
		"Path": {
			{Path: []layout.Point{{X: 1, Y: 2, Z: 3}, {X: 5}}}, {Path: []layout.Point{{X: 1, Y: 2, Z: 3}}},
			{Path: []layout.Point{{X: 1, Y: 2, Z: 2}, {X: 4}}}, {Path: []layout.Point{{X: 1, Y: 3, Z: 3}, {X: 4}}},
		},
		"DelayMS": {{DelayMS: 8}}, "LaterS": {{LaterS: -0.001}},
	}
	seen := map[string]string{base.key(): "the base input"}
	for i := range reflect.TypeFor[solverInput]().NumField() {
		name := reflect.TypeFor[solverInput]().Field(i).Name
		if len(others[name]) == 0 {
			t.Errorf("the test has no other value for the field %s", name)
		}
		for _, other := range others[name] {
			x := base
			reflect.ValueOf(&x).Elem().Field(i).Set(reflect.ValueOf(other).Field(i))
			if twin, taken := seen[x.key()]; taken {
				t.Errorf("another %s has the key of %s", name, twin)
			}
			seen[x.key()] = "another " + name
		}
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
				Reference: layout.Point{Y: -30}, Aim: stands.Aim{WindowS: 0.03, LeadS: 0.01}, PanSteps: 100,
			},
		}
	}
	var m Memo
	first := m.begin(at())
	if m.begin(at()) != first {
		t.Error("equal values do not compare as equal")
	}
	n := 0
	for ; ; n++ { // the nth number, word or switch of the basis is another
		other, left := at(), n
		changed := change(reflect.ValueOf(&other.acoustics).Elem(), &left) || change(reflect.ValueOf(other.seats), &left)
		if !changed {
			break
		}
		if before := m.begin(at()); m.begin(other) == before {
			t.Errorf("change %d is not seen: %+v", n, other)
		}
	}
	if n < 20 {
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
	case reflect.Slice:
		for i := range v.Len() {
			if change(v.Index(i), n) {
				return true
			}
		}
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
