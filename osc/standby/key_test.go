package standby_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"backfield/osc/standby"
)

func nonce(n byte) []byte { return bytes.Repeat([]byte{n}, standby.NonceBytes) }

// greet has a caller greeted by a door from an address.
func greet(t *testing.T, d *standby.Door, c *standby.Caller, from string, n byte) (admitted bool, err error) {
	t.Helper()
	hello := d.Greet(nonce(n))
	answer, err := c.Answer(hello, nonce(n+100))
	if err != nil {
		t.Fatal(err)
	}
	reply, ok := d.Admit(from, hello.Nonce, answer)
	return ok, c.Welcomed(reply)
}

func TestKeyAdmitsOneStandby(t *testing.T) {
	key := standby.NewKey([standby.KeyBytes]byte{1, 2, 3, 4, 5, 6, 7, 8})
	typed, err := standby.ReadKey(" " + strings.ToLower(strings.ReplaceAll(key, "-", " ")))
	if err != nil || typed != key {
		t.Fatalf("%q is read as %q: %v", key, typed, err)
	}
	d, c := standby.NewDoor(key, "run", "show"), standby.NewCaller(typed)
	if ok, err := greet(t, d, c, "192.0.2.1", 1); !ok || err != nil {
		t.Fatalf("not admitted: %v", err)
	}
	if ok, err := greet(t, d, c, "192.0.2.1", 2); !ok || err != nil {
		t.Errorf("not admitted again after its link was cut: %v", err)
	}
	if ok, err := greet(t, d, standby.NewCaller(key), "192.0.2.2", 3); ok || err == nil {
		t.Error("the key admits a second standby")
	}
}

// What was overheard of one standby's greeting admits nobody to another greeting.
func TestOverheardAnswerIsWorthless(t *testing.T) {
	key := standby.NewKey([standby.KeyBytes]byte{9})
	d := standby.NewDoor(key, "run", "show")
	answer, err := standby.NewCaller(key).Answer(d.Greet(nonce(1)), nonce(2))
	if err != nil {
		t.Fatal(err)
	}
	if reply, ok := d.Admit("192.0.2.1", nonce(3), answer); ok || reply.Kind != standby.Refused {
		t.Error("admitted with an answer to another greeting")
	}
	fake := standby.PairLine{Kind: standby.Welcome, Run: "run", Show: "show", Proof: answer.Proof}
	c := standby.NewCaller(key)
	if _, err := c.Answer(d.Greet(nonce(1)), nonce(2)); err != nil {
		t.Fatal(err)
	}
	if c.Welcomed(fake) == nil {
		t.Error("a laptop 1 that sends the proof back is believed")
	}
}

// Wrong keys shut their own address out, and not the right standby; in the end the key is void.
func TestWrongKeysAreLimited(t *testing.T) {
	key := standby.NewKey([standby.KeyBytes]byte{7})
	wrong := standby.NewKey([standby.KeyBytes]byte{8})
	d := standby.NewDoor(key, "run", "show")
	tries := func(from string, n int) {
		for i := range n {
			if ok, _ := greet(t, d, standby.NewCaller(wrong), from, byte(i)); ok {
				t.Fatal("a wrong key is admitted")
			}
		}
	}
	tries("192.0.2.1", 5)
	if ok, _ := greet(t, d, standby.NewCaller(key), "192.0.2.1", 50); ok {
		t.Error("an address with five wrong keys may try on")
	}
	if ok, err := greet(t, d, standby.NewCaller(key), "192.0.2.2", 51); !ok {
		t.Errorf("the right standby is shut out: %v", err)
	}
	d = standby.NewDoor(key, "run", "show")
	for i := range 25 {
		tries(fmt.Sprint("192.0.2.", i), 4)
	}
	if ok, _ := greet(t, d, standby.NewCaller(key), "192.0.2.99", 52); ok {
		t.Error("the key is good after a hundred wrong ones")
	}
}

func TestReadKey(t *testing.T) {
	for _, typed := range []string{"", "ABCD", "ABCD-EFGH-JKLM-N", "ABCD-EFGH-JKL0", "ABCD-EFGH-JKLé"} {
		if key, err := standby.ReadKey(typed); err == nil {
			t.Errorf("%q is read as %q", typed, key)
		}
	}
}

// However many wrong keys others try, also from the standby's own address, a standby that was admitted comes back.
func TestStrangersDoNotLockOutTheStandby(t *testing.T) {
	key := standby.NewKey([standby.KeyBytes]byte{7})
	d, c := standby.NewDoor(key, "run", "show"), standby.NewCaller(key)
	if ok, err := greet(t, d, c, "192.0.2.1", 1); !ok {
		t.Fatal(err)
	}
	wrong := standby.NewKey([standby.KeyBytes]byte{8})
	for i := range 120 {
		if ok, _ := greet(t, d, standby.NewCaller(wrong), fmt.Sprint("192.0.2.", i/5), byte(i)); ok {
			t.Fatal("a wrong key is admitted")
		}
	}
	if ok, err := greet(t, d, c, "192.0.2.1", 200); !ok || err != nil {
		t.Errorf("the standby is locked out: %v", err)
	}
	if ok, _ := greet(t, d, standby.NewCaller(key), "192.0.2.99", 201); ok {
		t.Error("the key admits a second standby")
	}
}
