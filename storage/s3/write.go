package s3

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"sync"
	"time"

	"github.com/minio/minio-go/v7"

	"platarium/storage"
)

// Create implements storage.Bucket.
func (b *Bucket) Create(ctx context.Context, key string, data []byte) error {
	if len(data) > storage.MaxCreate {
		return fmt.Errorf("%w: %s: creating %d bytes, want at most %d", storage.ErrKey, key, len(data), storage.MaxCreate)
	}
	if err := ready(ctx, key); err != nil {
		return err
	}
	sum := storage.Digest(sha256.Sum256(data))
	opts := options(sum)
	opts.SetMatchETagExcept("*")
	lent := lend(data)
	defer lent.end()
	if err := b.single(ctx, key, lent, int64(len(data)), sum, opts); err != nil {
		return writeError("creating", key, err, true)
	}
	return nil
}

// partSize is the least that S3 takes for a part, and all that an upload keeps in memory; 10,000 parts make 156 GiB with the greatest.
const (
	partSize    = 5 << 20
	maxPartSize = 16 << 20
	maxParts    = 10_000
)

// Put implements storage.Bucket. An object of at most 5 MiB is read first, then sent, and sent again if the network fails. A larger one of
// known digest is streamed in one request. What is larger than Config.SinglePut, or of unknown digest, goes in parts of 5 MiB, which are put
// together when all have been verified. At most 156 GiB are taken.
func (b *Bucket) Put(ctx context.Context, key string, body io.Reader, size int64, sum *storage.Digest) (err error) {
	if err := ready(ctx, key); err != nil {
		return err
	}
	if size > maxParts*maxPartSize {
		return fmt.Errorf("storing %s: found %d bytes, want at most %d", key, size, int64(maxParts*maxPartSize))
	}
	checked := storage.NewBody(ctx, body, size, sum)
	switch {
	case size <= partSize:
		err = b.putSmall(ctx, key, checked, size)
	case sum != nil && size <= b.singlePut:
		// The reader hides every other method: the library must not try to rewind it.
		err = b.single(ctx, key, struct{ io.Reader }{checked}, size, *sum, options(*sum))
	default:
		err = b.putParts(ctx, key, checked, size)
	}
	sent, berr := checked.Stop()
	switch {
	case err == nil:
		return nil
	case berr != nil:
		return fmt.Errorf("storing %s: %w", key, berr)
	}
	return writeError("storing", key, err, sent)
}

func (b *Bucket) putSmall(ctx context.Context, key string, body *storage.Body, size int64) error {
	buf, done := buffer(max(size, 0))
	defer done()
	if _, err := io.ReadFull(body, buf); err != nil {
		return err
	}
	if _, err := body.Read(make([]byte, 1)); !errors.Is(err, io.EOF) { // an empty body is checked here
		return err
	}
	sum := body.Digest()
	data := lend(buf)
	defer data.end()
	return b.single(ctx, key, data, size, sum, options(sum))
}

// single sends one PutObject, signed with the payload's digest: the one way that works over plain HTTP and TLS, on every server tried, also for empty objects.
func (b *Bucket) single(ctx context.Context, key string, body io.Reader, size int64, sum storage.Digest, opts minio.PutObjectOptions) error {
	_, err := b.core.PutObject(ctx, b.bucket, b.prefix+key, body, size, "", sum.String(), opts)
	return err
}

// options forgoes the streaming signature, which the signed digest replaces, and has the store keep the digest.
func options(sum storage.Digest) minio.PutObjectOptions {
	return minio.PutObjectOptions{
		DisableContentSha256: true,
		UserMetadata:         map[string]string{minio.ChecksumSHA256.Key(): base64.StdEncoding.EncodeToString(sum[:])},
	}
}

func (b *Bucket) putParts(ctx context.Context, key string, body *storage.Body, size int64) (err error) {
	key = b.prefix + key
	id, err := b.core.NewMultipartUpload(ctx, b.bucket, key, minio.PutObjectOptions{})
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 10*time.Second)
			defer cancel()
			_ = b.core.AbortMultipartUpload(ctx, b.bucket, key, id) // the first error says more
		}
	}()
	buf, done := buffer(min(max(partSize, (size+maxParts-1)/maxParts), maxPartSize))
	defer done()
	var parts []minio.CompletePart
	for sent := int64(0); sent < size; sent += int64(len(buf)) {
		buf = buf[:min(int64(len(buf)), size-sent)]
		if _, err := io.ReadFull(body, buf); err != nil {
			return err
		}
		part, err := b.putPart(ctx, key, id, len(parts)+1, buf)
		if err != nil {
			return err
		}
		parts = append(parts, part)
	}
	_, err = b.core.CompleteMultipartUpload(ctx, b.bucket, key, id, parts, minio.PutObjectOptions{})
	return err
}

func (b *Bucket) putPart(ctx context.Context, key, id string, number int, data []byte) (minio.CompletePart, error) {
	sum := storage.Digest(sha256.Sum256(data))
	lent := lend(data)
	defer lent.end()
	part, err := b.core.PutObjectPart(ctx, b.bucket, key, id, number, lent, int64(len(data)),
		minio.PutObjectPartOptions{DisableContentSha256: true, Sha256Hex: sum.String()})
	return minio.CompletePart{PartNumber: number, ETag: part.ETag}, err
}

// lent is a request body over bytes that have an owner. The transport may go on reading after it has given up; end takes the bytes back.
type lent struct {
	mu    sync.Mutex
	r     *bytes.Reader
	ended bool
}

func lend(data []byte) *lent { return &lent{r: bytes.NewReader(data)} }

func (l *lent) Read(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.ended {
		return 0, io.ErrClosedPipe
	}
	return l.r.Read(p)
}

// Seek lets the library send the body again.
func (l *lent) Seek(offset int64, whence int) (int64, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.r.Seek(offset, whence)
}

func (l *lent) end() {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.ended = true
}

// buffer gives n bytes, from a pool where it pays.
func buffer(n int64) (buf []byte, done func()) {
	if n <= partSize/8 || n > partSize {
		return make([]byte, n), func() {}
	}
	whole := buffers.Get().(*[partSize]byte)
	return whole[:n], func() { buffers.Put(whole) }
}

var buffers = sync.Pool{New: func() any { return new([partSize]byte) }}
