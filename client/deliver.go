package client

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"

	"google.golang.org/grpc"

	pb "platarium/proto/platarium/v1"
)

// Deliver writes a copy of a picture under a grant to w and verifies it. The header has the sidecar.
func (c *Client) Deliver(ctx context.Context, req *pb.DeliverRequest, w io.Writer) (*pb.DownloadHeader, error) {
	stream, err := c.Transfer.Deliver(ctx, req)
	if err != nil {
		return nil, err
	}
	return receive(stream, w)
}

// receive writes what a stream sends to w, and holds it against its header.
func receive(stream grpc.ServerStreamingClient[pb.DownloadResponse], w io.Writer) (*pb.DownloadHeader, error) {
	first, err := stream.Recv()
	if err != nil {
		return nil, err
	}
	header := first.GetHeader()
	h := sha256.New()
	var size int64
	for {
		m, err := stream.Recv()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err
		}
		h.Write(m.GetChunk())
		size += int64(len(m.GetChunk()))
		if _, err := w.Write(m.GetChunk()); err != nil {
			return nil, fmt.Errorf("write the download: %w", err)
		}
	}
	if got := hex.EncodeToString(h.Sum(nil)); size != header.GetSize() || header.GetSha256() != "" && got != header.GetSha256() {
		return nil, fmt.Errorf("%w: %d bytes with sha256 %s came, %d with %s were announced", ErrDamaged, size, got, header.GetSize(), header.GetSha256())
	}
	return header, nil
}
