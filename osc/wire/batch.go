package wire

import (
	"encoding/binary"
	"fmt"
	"strings"

	"backfield/osc"
)

// Batch collects the packets of messages that are sent together: one packet for each message, or bundles filled one
// after the other. It reuses its memory.
type Batch struct {
	bundle  bool
	maxSize int
	data    []byte
	ends    []int // of each packet in data
	packets [][]byte
}

// NewBatch makes an empty batch of packets of at most maxPacket bytes: messages, or bundles for "at once".
func NewBatch(bundle bool, maxPacket int) *Batch { return &Batch{bundle: bundle, maxSize: maxPacket} }

// Reset empties the batch. What Packets returned is no longer valid.
func (b *Batch) Reset() { b.data, b.ends = b.data[:0], b.ends[:0] }

// Add adds a message as Encode or a ValuePacket returns it. It fails for a message that is too long for a packet, and
// leaves it out.
func (b *Batch) Add(packet []byte) error {
	last := len(b.ends) - 1
	if !b.bundle {
		if len(packet) > b.maxSize {
			return b.tooLong(packet, 0)
		}
		b.data = append(b.data, packet...)
		b.ends = append(b.ends, len(b.data))
		return nil
	}
	if head := len(bundleHead) + 4; head+len(packet) > b.maxSize {
		return b.tooLong(packet, head)
	}
	if last < 0 || len(b.data)-b.start(last)+4+len(packet) > b.maxSize {
		b.data = append(b.data, bundleHead...)
		b.ends = append(b.ends, 0)
		last++
	}
	b.data = binary.BigEndian.AppendUint32(b.data, uint32(len(packet)))
	b.data = append(b.data, packet...)
	b.ends[last] = len(b.data)
	return nil
}

func (b *Batch) tooLong(packet []byte, head int) error {
	address, _, _ := strings.Cut(string(packet), "\x00")
	return fmt.Errorf("the message to %s takes %d bytes, and a packet holds %d; "+
		"raise max_packet or shorten the address", address, head+len(packet), b.maxSize)
}

// start is where packet i starts in data.
func (b *Batch) start(i int) int {
	if i == 0 {
		return 0
	}
	return b.ends[i-1]
}

// Packets are the packets, in the order of the messages. They are valid until Reset.
func (b *Batch) Packets() [][]byte {
	b.packets = b.packets[:0]
	for i, end := range b.ends {
		b.packets = append(b.packets, b.data[b.start(i):end])
	}
	return b.packets
}

// Pack makes packets of at most maxPacket bytes, in the order of the messages: one for each message, or bundles filled
// one after the other, for "at once". It fails for a message that is too long for a packet.
func Pack(ms []osc.Message, bundle bool, maxPacket int) ([][]byte, error) {
	b := NewBatch(bundle, maxPacket)
	for _, m := range ms {
		if err := b.Add(Encode(m)); err != nil {
			return nil, err
		}
	}
	return b.Packets(), nil
}
