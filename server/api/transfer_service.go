package api

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"

	"google.golang.org/grpc"

	pb "platarium/proto/platarium/v1"
	"platarium/server/preview"
	"platarium/storage"
	"platarium/storage/imaging"
)

type transferService struct {
	pb.UnimplementedTransferServiceServer
	*Server
}

// Sentinel errors of transfers.
var (
	// errUpload: the stream isn't a header followed by the bytes it promised. The caller sends the file again.
	errUpload = errors.New("upload doesn't hold what its header promised")
	// errPending: the preview is still being made. The caller asks again later.
	errPending = errors.New("preview is still being made")
	// errNoPreview: the original can't be decoded here. The text says what would help.
	errNoPreview = errors.New("there is no preview")
)

// maxChunk is the largest piece of a file in one message, bytes.
const maxChunk = 1 << 20

// MaxOriginal is the largest file taken, bytes.
const MaxOriginal = 64 << 30

func (s transferService) StatOriginals(ctx context.Context, req *pb.StatOriginalsRequest) (*pb.StatOriginalsResponse, error) {
	if n := len(req.GetSha256()); n > mostInBatch {
		return nil, field("sha256", "has %d entries; want at most %d", n, mostInBatch)
	}
	res := &pb.StatOriginalsResponse{}
	for i, sum := range req.GetSha256() {
		d, err := storage.ParseDigest(sum)
		if err != nil {
			return nil, field(fmt.Sprintf("sha256[%d]", i), "%s", err)
		}
		size, ok, err := s.archive.HasOriginal(ctx, d)
		if err != nil {
			return nil, err
		}
		if !ok {
			size = -1
		}
		res.Sizes = append(res.Sizes, size)
	}
	return res, nil
}

func (s transferService) UploadOriginal(stream grpc.ClientStreamingServer[pb.UploadOriginalRequest, pb.UploadOriginalResponse]) error {
	ctx := stream.Context()
	first, err := stream.Recv()
	if err != nil {
		return fmt.Errorf("%w: %w", errUpload, err)
	}
	h := first.GetHeader()
	if h == nil {
		return fmt.Errorf("%w: the first message must be the header", errUpload)
	}
	sum, err := storage.ParseDigest(h.GetSha256())
	if err != nil {
		return field("header.sha256", "%s", err)
	}
	if h.GetSize() < 0 || h.GetSize() > MaxOriginal {
		return field("header.size", "found %d; want 0 to %d bytes", h.GetSize(), int64(MaxOriginal))
	}
	defer s.previews.Transfer()()
	stored, err := s.archive.StoreOriginal(ctx, &uploadReader{stream: stream}, h.GetSize(), sum)
	if errors.Is(err, storage.ErrChecksum) {
		return fmt.Errorf("%w: %s of %d bytes with sha256 %s", errUpload, h.GetFileName(), h.GetSize(), sum)
	}
	if err != nil {
		return err
	}
	o, err := s.archive.DescribeOriginal(ctx, sum, h.GetFileName())
	if err != nil {
		return err
	}
	return stream.SendAndClose(&pb.UploadOriginalResponse{Original: o, Stored: stored})
}

// uploadReader reads the chunks of an upload.
type uploadReader struct {
	stream grpc.ClientStreamingServer[pb.UploadOriginalRequest, pb.UploadOriginalResponse]
	rest   []byte
}

func (r *uploadReader) Read(p []byte) (int, error) {
	for len(r.rest) == 0 {
		m, err := r.stream.Recv()
		if err != nil {
			return 0, err // io.EOF when the client is done
		}
		chunk, ok := m.GetPart().(*pb.UploadOriginalRequest_Chunk)
		if !ok || len(chunk.Chunk) > maxChunk {
			return 0, fmt.Errorf("%w: want chunks of at most %d bytes after the header", errUpload, maxChunk)
		}
		r.rest = chunk.Chunk
	}
	n := copy(p, r.rest)
	r.rest = r.rest[n:]
	return n, nil
}

// Download sends an original to staff, and previews to whoever may see the picture.
func (s transferService) Download(req *pb.DownloadRequest, stream grpc.ServerStreamingServer[pb.DownloadResponse]) error {
	ctx := stream.Context()
	p := caller(ctx)
	pic, err := s.visiblePicture(p, req.GetPicture())
	if err != nil {
		return err
	}
	if req.GetOffset() < 0 || req.GetLength() < 0 {
		return field("offset", "found %d with length %d; want neither below 0", req.GetOffset(), req.GetLength())
	}
	if pic.GetOriginal() == nil {
		return fmt.Errorf("%w: %s has no file", errNoPreview, pic.GetName())
	}
	sum, err := storage.ParseDigest(pic.GetOriginal().GetSha256())
	if err != nil {
		return err
	}
	header, open, err := s.source(ctx, p, pic, sum, req.GetVariant())
	if err != nil {
		return err
	}
	length := int64(-1)
	if req.GetLength() > 0 {
		length = req.GetLength()
	}
	r, err := open(req.GetOffset(), length)
	if err != nil {
		return err
	}
	defer func() { _ = r.Close() }()
	return send(stream, header, r)
}

