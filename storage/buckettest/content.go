package buckettest

import (
	"crypto/sha256"
	"encoding/binary"
	"io"
	"math/rand/v2"

	"platarium/storage"
)

// Content is the description of test data of any size: the same seed and size give the same bytes, without keeping them.
type Content struct {
	Seed uint64
	Size int64 // bytes
}

// Reader streams the content. It has no other method than Read, as a body from the network.
func (c Content) Reader() io.Reader {
	r := &contentReader{size: c.Size}
	var seed [32]byte
	binary.LittleEndian.PutUint64(seed[:], c.Seed)
	_, _ = rand.NewChaCha8(seed).Read(r.block[:]) // never fails
	return struct{ io.Reader }{r}
}

// Bytes gives the whole content.
func (c Content) Bytes() []byte {
	data := make([]byte, c.Size)
	_, _ = io.ReadFull(c.Reader(), data) // has exactly that many
	return data
}

// Digest is the sha256 of the content.
func (c Content) Digest() storage.Digest {
	hash := sha256.New()
	_, _ = io.Copy(hash, c.Reader()) // neither fails
	return storage.Digest(hash.Sum(nil))
}

const blockSize = 64 << 10

// contentReader repeats a random block, rotated by one byte more each time, so that lost, doubled and exchanged pieces show.
type contentReader struct {
	block        [blockSize]byte
	offset, size int64
}

func (r *contentReader) Read(p []byte) (int, error) {
	if r.offset == r.size {
		return 0, io.EOF
	}
	at := int((r.offset + r.offset/blockSize) % blockSize)
	n := int(min(int64(len(p)), r.size-r.offset, blockSize-r.offset%blockSize, int64(blockSize-at)))
	copy(p[:n], r.block[at:])
	r.offset += int64(n)
	return n, nil
}
