package term

import (
	"bufio"
	"context"
	"io"
)

// Lines is what is typed, a line at a time. It is closed where the input or the context ends.
func Lines(ctx context.Context, in io.Reader) <-chan string {
	lines := make(chan string)
	go func() {
		defer close(lines)
		ReadLines(ctx, in, lines)
	}()
	return lines
}

// ReadLines sends what is typed, a line at a time, until the input or the context ends. Of a line that is too long to
// have been typed it sends the start, which will be refused.
func ReadLines(ctx context.Context, in io.Reader, to chan<- string) {
	r := bufio.NewReader(in)
	for {
		line, more, err := r.ReadLine()
		if err != nil {
			return
		}
		text := string(line)
		if more { // over 4 KiB: cut it, and skip to the next line
			text = text[:80] + "..."
			for more && err == nil {
				_, more, err = r.ReadLine()
			}
		}
		select {
		case to <- text:
		case <-ctx.Done():
			return
		}
	}
}
