package rest

import (
	"cmp"
	"context"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/textproto"
	"strconv"
	"strings"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// receiver is the part of a stream that a download needs.
type receiver interface{ RecvMsg(m any) error }

// download reads the chunks of a file after its header.
type download struct {
	from receiver
	rest []byte
}

// begin takes the header of a file off its stream.
func begin(from receiver) (*pb.DownloadHeader, *download, error) {
	var first pb.DownloadResponse
	if err := from.RecvMsg(&first); err != nil {
		return nil, nil, err
	}
	h := first.GetHeader()
	if h == nil {
		return nil, nil, refusal(codes.Internal, "INTERNAL", "the file came without its header")
	}
	return h, &download{from: from}, nil
}

func (d *download) Read(p []byte) (int, error) {
	for len(d.rest) == 0 {
		var m pb.DownloadResponse
		if err := d.from.RecvMsg(&m); err != nil {
			return 0, err // io.EOF at the end
		}
		d.rest = m.GetChunk()
	}
	n := copy(p, d.rest)
	d.rest = d.rest[n:]
	return n, nil
}

// describe sets what a file's header says. Files are for keeping, never for showing within a page: what somebody scanned may hold anything.
func describe(h textproto.MIMEHeader, file *pb.DownloadHeader) {
	h.Set("Content-Type", cmp.Or(file.GetMediaType(), "application/octet-stream")) // never guessed from the bytes
	h.Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": file.GetFileName()}))
	if sum, err := hex.DecodeString(file.GetSha256()); err == nil && len(sum) > 0 {
		h.Set("Repr-Digest", "sha-256=:"+base64.StdEncoding.EncodeToString(sum)+":") // RFC 9530
	}
}

// file answers with the bytes of a file that is made for the request. With "Accept: multipart/mixed" the sidecar of a delivery comes before it as a part of its own.
type file struct{ *call }

func (f file) answer(w http.ResponseWriter, r *http.Request) error {
	req, err := f.request(w, r)
	if err != nil {
		return err
	}
	s, err := f.ask(r, req)
	if err != nil {
		return err
	}
	header, body, err := begin(s)
	if err != nil {
		return err
	}
	if strings.HasPrefix(r.Header.Get("Accept"), "multipart/mixed") {
		return together(w, header, body)
	}
	describe(textproto.MIMEHeader(w.Header()), header)
	if header.GetSize() > 0 {
		w.Header().Set("Content-Length", strconv.FormatInt(header.GetSize(), 10))
	}
	if _, err := io.Copy(w, body); err != nil {
		panic(http.ErrAbortHandler) // the caller must not take a part for the whole
	}
	return nil
}

// together sends the sidecar and the file as parts.
func together(w http.ResponseWriter, header *pb.DownloadHeader, body io.Reader) error {
	m := multipart.NewWriter(w)
	w.Header().Set("Content-Type", "multipart/mixed; boundary="+m.Boundary())
	err := func() error {
		if len(header.GetSidecar()) > 0 {
			side := textproto.MIMEHeader{}
			describe(side, &pb.DownloadHeader{MediaType: "application/json", FileName: header.GetFileName() + ".json"})
			p, err := m.CreatePart(side)
			if err != nil {
				return err
			}
			if _, err := p.Write(header.GetSidecar()); err != nil {
				return err
			}
		}
		main := textproto.MIMEHeader{}
		describe(main, header)
		p, err := m.CreatePart(main)
		if err != nil {
			return err
		}
		if _, err := io.Copy(p, body); err != nil {
			return err
		}
		return m.Close()
	}()
	if err != nil {
		panic(http.ErrAbortHandler) // as in answer
	}
	return nil
}

// ranges answers with the bytes of a kept file or a part of them: ranges and conditions are as HTTP has them (RFC 9110), the entity tag is the sha256.
type ranges struct{ *call }

func (g ranges) answer(w http.ResponseWriter, r *http.Request) error {
	req, err := g.request(w, r)
	if err != nil {
		return err
	}
	ask, ok := req.(*pb.DownloadRequest)
	if !ok {
		return fmt.Errorf("%T can't be asked for parts", req)
	}
	s := &seeker{open: func(offset int64) (*pb.DownloadHeader, *download, func(), error) {
		ctx, cancel := context.WithCancel(r.Context())
		part := proto.CloneOf(ask)
		part.Offset = offset
		stream, err := g.ask(r.WithContext(ctx), part)
		if err != nil {
			cancel()
			return nil, nil, nil, err
		}
		h, d, err := begin(stream)
		if err != nil {
			cancel()
		}
		return h, d, cancel, err
	}}
	header, err := s.reopen(0)
	if err != nil {
		return err
	}
	defer func() { s.close() }()
	s.size = header.GetSize()
	h := w.Header()
	describe(textproto.MIMEHeader(h), header)
	h.Set("ETag", `"`+header.GetSha256()+`"`)
	h.Set("Cache-Control", "private, no-cache") // kept by the caller alone, and asked for again: keys end
	if strings.Contains(r.Header.Get("Range"), ",") {
		r.Header.Del("Range") // many small parts would cost a stream each; a server may answer with the whole
	}
	http.ServeContent(&outside{ResponseWriter: w}, r, "", time.Time{}, s)
	if s.err != nil {
		panic(http.ErrAbortHandler) // the caller must not take a part for the whole
	}
	return nil
}

// outside says in the form of all errors that a range lies outside of the file, which http.ServeContent says as text.
type outside struct {
	http.ResponseWriter
	said bool
}

func (o *outside) WriteHeader(code int) {
	if code != http.StatusRequestedRangeNotSatisfiable {
		o.ResponseWriter.WriteHeader(code)
		return
	}
	o.said = true
	fail(o.ResponseWriter, &httpError{code, refusal(codes.OutOfRange, "RANGE", "the file has no such bytes; its length stands in Content-Range")})
}

func (o *outside) Write(b []byte) (int, error) {
	if o.said {
		return len(b), nil
	}
	return o.ResponseWriter.Write(b)
}

// seeker reads a file through streams that begin where it is read from. The first one stays open until it is known whether the beginning is wanted.
type seeker struct {
	open   func(offset int64) (*pb.DownloadHeader, *download, func(), error)
	size   int64 // of the whole file
	want   int64 // where the next read begins
	at     int64 // where the stream is
	stream *download
	close  func()
	err    error // that ended reading
}

func (s *seeker) reopen(offset int64) (*pb.DownloadHeader, error) {
	if s.close != nil {
		s.close()
	}
	h, stream, end, err := s.open(offset)
	if err != nil {
		s.close = func() {}
		return nil, err
	}
	s.at, s.want, s.stream, s.close = offset, offset, stream, end
	return h, nil
}

// Seek moves the place of the next read; only from the beginning or to the end, as http.ServeContent does.
func (s *seeker) Seek(offset int64, whence int) (int64, error) {
	switch whence {
	case io.SeekStart:
		s.want = offset
	case io.SeekEnd:
		s.want = s.size + offset
	default:
		return 0, fmt.Errorf("seek from %d isn't known", whence)
	}
	return s.want, nil
}

func (s *seeker) Read(p []byte) (int, error) {
	if s.want >= s.size {
		return 0, io.EOF
	}
	if s.want != s.at {
		if _, err := s.reopen(s.want); err != nil {
			s.err = err
			return 0, err
		}
	}
	n, err := s.stream.Read(p)
	s.at += int64(n)
	s.want = s.at
	if errors.Is(err, io.EOF) && s.at < s.size {
		err = io.ErrUnexpectedEOF
	}
	if err != nil && !errors.Is(err, io.EOF) {
		s.err = err
	}
	return n, err
}