// source finds the bytes of a variant of a picture.
func (s transferService) source(ctx context.Context, p principal, pic *pb.Picture, sum storage.Digest, variant string) (*pb.DownloadHeader, func(offset, length int64) (io.ReadCloser, error), error) {
	base := strings.ReplaceAll(pic.GetName(), "/", "-")
	if variant == "original" || variant == "" {
		if p.outsider() {
			return nil, nil, errRole
		}
		o := pic.GetOriginal()
		name := pic.GetProvenance().GetFileName()
		if name == "" {
			name = base + imaging.Extension(o.GetMediaType())
		}
		return &pb.DownloadHeader{MediaType: o.GetMediaType(), Size: o.GetSize(), Sha256: sum.String(), FileName: path.Base(name)},
			func(offset, length int64) (io.ReadCloser, error) {
				return s.archive.Originals().Open(ctx, sum, offset, length)
			}, nil
	}
	d, err := s.derived(ctx, sum)
	if err != nil {
		return nil, nil, err
	}
	for _, v := range d.GetPreviews() {
		if v.GetVariant() == variant {
			ext := imaging.Extension(v.GetMediaType())
			return &pb.DownloadHeader{MediaType: v.GetMediaType(), Size: v.GetSize(), Sha256: v.GetSha256(), FileName: base + "-" + variant + ext},
				func(offset, length int64) (io.ReadCloser, error) {
					return s.previews.Open(ctx, sum, variant+ext, offset, length)
				}, nil
		}
	}
	switch d.GetState() {
	case "pending":
		return nil, nil, errPending
	case "failed":
		return nil, nil, fmt.Errorf("%w: %s", errNoPreview, d.GetFailure())
	}
	var names []string
	for _, v := range d.GetPreviews() {
		names = append(names, v.GetVariant())
	}
	return nil, nil, field("variant", "found %q; want original or one of %s", variant, strings.Join(names, ", "))
}

func send(stream grpc.ServerStreamingServer[pb.DownloadResponse], header *pb.DownloadHeader, r io.Reader) error {
	if err := stream.Send(&pb.DownloadResponse{Part: &pb.DownloadResponse_Header{Header: header}}); err != nil {
		return err
	}
	buf := make([]byte, maxChunk)
	for {
		n, err := io.ReadFull(r, buf)
		if n > 0 {
			// The codec copies the message before Send returns, and no stats handler looks at it later: the buffer can be used again.
			if err := stream.Send(&pb.DownloadResponse{Part: &pb.DownloadResponse_Chunk{Chunk: buf[:n]}}); err != nil {
				return err
			}
		}
		switch {
		case errors.Is(err, io.EOF), errors.Is(err, io.ErrUnexpectedEOF):
			return nil
		case err != nil:
			return fmt.Errorf("read the file: %w", err)
		}
	}
}

func (s transferService) GetDerived(ctx context.Context, req *pb.GetDerivedRequest) (*pb.Derived, error) {
	p := caller(ctx)
	pic, err := s.visiblePicture(p, req.GetPicture())
	if err != nil {
		return nil, err
	}
	if pic.GetOriginal() == nil {
		return &pb.Derived{State: "failed", Failure: "the record has no file"}, nil
	}
	sum, err := storage.ParseDigest(pic.GetOriginal().GetSha256())
	if err != nil {
		return nil, err
	}
	d, err := s.derived(ctx, sum)
	if err != nil {
		return nil, err
	}
	if p.outsider() {
		return &pb.Derived{State: d.GetState(), Previews: d.GetPreviews()}, nil
	}
	return d, s.embedded(ctx, d, sum, pic.GetOriginal().GetSize())
}

// embedded adds what the file itself says. A file whose metadata can't be read has none.
func (s transferService) embedded(ctx context.Context, d *pb.Derived, sum storage.Digest, size int64) error {
	e, err := imaging.Metadata(ctx, s.archive.Originals().ReaderAt(ctx, sum, size), size)
	var fault *imaging.Fault
	if err != nil && !errors.As(err, &fault) {
		return fmt.Errorf("read the metadata of %s: %w", sum, err)
	}
	d.Embedded = map[string]string{}
	for name, value := range map[string]string{
		"title": e.Title, "description": e.Description, "creators": strings.Join(e.Creators, "; "), "credit": e.Credit, "copyright notice": e.CopyrightNotice,
		"usage terms": e.UsageTerms, "web statement": e.WebStatement, "keywords": strings.Join(e.Keywords, "; "), "date created": e.DateCreated, "software": e.Software,
	} {
		if value != "" {
			d.Embedded[name] = value
		}
	}
	for _, dis := range e.Disagreements {
		parts := make([]string, len(dis.Values))
		for i, v := range dis.Values {
			parts[i] = fmt.Sprintf("%v says %q", v.Origin, v.Value)
		}
		d.Disagreements = append(d.Disagreements, dis.Field+": "+strings.Join(parts, ", "))
	}
	d.Warnings = append(d.Warnings, e.Warnings...)
	return nil
}

func (s transferService) derived(ctx context.Context, sum storage.Digest) (*pb.Derived, error) {
	info, err := s.previews.Info(ctx, sum)
	if errors.Is(err, storage.ErrNotExist) {
		if s.previews.GaveUp(sum) {
			return &pb.Derived{State: "failed", Failure: "the server couldn't make previews, for a reason that its log has; it tries again when it starts"}, nil
		}
		return &pb.Derived{State: "pending"}, nil
	}
	if err != nil {
		return nil, err
	}
	d := &pb.Derived{State: "ready", Decoder: info.Decoder, PerceptualHash: info.PHash, Warnings: info.Warnings}
	for _, v := range info.Previews {
		d.Previews = append(d.Previews, &pb.Preview{Variant: preview.Variant(v.Name), Width: int32(v.Width), Height: int32(v.Height), MediaType: v.MediaType, Size: int64(v.Size), Sha256: v.SHA256})
	}
	if f := info.Failure; f != nil {
		d.State, d.Failure = "failed", f.Wrong+"; "+f.Right
	}
	return d, nil
}
