package balance

import (
	"crypto/sha256"
	"math"
	"reflect"
	"strings"
	"testing"

	"backfield/cue/clock"
	"backfield/cue/work"
	"backfield/layout"
	"backfield/layout/level"
	"backfield/layout/stands"
)

// rememberedScene is a small one, made again at each call.
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

// rememberedWalk has a scene at two moments; first and second may be made of other ones.
func rememberedWalk(first, second *level.Playing) *earWalk {
	return &earWalk{names: []string{"Tuba 1"}, players: 1, moments: []earMoment{
		{atS: 1, holdS: 0.5, playing: first, ears: make([]layout.Point, 1), here: []bool{true}},
		{at: clock.Moment{Movement: 1, Elapsed: 1}, playing: second, ears: make([]layout.Point, 1), here: []bool{true}},
	}}
}

// A walk that is made again has the key that it had, and whatever in it or in the conditions changes, the key is another.
func TestNearKeyIsWhole(t *testing.T) {
	c, first := rememberedScene()
	_, second := rememberedScene()
	w := rememberedWalk(first, second)
	sum := func() [sha256.Size]byte {
		return newRemembering(&level.Stadium{Conditions: c}, &work.HeardMemo{}).nearKey(w)
	}
	before := sum()
	seen := map[[sha256.Size]byte]string{before: "nothing"}
	try := func(path string) {
		if other, known := seen[sum()]; known {
			t.Errorf("after a change of %s the key is that of %s", path, other)
		}
		seen[sum()] = path
	}
	change(reflect.ValueOf(&c).Elem(), "conditions", try)
	change(reflect.ValueOf(first).Elem(), "first", try)
	change(reflect.ValueOf(second).Elem(), "second", try)
	second.Performers[0].Instrument, _ = level.InstrumentByName("trumpet")
	try("instrument")
	for path, x := range map[string]func(w *earWalk){
		"cue":     func(w *earWalk) { w.cue++ },
		"dosed":   func(w *earWalk) { w.dosed[1]++ },
		"names":   func(w *earWalk) { w.names[0] += "0" },
		"players": func(w *earWalk) { w.players-- },
		"at":      func(w *earWalk) { w.moments[1].at.Elapsed++ },
		"atS":     func(w *earWalk) { w.moments[1].atS++ },
		"holdS":   func(w *earWalk) { w.moments[1].holdS++ },
		"ear":     func(w *earWalk) { w.moments[1].ears[0].Z++ },
		"here":    func(w *earWalk) { w.moments[1].here[0] = false },
		"end":     func(w *earWalk) { w.moments = w.moments[:1] },
	} {
		_, second := rememberedScene()
		w = rememberedWalk(first, second)
		x(w)
		try(path)
	}
	if len(seen) < 100 {
		t.Errorf("only %d things were changed", len(seen))
	}
	_, second = rememberedScene()
	if w = rememberedWalk(first, second); sum() != before {
		t.Error("a walk that is made again has another key")
	}
}

// So it is with the key of own sound, in which stacks and faders are not.
func TestOwnKeyIsWhole(t *testing.T) {
	c, p := rememberedScene()
	sum := func() [sha256.Size]byte {
		return newRemembering(&level.Stadium{Conditions: c}, &work.HeardMemo{}).ownKey(p.Performers)
	}
	before := sum()
	seen := map[[sha256.Size]byte]string{before: "nothing"}
	try := func(path string) {
		switch other, known := seen[sum()]; {
		case path == "conditions.Stacks" || path == "conditions.NominalDB" || strings.HasPrefix(path, "conditions.Background"):
			if sum() != before {
				t.Errorf("a change of %s changes the key", path)
			}
		case known:
			t.Errorf("after a change of %s the key is that of %s", path, other)
		}
		seen[sum()] = path
	}
	change(reflect.ValueOf(&c).Elem(), "conditions", try)
	change(reflect.ValueOf(&p.Performers).Elem(), "performers", try)
	if len(seen) < 30 {
		t.Errorf("only %d things were changed", len(seen))
	}
	if c, p = rememberedScene(); sum() != before {
		t.Error("a scene that is made again has another key")
	}
}
