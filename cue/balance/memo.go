package balance

import (
	"crypto/sha256"
	"encoding/binary"
	"fmt"
	"math"
	"reflect"

	"backfield/cue/work"
	"backfield/layout/level"
)

// remembering hears scenes through the memo of a caller that compiles the same show again and again. What is heard depends
// on the conditions and on who plays where through which mics, and on nothing else: these two are compared whole.
type remembering struct {
	stadium    *level.Stadium
	conditions [sha256.Size]byte
	memo       *work.HeardMemo // nil: nothing is kept
}

func newRemembering(s *level.Stadium, memo *work.HeardMemo) *remembering {
	r := &remembering{stadium: s, memo: memo}
	if memo != nil {
		memo.Turn()
		r.conditions = sha256.Sum256(appendWhole(nil, reflect.ValueOf(s.Conditions)))
	}
	return r
}

// hear is Stadium.Hear.
func (r *remembering) hear(p *level.Playing) *level.Balance {
	if r.memo == nil {
		return r.stadium.Hear(p)
	}
	return r.memo.Get(r.key(p, nil), func() *level.Balance { return r.stadium.Hear(p) })
}

// hearMore is Stadium.HearMore.
func (r *remembering) hearMore(before *level.Balance, p *level.Playing, more []level.Performer) *level.Balance {
	if r.memo == nil {
		return r.stadium.HearMore(before, p, more)
	}
	return r.memo.Get(r.key(p, more), func() *level.Balance { return r.stadium.HearMore(before, p, more) })
}

func (r *remembering) key(p *level.Playing, more []level.Performer) [sha256.Size]byte {
	b := append([]byte(nil), r.conditions[:]...)
	b = appendWhole(b, reflect.ValueOf(*p))
	return sha256.Sum256(appendWhole(b, reflect.ValueOf(more)))
}

// appendWhole appends all of a value, fields that are added later too: numbers as bits, texts and lists with their length,
// and what is behind a pointer, since each compile makes that anew.
func appendWhole(b []byte, v reflect.Value) []byte {
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
		return appendWhole(append(b, 1), v.Elem())
	case reflect.Slice, reflect.Array:
		b = binary.LittleEndian.AppendUint64(b, uint64(v.Len()))
		for i := range v.Len() {
			b = appendWhole(b, v.Index(i))
		}
		return b
	case reflect.Struct:
		for i := range v.NumField() {
			b = appendWhole(b, v.Field(i))
		}
		return b
	}
	panic(fmt.Sprintf("balance: a %v cannot be compared whole", v.Type()))
}
