package balance

import (
	"math"
	"reflect"
	"testing"

	"backfield/cue/work"
	"backfield/layout/level"
	"backfield/layout/stands"
)

// rememberedScene is a small one, made anew at each call.
func rememberedScene() (level.Conditions, *level.Playing) {
	tuba, _ := level.InstrumentByName("tuba")
	back := 47.0
	return level.Conditions{Air: level.Air{C: 20, HumidityPct: 50}, Seats: []stands.Seat{{Weight: 1}}, BackgroundDB: &back},
		&level.Playing{
			Performers: []level.Performer{{Name: "Tuba 1", Section: "tuba", Instrument: tuba}},
			Worn:       []level.WornMic{{Strip: level.Strip{Name: "Tuba 1", SendDB: []float64{-3}}}},
			Fixed:      []level.FixedMic{{Strip: level.Strip{Name: "pit"}, HighestDB: math.Inf(-1)}},
		}
}

// change changes one leaf of a value after the other, and calls try after each; then it puts the leaf back.
func change(v reflect.Value, path string, try func(path string)) {
	set := func(to reflect.Value) {
		was := reflect.New(v.Type()).Elem()
		was.Set(v)
		v.Set(to)
		try(path)
		v.Set(was)
	}
	switch v.Kind() {
	case reflect.Bool:
		set(reflect.ValueOf(!v.Bool()).Convert(v.Type()))
	case reflect.Int:
		set(reflect.ValueOf(v.Int() + 1).Convert(v.Type()))
	case reflect.Float64:
		set(reflect.ValueOf(math.Atan(v.Float()) + 3).Convert(v.Type())) // also of an infinite one
	case reflect.String:
		set(reflect.ValueOf(v.String() + "x").Convert(v.Type()))
	case reflect.Pointer:
		if v.IsNil() {
			set(reflect.New(v.Type().Elem()))
		} else {
			change(v.Elem(), path, try)
		}
	case reflect.Slice:
		set(reflect.Append(v, reflect.Zero(v.Type().Elem())))
		for i := range v.Len() {
			change(v.Index(i), path, try)
		}
	case reflect.Array:
		for i := range v.Len() {
			change(v.Index(i), path, try)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if v.Type().Field(i).IsExported() {
				change(v.Field(i), path+"."+v.Type().Field(i).Name, try)
			}
		}
	}
}

// A scene that is made anew has the key that it had, and whatever in it or in the conditions changes, the key is another.
func TestKeyIsWhole(t *testing.T) {
	c, p := rememberedScene()
	sum := func() [32]byte {
		return newRemembering(&level.Stadium{Conditions: c}, &work.HeardMemo{}).key(p, nil)
	}
	before := sum()
	seen := map[[32]byte]string{before: "nothing"}
	leaves := 0
	try := func(path string) {
		leaves++
		if other, known := seen[sum()]; known {
			t.Errorf("after a change of %s the key is that of %s", path, other)
		}
		seen[sum()] = path
	}
	change(reflect.ValueOf(&c).Elem(), "conditions", try)
	change(reflect.ValueOf(p).Elem(), "playing", try)
	if leaves < 60 {
		t.Errorf("only %d things were changed", leaves)
	}
	more := p.Performers
	p.Performers = nil
	if newRemembering(&level.Stadium{Conditions: c}, &work.HeardMemo{}).key(p, more) == before {
		t.Error("who is added counts as who was there")
	}
	c, p = rememberedScene()
	if sum() != before {
		t.Error("a scene that is made anew has another key")
	}
}
