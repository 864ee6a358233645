package storage

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"hash"
	"io"
	"sync"
)

// Body is what adapters read an upload through. It gives exactly the promised bytes or fails, and hands a piece out only when it has seen that
// the source goes on, or that it ends rightly. A receiver that waits for the whole length, or that checks a digest, so never sees a whole wrong
// object; both are needed, as there are servers that take a connection cut short for the end of the body.
type Body struct {
	alive func() error

	mu    sync.Mutex // held while reading the source, so that Stop waits for a read under way
	src   io.Reader
	size  int64
	left  int64 // bytes not yet read from src
	sum   *Digest
	hash  hash.Hash
	next  [1]byte // the byte seen in advance
	ahead int     // 1 if there is one
	ended bool
	err   error
}

// NewBody checks that src gives size bytes and not one more, which hash to sum unless sum is nil; Read fails with ErrChecksum otherwise, with the
// context's error once ctx ends, and with the source's own errors.
func NewBody(ctx context.Context, src io.Reader, size int64, sum *Digest) *Body {
	b := &Body{alive: ctx.Err, src: src, left: size, size: size, sum: sum, hash: sha256.New()}
	if size < 0 {
		b.err = fmt.Errorf("%w: a length of %d bytes was promised", ErrChecksum, size)
	}
	return b
}

// Read implements io.Reader.
func (b *Body) Read(p []byte) (n int, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(p) == 0 && b.err == nil {
		return 0, nil
	}
	for n == 0 && b.err == nil {
		if b.ended {
			return 0, io.EOF
		}
		n, b.err = b.fill(p)
	}
	if b.err != nil {
		return 0, b.err
	}
	return n, nil
}

// fill reads one piece and looks beyond it.
func (b *Body) fill(p []byte) (int, error) {
	if err := b.alive(); err != nil {
		return 0, err
	}
	n := copy(p, b.next[:b.ahead])
	b.ahead = 0
	if room := min(int64(len(p)-n), b.left); room > 0 {
		m, err := b.src.Read(p[n : n+int(room)])
		n, b.left = n+m, b.left-int64(m)
		if err != nil && (err != io.EOF || m == 0) {
			return 0, b.sourceError(err)
		}
	}
	b.hash.Write(p[:n])
	switch _, err := io.ReadFull(b.src, b.next[:]); {
	case err == nil && b.left > 0:
		b.left, b.ahead = b.left-1, 1
		return n, nil
	case err == nil:
		return 0, fmt.Errorf("%w: the body is longer than the promised %d bytes", ErrChecksum, b.size)
	case err != io.EOF || b.left > 0:
		return 0, b.sourceError(err)
	}
	if got := b.digest(); b.sum != nil && got != *b.sum {
		return 0, fmt.Errorf("%w: the body hashes to sha256 %s, promised was %s", ErrChecksum, got, *b.sum)
	}
	b.ended = true
	return n, b.alive()
}

func (b *Body) sourceError(err error) error {
	if errors.Is(err, io.EOF) || errors.Is(err, io.ErrUnexpectedEOF) {
		return fmt.Errorf("%w: the body ended after %d of %d bytes", ErrChecksum, b.size-b.left, b.size)
	}
	return fmt.Errorf("reading the body: %w", err)
}

func (b *Body) digest() Digest { return Digest(b.hash.Sum(nil)) }

// Digest is the sha256 of what was handed out so far: of the whole once Read has given io.EOF.
func (b *Body) Digest() Digest {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.digest()
}

// Stop waits for a Read under way, forbids further ones, and gives the error that reading met, if any. Complete says whether every byte was
// handed out, so that a receiver may have stored them. An adapter calls it before it returns: the source is the caller's own again.
func (b *Body) Stop() (complete bool, err error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	err = b.err
	if b.err == nil {
		b.err = errStopped
	}
	return b.ended && err == nil, err
}

var errStopped = errors.New("the upload is over")
