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
	maxDevices = 16 // that have come in; the one that was seen least lately makes room
	keyLength  = 12 // of 5 bits each
	// Letters and digits that are not taken for one another: Crockford's base 32.
	alphabet = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"

	reportGap = 5 * time.Second // from one word about wrong keys to the next
)

// doors are the key of now and the devices that have come in. A key lets one device in and is then another one. The
// zero value needs renew.
type accessList struct {
	keyTries *addressLimiter

	mu         sync.Mutex
	key        string
	devices    []*pageDevice
	count      int // of devices so far
	reportedAt time.Time
}

// device is a browser that came in with a key.
type pageDevice struct {
	id      int
	address netip.Addr
	secret  [sha256.Size]byte // of its cookie
	gone    chan struct{}     // closed when it is thrown out

	requests, commands *secondLimiter

	busy   sync.Mutex // a command is being carried out
	lastGo time.Time  // of its last go; by who holds busy

	mu   sync.Mutex
	seen time.Time
}

// String names the device as the journal has it.
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

// renew makes another key and throws every device out.
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

// turn makes another key.
func (d *accessList) newKey() error {
	var b [keyLength]byte
	if _, err := rand.Read(b[:]); err != nil {
		return err
	}
	for i := range b {
		b[i] = alphabet[b[i]%32] // 256 is a multiple of 32: all are alike likely
	}
	d.key = string(b[:])
	return nil
}

// grouped writes a key to be typed.
func grouped(key string) string {
	var parts []string
	for part := range slices.Chunk([]byte(key), 4) {
		parts = append(parts, string(part))
	}
	return strings.Join(parts, "-")
}

// plain reads a key as it was typed.
func normalizedKey(key string) string {
	return strings.NewReplacer("-", "", " ", "", "O", "0", "I", "1", "L", "1").Replace(strings.ToUpper(key))
}

// fits reports whether that is the key of now. How long it takes tells nothing about the key.
func (d *accessList) isKey(key string) bool {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.same(key)
}

func (d *accessList) same(key string) bool {
	got, want := sha256.Sum256([]byte(normalizedKey(key))), sha256.Sum256([]byte(d.key))
	return subtle.ConstantTimeCompare(got[:], want[:]) == 1
}

// admit lets a device in that has the key, which is spent by that. Its cookie's value is returned, "" for a wrong key.
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

// dropOldest throws out the device that was seen least lately; by who holds mu.
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

// device finds who sent a request; nil for a stranger.
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

// cookieName has the port in it: cookies are of a host, whatever the port, and two runs may be on one machine.
func cookieName(r *http.Request) string {
	local, _ := r.Context().Value(http.LocalAddrContextKey).(net.Addr)
	return fmt.Sprintf("backfield-run-%d", addrOf(local).Port())
}

// doorPolicy lets the door have its style in it, and nothing else.
const doorPolicy = "default-src 'none'; img-src data:; style-src 'unsafe-inline'; form-action 'self'; " +
	"frame-ancestors 'none'; base-uri 'none'"

// enter is the door. To look at it spends nothing, as cameras and browsers look at a link by themselves; a device
// comes in by the button there.
func (s *Server) serveDoor(w http.ResponseWriter, r *http.Request, static fs.FS) {
	from, now := sender(r), time.Now()
	key := r.URL.Path[len("/k/"):]
	if s.access.device(r) != nil { // who is in needs no key
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
		if err != nil || me == nil { // somebody else was quicker
			refuse(w, http.StatusNotFound)
			return
		}
		http.SetCookie(w, &http.Cookie{
			Name: cookieName(r), Value: secret, Path: "/", HttpOnly: true, SameSite: http.SameSiteStrictMode,
		})
		s.o.Report(me.String() + " has come in; the key is another one now")
		http.Redirect(w, r, "/", http.StatusSeeOther)
	default:
		refuse(w, http.StatusMethodNotAllowed)
	}
}

// wrongKey tells of a wrong key, not of each.
func (s *Server) wrongKey(from netip.Addr, now time.Time) {
	s.access.mu.Lock()
	due := now.Sub(s.access.reportedAt) >= reportGap
	if due {
		s.access.reportedAt = now
	}
	s.access.mu.Unlock()
	if due {
		s.o.Report(fmt.Sprintf("%s tried a wrong key at the page", from))
	}
}

// sender is where a request comes from.
func sender(r *http.Request) netip.Addr {
	p, err := netip.ParseAddrPort(r.RemoteAddr)
	if err != nil {
		return netip.Addr{}
	}
	return p.Addr().Unmap()
}
