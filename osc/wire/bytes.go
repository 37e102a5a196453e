package wire

import (
	"context"
	"io"
	"net"
)

// OpenBytes connects to "host:port" over TCP, for plain bytes that are no OSC. It takes 3 s at most.
func OpenBytes(hostPort string) (io.ReadCloser, error) {
	ctx, cancel := context.WithTimeout(context.Background(), dialWait)
	defer cancel()
	dialer := net.Dialer{KeepAliveConfig: keepAlive}
	conn, err := dialer.DialContext(ctx, "tcp", hostPort)
	if err != nil {
		return nil, explain(err, hostPort, 0)
	}
	return conn, nil
}
