package main

import (
	"bytes"
	"net"
	"net/netip"
	"strings"
)

// listener takes in datagrams from anyone who can reach its port.
type listener struct {
	conn   *net.UDPConn
	buffer []byte
}

// listen opens a UDP port at "udp://host:port" or "host:port"; port 0 is any that is free.
func listen(at string) (*listener, error) {
	addr, err := net.ResolveUDPAddr("udp", strings.TrimPrefix(at, "udp://"))
	if err != nil {
		return nil, err
	}
	conn, err := net.ListenUDP("udp", addr)
	if err != nil {
		return nil, err
	}
	conn.SetReadBuffer(1 << 20)
	return &listener{conn, make([]byte, 1<<16)}, nil
}

// Addr is where it listens, with the port that was found free.
func (l *listener) Addr() string { return l.conn.LocalAddr().String() }

// Receive waits for the next packet, which is the caller's to keep. net.ErrClosed is the end; other errors pass.
func (l *listener) Receive() ([]byte, peer, error) {
	n, from, err := l.conn.ReadFromUDPAddrPort(l.buffer)
	return bytes.Clone(l.buffer[:n]), peer{from, l.conn}, err
}

func (l *listener) Close() error { return l.conn.Close() }

// peer is one who sent a packet.
type peer struct {
	netip.AddrPort
	conn *net.UDPConn
}

// Reply sends a packet to the peer.
func (p peer) Reply(packet []byte) error {
	_, err := p.conn.WriteToUDPAddrPort(packet, p.AddrPort)
	return err
}
