// Command backfield compiles a marching show's score and drill into mixer snapshots and sends them as OSC.
package main

import (
	"context"
	"os"
)

func main() {
	os.Exit(execute(context.Background(), os.Args[1:], os.Stdout, os.Stderr))
}
