package iiif

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"image"
	_ "image/jpeg" // previews are JPEG, of line art PNG
	_ "image/png"
	"io"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

// subject is a picture as the caller may see it, with what can be shown of it.
type subject struct {
	pic    *pb.Picture
	width  int // of the picture that the service gives, pixels
	height int
	gray   bool
	mark   string         // changes with the pixels
	sum    storage.Digest // of the original, if the caller may have it
	full   bool           // sum is set
	small  *pb.Preview    // otherwise the largest preview, which is all that is served
}

func (v *visit) getPicture(ctx context.Context, id string) (*pb.Picture, error) {
	return v.archive.GetPicture(ctx, &pb.GetPictureRequest{Name: "pictures/" + id})
}

// subjectOf asks for a picture. The contract names the digest of an original only to those who may fetch it.
func (v *visit) subjectOf(ctx context.Context, id string) (*subject, error) {
	pic, err := v.getPicture(ctx, id)
	if err != nil {
		return nil, err
	}
	return v.subjectFrom(ctx, pic)
}

func (v *visit) subjectFrom(ctx context.Context, pic *pb.Picture) (*subject, error) {
	o := pic.GetOriginal()
	if o == nil {
		return nil, errNothing
	}
	s := &subject{pic: pic, width: int(o.GetWidth()), height: int(o.GetHeight()), gray: o.GetColorModel() == "gray" || o.GetColorModel() == "bilevel" || o.GetColorModel() == "graya"}
	if o.GetSha256() != "" {
		sum, err := storage.ParseDigest(o.GetSha256())
		if err != nil {
			return nil, err
		}
		s.sum, s.full, s.mark = sum, true, sum.String()
		if s.width <= 0 || s.height <= 0 {
			return nil, errNothing // a file of which not even the size could be read
		}
		return s, nil
	}
	small, err := v.largestPreview(ctx, pic)
	if err != nil {
		return nil, err
	}
	s.small, s.width, s.height, s.mark = small, int(small.GetWidth()), int(small.GetHeight()), small.GetSha256()
	return s, nil
}

// largestPreview tells of the largest preview; errLater while it is being made, errNothing if it can't be.
func (v *visit) largestPreview(ctx context.Context, pic *pb.Picture) (*pb.Preview, error) {
	d, err := v.transfer.GetDerived(ctx, &pb.GetDerivedRequest{Picture: pic.GetName()})
	if err != nil {
		return nil, err
	}
	var best *pb.Preview
	for _, p := range d.GetPreviews() {
		if best == nil || p.GetWidth() > best.GetWidth() {
			best = p
		}
	}
	switch {
	case d.GetState() == "pending":
		return nil, errLater
	case best == nil:
		return nil, errNothing
	default:
		return best, nil
	}
}

// maxPreview is the most bytes and pixels along an edge that are taken for a preview.
const (
	maxPreviewBytes = 32 << 20
	maxPreviewEdge  = 4096
)

// preview fetches and decodes a preview. It was made here, but it comes from a bucket.
func (v *visit) preview(ctx context.Context, pic *pb.Picture, p *pb.Preview) (image.Image, error) {
	r, err := v.download(ctx, pic.GetName(), p.GetVariant())
	if err != nil {
		return nil, err
	}
	b, err := io.ReadAll(io.LimitReader(r, maxPreviewBytes))
	if err = errors.Join(err, r.Close()); err != nil {
		return nil, err
	}
	conf, _, err := image.DecodeConfig(bytes.NewReader(b))
	if err != nil {
		return nil, fmt.Errorf("read %s of %s: %w", p.GetVariant(), pic.GetName(), err)
	}
	if conf.Width > maxPreviewEdge || conf.Height > maxPreviewEdge {
		return nil, fmt.Errorf("read %s of %s: %d by %d pixels, want at most %d", p.GetVariant(), pic.GetName(), conf.Width, conf.Height, maxPreviewEdge)
	}
	m, _, err := image.Decode(bytes.NewReader(b))
	return m, err
}

// original opens the original of a picture as the caller of ctx.
func (v *visit) original(name string) func(context.Context) (io.ReadCloser, error) {
	return func(ctx context.Context) (io.ReadCloser, error) { return v.download(ctx, name, "original") }
}

// download reads a variant of a picture as it comes.
func (v *visit) download(ctx context.Context, name, variant string) (io.ReadCloser, error) {
	ctx, cancel := context.WithCancel(ctx)
	stream, err := v.transfer.Download(ctx, &pb.DownloadRequest{Picture: name, Variant: variant})
	if err == nil {
		_, err = stream.Recv() // the header; an error of the call comes here
	}
	if err != nil {
		cancel()
		return nil, err
	}
	return &stretch{next: stream.Recv, cancel: cancel}, nil
}

// stretch reads the chunks of a download.
type stretch struct {
	next   func() (*pb.DownloadResponse, error)
	rest   []byte
	cancel context.CancelFunc
}

// Read implements io.Reader.
func (s *stretch) Read(p []byte) (int, error) {
	for len(s.rest) == 0 {
		m, err := s.next()
		if err != nil {
			return 0, err // io.EOF at the end
		}
		s.rest = m.GetChunk()
	}
	n := copy(p, s.rest)
	s.rest = s.rest[n:]
	return n, nil
}

// Close ends the download.
func (s *stretch) Close() error {
	s.cancel()
	return nil
}
