package work

import (
	"encoding/binary"
	"fmt"
	"math"
	"reflect"
)

// AppendWhole appends all of a value, fields that are added later too: numbers as bits, texts and lists with their length,
// and what is behind a pointer, since each compile makes that again.
func AppendWhole(b []byte, v reflect.Value) []byte {
	switch v.Kind() {
	case reflect.Bool:
		if v.Bool() {
			return append(b, 1)
		}
		return append(b, 0)
	case reflect.Int:
		return binary.LittleEndian.AppendUint64(b, uint64(v.Int()))
	case reflect.Float64:
		return binary.LittleEndian.AppendUint64(b, math.Float64bits(v.Float()))
	case reflect.String:
		b = binary.LittleEndian.AppendUint64(b, uint64(v.Len()))
		return append(b, v.String()...)
	case reflect.Pointer:
		if v.IsNil() {
			return append(b, 0)
		}
		return AppendWhole(append(b, 1), v.Elem())
	case reflect.Slice, reflect.Array:
		b = binary.LittleEndian.AppendUint64(b, uint64(v.Len()))
		for i := range v.Len() {
			b = AppendWhole(b, v.Index(i))
		}
		return b
	case reflect.Struct:
		for i := range v.NumField() {
			b = AppendWhole(b, v.Field(i))
		}
		return b
	}
	panic(fmt.Sprintf("work: a %v cannot be compared whole", v.Type()))
}
