package client

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"

	pb "platarium/proto/platarium/v1"
)

// Sentinel errors of transfers.
var (
	// ErrChanged: a file changed while it was being read. The caller sends it again.
	ErrChanged = errors.New("file changed while it was read")
	// ErrDamaged: what came isn't what was announced. The caller asks again.
	ErrDamaged = errors.New("download doesn't match its digest or length")
)

// chunk is the piece of a file in one message, bytes.
const chunk = 1 << 20

// Sum reads a file to its end and returns its sha256 in hex and its length.
func Sum(ctx context.Context, r io.Reader) (sum string, size int64, err error) {
	h := sha256.New()
	buf := make([]byte, chunk)
	for {
		if err := ctx.Err(); err != nil {
			return "", 0, err
		}
		n, err := r.Read(buf)
		h.Write(buf[:n])
		size += int64(n)
		if errors.Is(err, io.EOF) {
			return hex.EncodeToString(h.Sum(nil)), size, nil
		}
		if err != nil {
			return "", 0, err
		}
	}
}

// Upload sends a file whose digest and length are known. Sent, if not nil, is told of every piece.
func (c *Client) Upload(ctx context.Context, r io.Reader, sum string, size int64, fileName string, sent func(n int)) (*pb.UploadOriginalResponse, error) {
	ctx, cancel := context.WithCancel(ctx) // ends the stream if the file can't be read
	defer cancel()
	stream, err := c.Transfer.UploadOriginal(ctx)
	if err != nil {
		return nil, err
	}
	send := func(m *pb.UploadOriginalRequest) error {
		err := stream.Send(m)
		if errors.Is(err, io.EOF) {
			_, err = stream.CloseAndRecv() // the server has answered early: its error tells why
		}
		return err
	}
	header := &pb.UploadHeader{Sha256: sum, Size: size, FileName: fileName}
	if err := send(&pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Header{Header: header}}); err != nil {
		return nil, err
	}
	buf := make([]byte, chunk)
	var total int64
	for total < size {
		n, err := io.ReadFull(r, buf[:min(chunk, size-total)])
		if err != nil {
			return nil, fmt.Errorf("%w: %s ends after %d bytes, not %d: %w", ErrChanged, fileName, total+int64(n), size, err)
		}
		// The codec copies the message before Send returns, and no stats handler looks at it later: the buffer can be used again.
		if err := send(&pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Chunk{Chunk: buf[:n]}}); err != nil {
			return nil, err
		}
		total += int64(n)
		if sent != nil {
			sent(n)
		}
	}
	return stream.CloseAndRecv()
}

// Download writes a variant of a picture to w and verifies it.
func (c *Client) Download(ctx context.Context, picture, variant string, w io.Writer) (*pb.DownloadHeader, error) {
	stream, err := c.Transfer.Download(ctx, &pb.DownloadRequest{Picture: picture, Variant: variant})
	if err != nil {
		return nil, err
	}
	return receive(stream, w)
}
