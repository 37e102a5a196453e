package wire

import (
	"encoding/binary"
	"fmt"
	"strings"

	"backfield/osc"
)

// Batch gathers the packets of messages that go together, one for each message or bundles filled one after the other,
// each of at most a number of bytes. Its memory is used again.
type Batch struct {
	bundle  bool
	most    int
	data    []byte
	ends    []int // of each packet in data
	packets [][]byte
}

// NewBatch makes an empty batch of packets of at most maxPacket bytes: messages, or bundles to be acted on at once.
func NewBatch(bundle bool, maxPacket int) *Batch { return &Batch{bundle: bundle, most: maxPacket} }

// Reset empties the batch. What Packets gave is no longer valid.
func (b *Batch) Reset() { b.data, b.ends = b.data[:0], b.ends[:0] }

// Add adds a message as Encode or a Line gives it. It fails on one that alone is too long, which is left out.
func (b *Batch) Add(packet []byte) error {
	last := len(b.ends) - 1
	if !b.bundle {
		if len(packet) > b.most {
			return b.tooLong(packet, 0)
		}
		b.data = append(b.data, packet...)
		b.ends = append(b.ends, len(b.data))
		return nil
	}
	if head := len(bundleHead) + 4; head+len(packet) > b.most {
		return b.tooLong(packet, head)
	}
	if last < 0 || len(b.data)-b.start(last)+4+len(packet) > b.most {
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
	return fmt.Errorf("the message to %s takes %d bytes, over the %d of a packet; "+
		"raise max_packet or shorten the address", address, head+len(packet), b.most)
}

// start is where packet i begins in data.
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

// Pack makes packets of at most maxPacket bytes, in the order of the messages: one for each message, or
// bundles filled one after the other, to be acted on at once. It fails on a message that alone is too long.
func Pack(ms []osc.Message, bundle bool, maxPacket int) ([][]byte, error) {
	b := NewBatch(bundle, maxPacket)
	for _, m := range ms {
		if err := b.Add(Encode(m)); err != nil {
			return nil, err
		}
	}
	return b.Packets(), nil
}
