package remote

import (
	"crypto/rand"
	"crypto/sha256"
	"crypto/subtle"
	"encoding/hex"
	"fmt"
	"io/fs"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
)

const (
	maxDevices = 16 // that are in; a further one replaces the one that was away longest
	keyLength  = 12 // of 5 bits each
	// Letters and digits that cannot be mistaken for each other: Crockford's base 32.
	alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

	reportGap = 5 * time.Second // between two reports of wrong keys
)

// accessList holds the current key and the devices that are in. A key lets in one device and then changes. The zero
// value needs renew.
type accessList struct {
	keyTries *addressLimiter

	mu         sync.Mutex
	key        string
	devices    []*pageDevice
	count      int // how many devices came in so far
	reportedAt time.Time
}

// pageDevice is a browser that came in with a key.
type pageDevice struct {
	id      int
	address netip.Addr
	secret  [sha256.Size]byte // of its cookie
	gone    chan struct{}     // closed when it is removed

	requests, commands *secondLimiter

	busy   sync.Mutex // held while a command is carried out
	lastGo time.Time  // guarded by busy

	mu   sync.Mutex
	seen time.Time
}

// String names the device as the journal does.
func (d *pageDevice) String() string { return fmt.Sprintf("page %d at %s", d.id, d.address) }

func (d *pageDevice) touch(now time.Time) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.seen = now
}

func (d *pageDevice) lastSeen() time.Time {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.seen
}

// renew makes a new key and removes every device.
func (d *accessList) renew() error {
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.keyTries == nil {
		d.keyTries = newAddressLimiter(triesPerS, triesAtOnce)
	}
	for _, x := range d.devices {
		close(x.gone)
	}
	d.devices = nil
	return d.newKey()
}

// newKey makes a new key. The caller holds mu.
func (d *accessList) newKey() error {
	var b [keyLength]byte
	if _, err := rand.Read(b[:]); err != nil {
		return err
	}
	for i := range b {
		b[i] = alphabet[b[i]%32] // 256 is a multiple of 32, so all are equally likely
	}
	d.key = string(b[:])
	return nil
}

// grouped writes a key in groups, so that it is easy to type.
func grouped(key string) string {
	var parts []string
	for part := range slices.Chunk([]byte(key), 4) {
		parts = append(parts, string(part))
	}
	return strings.Join(parts, "-")
}

// normalizedKey reads a key as it was typed.
func normalizedKey(key string) string {
	return strings.NewReplacer("-", "", " ", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(key))
}

// isKey reports whether this is the current key. The time that it takes says nothing about the key.
func (d *accessList) isKey(key string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.same(key)
}

func (d *accessList) same(key string) bool {
	got, want := sha256.Sum256([]byte(normalizedKey(key))), sha256.Sum256([]byte(d.key))
	return subtle.ConstantTimeCompare(got[:], want[:]) == 1
}

// admit lets in a device that has the key, and makes a new key. It returns the value of the device's cookie, "" for a
// wrong key.
func (d *accessList) admit(key string, from netip.Addr, now time.Time) (*pageDevice, string, error) {
	d.mu.Lock()
	defer d.mu.Unlock()
	if !d.same(key) {
		return nil, "", nil
	}
	var b [32]byte
	if _, err := rand.Read(b[:]); err != nil {
		return nil, "", err
	}
	if err := d.newKey(); err != nil {
		return nil, "", err
	}
	secret := hex.EncodeToString(b[:])
	d.count++
	x := &pageDevice{
		id: d.count, address: from, secret: sha256.Sum256([]byte(secret)), gone: make(chan struct{}), seen: now,
		requests: newSecondLimiter(maxRequestsPerS), commands: newSecondLimiter(maxCommandsPerS),
	}
	if len(d.devices) == maxDevices {
		d.dropOldest()
	}
	d.devices = append(d.devices, x)
	return x, secret, nil
}

// isFrom reports whether a device came in from an address.
func (d *accessList) isFrom(a netip.Addr) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return slices.ContainsFunc(d.devices, func(x *pageDevice) bool { return x.address == a })
}

// dropOldest removes the device that has been away longest. The caller holds mu.
func (d *accessList) dropOldest() {
	oldest := 0
	for i := range d.devices {
		if d.devices[i].lastSeen().Before(d.devices[oldest].lastSeen()) {
			oldest = i
		}
	}
	close(d.devices[oldest].gone)
	d.devices = slices.Delete(d.devices, oldest, oldest+1)
}

// device finds the device that sent a request; nil for a stranger.
func (d *accessList) device(r *http.Request) *pageDevice {
	c, err := r.Cookie(cookieName(r))
	if err != nil {
		return nil
	}
	got := sha256.Sum256([]byte(c.Value))
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, x := range d.devices {
		if subtle.ConstantTimeCompare(got[:], x.secret[:]) == 1 {
			return x
		}
	}
	return nil
}

// cookieName has the port in it, since a cookie belongs to a host and any port, and two runs may be on one machine.
func cookieName(r *http.Request) string {
	local, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	return fmt.Sprintf("backfield-run-%d", addrOf(local).Port())
}

// doorPolicy allows the inline style of enter.html and nothing else.
const doorPolicy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; form-action 'self'; " +
	"frame-ancestors 'none'; base-uri 'none'"

// serveDoor serves the page of a link. Opening it does not use up the key, since cameras and browsers open links on
// their own; the button on it lets the device in.
func (s *Server) serveDoor(w http.ResponseWriter, r *http.Request, static fs.FS) {
	from, now := sender(r), time.Now()
	key := r.URL.Path[len("/k/"):]
	if s.access.device(r) != nil { // a device that is in needs no key
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return
	}
	if !s.access.keyTries.take(from, now) {
		refuse(w, http.StatusTooManyRequests)
		return
	}
	if !s.access.isKey(key) {
		s.wrongKey(from, now)
		refuse(w, http.StatusNotFound)
		return
	}
	s.access.keyTries.give(from)
	switch r.Method {
	case http.MethodGet, http.MethodHead:
		w.Header().Set("Content-Security-Policy", doorPolicy)
		http.ServeFileFS(w, r, static, "enter.html")
	case http.MethodPost:
		if !sameOrigin(r) {
			refuse(w, http.StatusForbidden)
			return
		}
		me, secret, err := s.access.admit(key, from, now)
		if err != nil || me == nil { // another device was faster
			refuse(w, http.StatusNotFound)
			return
		}
		http.SetCookie(w, &http.Cookie{
			Name: cookieName(r), Value: secret, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
		})
		s.o.Report(me.String() + " came in; there is a new link now")
		http.Redirect(w, r, "/", http.StatusSeeOther)
	default:
		refuse(w, http.StatusMethodNotAllowed)
	}
}

// wrongKey reports a wrong key, but not each one.
func (s *Server) wrongKey(from netip.Addr, now time.Time) {
	s.access.mu.Lock()
	due := now.Sub(s.access.reportedAt) >= reportGap
	if due {
		s.access.reportedAt = now
	}
	s.access.mu.Unlock()
	if due {
		s.o.Report(fmt.Sprintf("%s tried a wrong key for the page", from))
	}
}

// sender is the address that a request comes from.
func sender(r *http.Request) netip.Addr {
	p, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap()
}
