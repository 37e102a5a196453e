package table

import (
	"reflect"
	"strings"
	"sync"
)

// Keys lists the keys that a struct type takes, in order, with a dot for nested ones ("open.feature" is
// "open.*"). It serves the test that holds the reference pages complete.
func Keys(of any) []string {
	var keys []string
	var walk func(t reflect.Type, prefix string)
	walk = func(t reflect.Type, prefix string) {
		for t.Kind() == reflect.Slice || t.Kind() == reflect.Pointer {
			t = t.Elem()
		}
		if t.Kind() != reflect.Struct {
			return
		}
		for _, k := range keysOf(t) {
			keys = append(keys, prefix+k.name)
			walk(k.of, prefix+k.name+".")
		}
	}
	walk(reflect.TypeOf(of), "")
	return keys
}

// others is the tag of a field that takes the keys which no other field asks for.
const others = "*"

// keyField is a field that a key is read into.
type keyField struct {
	name     string
	required bool
	named    bool   // a list whose entries are distinguished by their key "name"
	was      string // the key's name in earlier versions, "" for the same
	like     string // a word that is taken for the key, "" for none
	of       reflect.Type
	index    []int // in the struct, as FieldByIndex takes it
}

// keysByType keeps the keys of each type, as every table of a file asks for them.
var keysByType sync.Map // reflect.Type to []keyField

// keysOf lists the keys that a struct takes, in order. Those of a struct that is embedded in it are its own.
func keysOf(t reflect.Type) []keyField {
	list, ok := keysByType.Load(t)
	if !ok {
		list, _ = keysByType.LoadOrStore(t, findKeys(t))
	}
	return list.([]keyField)
}

func findKeys(t reflect.Type) []keyField {
	var list []keyField
	for i := range t.NumField() {
		f := t.Field(i)
		tag, ok := f.Tag.Lookup("key")
		switch {
		case ok:
			k := keyField{of: f.Type, index: []int{i}}
			name, options, _ := strings.Cut(tag, ",")
			k.name = name
			for option := range strings.SplitSeq(options, ",") {
				k.required = k.required || option == "required"
				k.named = k.named || option == "named"
				if old, ok := strings.CutPrefix(option, "was="); ok {
					k.was = old
				}
				if word, ok := strings.CutPrefix(option, "like="); ok {
					k.like = word
				}
			}
			list = append(list, k)
		case f.Anonymous && f.Type.Kind() == reflect.Struct && f.Type != reflect.TypeFor[Where]():
			for _, k := range findKeys(f.Type) {
				k.index = append([]int{i}, k.index...)
				list = append(list, k)
			}
		}
	}
	return list
}

// Each calls f for every key of the struct that from points to, in order, with a pointer to the field.
func Each(from any, f func(key string, field any)) {
	v := reflect.ValueOf(from).Elem()
	for _, k := range keysOf(v.Type()) {
		f(k.name, v.FieldByIndex(k.index).Addr().Interface())
	}
}
