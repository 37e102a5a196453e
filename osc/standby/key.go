package standby

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base32"
	"errors"
	"fmt"
	"strings"
)

// A key is 12 letters and digits that no eye takes for one another: 60 bits, which nobody guesses in the tries that a
// Door allows, nor from what crosses the link.
const (
	keyLetters = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"
	keyLength  = 12
	// KeyBytes is how many random bytes NewKey needs.
	KeyBytes = 8
	// NonceBytes is how many random bytes each side adds, so that a proof that was overheard proves nothing later.
	NonceBytes = 16
)

// NewKey is a key made of random bytes, as it is printed: "ABCD-EFGH-JKLM".
func NewKey(random [KeyBytes]byte) string {
	text := base32.NewEncoding(keyLetters).WithPadding(base32.NoPadding).EncodeToString(random[:])
	return fmt.Sprintf("%s-%s-%s", text[:4], text[4:8], text[8:keyLength])
}

// ReadKey reads a key as somebody types it. The error says what a key looks like.
func ReadKey(typed string) (string, error) {
	var key strings.Builder
	for _, c := range strings.ToUpper(typed) {
		switch {
		case strings.ContainsRune(keyLetters, c):
			key.WriteRune(c)
		case c != '-' && c != ' ':
			return "", errKey
		}
	}
	text := key.String()
	if len(text) != keyLength {
		return "", errKey
	}
	return fmt.Sprintf("%s-%s-%s", text[:4], text[4:8], text[8:]), nil
}

var errKey = errors.New("a key is 12 letters and digits, such as ABCD-EFGH-JKLM; laptop 1 prints it when it starts")

// The two sides' proofs differ, so that neither can send back what it was sent.
const (
	standbySays = "backfield standby 1"
	firstSays   = "backfield first 1"
	laterSays   = "backfield again 1"
)

func proof(secret, who string, first, second []byte) []byte {
	mac := hmac.New(sha256.New, []byte(secret))
	for _, part := range [][]byte{[]byte(who), first, second} {
		mac.Write([]byte{byte(len(part))})
		mac.Write(part)
	}
	return mac.Sum(nil)
}

// Limits of a Door.
const (
	mostTries    = 5   // wrong proofs from one address
	mostAllTries = 100 // and from all; then the key is void
)

// Door admits one standby by its key, and the same one again after its link was cut. It is for one goroutine.
type Door struct {
	key    string // void once it has admitted someone
	secret string // that the standby that was admitted comes back with; empty before
	run    string
	show   string
	tries  map[string]int // by address
	all    int
}

// NewDoor makes a door for a key of NewKey. Run and show are what is said to a standby once it is admitted.
func NewDoor(key, run, show string) *Door {
	return &Door{key: key, run: run, show: show, tries: map[string]int{}}
}

// Greet is the first line to whoever connects. The nonce must be new for each.
func (d *Door) Greet(nonce []byte) PairLine {
	return PairLine{Kind: Hello, Version: Version, Nonce: nonce}
}

// Admit judges the answer to a greeting with a nonce, from an address without its port. The line is to be sent either
// way; ok reports whether the other is admitted.
func (d *Door) Admit(from string, nonce []byte, a PairLine) (reply PairLine, ok bool) {
	whole := a.Kind == Answer && len(a.Nonce) == NonceBytes
	proves := func(secret string) bool {
		return whole && secret != "" && hmac.Equal(a.Proof, proof(secret, standbySays, nonce, a.Nonce))
	}
	welcome := func(secret string) (PairLine, bool) {
		return PairLine{Kind: Welcome, Run: d.run, Show: d.show, Proof: proof(secret, firstSays, nonce, a.Nonce)}, true
	}
	switch {
	case proves(d.secret): // nobody guesses that: however often others try, the standby comes back
		return welcome(d.secret)
	case d.all >= mostAllTries:
		return PairLine{Kind: Refused, Text: "too many wrong keys: laptop 1 must be started again for a new one"}, false
	case d.tries[from] >= mostTries:
		return PairLine{Kind: Refused, Text: "too many wrong keys from this address"}, false
	case !whole:
		return PairLine{Kind: Refused, Text: "this is the link for a standby laptop"}, false
	case proves(d.key):
		key := d.key
		d.secret, d.key = later(key, nonce, a.Nonce), ""
		return welcome(key)
	}
	d.tries[from]++
	d.all++
	if d.key == "" {
		return PairLine{Kind: Refused, Text: "the key was used already: it is for one standby"}, false
	}
	return PairLine{Kind: Refused, Text: "the key is wrong"}, false
}

// later is the secret with which an admitted standby comes back.
func later(key string, first, second []byte) string {
	return string(proof(key, laterSays, first, second))
}

// Caller is the other side of a Door.
type Caller struct {
	secret string
	keyed  bool // the secret is still the key
	hello  []byte
	nonce  []byte
}

// NewCaller makes a caller with a key of ReadKey.
func NewCaller(key string) *Caller { return &Caller{secret: key, keyed: true} }

// Answer answers a greeting. The nonce must be new for each.
func (c *Caller) Answer(hello PairLine, nonce []byte) (PairLine, error) {
	switch {
	case hello.Kind != Hello || len(hello.Nonce) != NonceBytes:
		return PairLine{}, errors.New("what answers there is no laptop that waits for a standby")
	case hello.Version != Version:
		return PairLine{}, fmt.Errorf("laptop 1 speaks version %d of the link and this one version %d: "+
			"install the same backfield on both", hello.Version, Version)
	}
	c.hello, c.nonce = hello.Nonce, nonce
	return PairLine{Kind: Answer, Nonce: nonce, Proof: proof(c.secret, standbySays, hello.Nonce, nonce)}, nil
}

// Welcomed judges the reply to an answer. The error is for a refusal, or for a laptop that does not know the key
// itself.
func (c *Caller) Welcomed(reply PairLine) error {
	switch {
	case reply.Kind == Refused:
		return fmt.Errorf("laptop 1 refuses: %s", reply.Text)
	case reply.Kind != Welcome || !hmac.Equal(reply.Proof, proof(c.secret, firstSays, c.hello, c.nonce)):
		return errors.New("what answers there does not know the key: it is not laptop 1 of this show")
	}
	if c.keyed {
		c.secret, c.keyed = later(c.secret, c.hello, c.nonce), false
	}
	return nil
}
