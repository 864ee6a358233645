package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

type upload = grpc.ClientStreamingClient[pb.UploadOriginalRequest, pb.UploadOriginalResponse]

func header(sum string, size int64) *pb.UploadOriginalRequest {
	return &pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Header{Header: &pb.UploadHeader{Sha256: sum, Size: size, FileName: "scan.png"}}}
}

func piece(b []byte) *pb.UploadOriginalRequest {
	return &pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Chunk{Chunk: b}}
}

func sumOf(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// send sends messages and gives the answer.
func (d *desk) send(t *testing.T, parts ...*pb.UploadOriginalRequest) (*pb.UploadOriginalResponse, error) {
	t.Helper()
	s, err := d.transfer().UploadOriginal(d.as(t, "desk-key"))
	if err != nil {
		return nil, err
	}
	for _, p := range parts {
		if err := s.Send(p); errors.Is(err, io.EOF) {
			break // the server has answered
		} else if err != nil {
			return nil, err
		}
	}
	return s.CloseAndRecv()
}

// leftovers counts files in the bucket that an upload may have left: originals, whole and partial.
func (d *desk) leftovers(t *testing.T) (whole, partial int) {
	t.Helper()
	for folder, n := range map[string]*int{"originals": &whole, ".partial": &partial} {
		err := filepath.WalkDir(filepath.Join(d.folder, folder), func(_ string, e fs.DirEntry, err error) error {
			if errors.Is(err, fs.ErrNotExist) {
				return nil
			}
			if err == nil && !e.IsDir() {
				*n++
			}
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	return whole, partial
}

func TestUpload(t *testing.T) {
	d := newDesk(t)
	content := bytes.Repeat([]byte("line art "), 300_000) // more than two chunks
	sum := sumOf(content)
	for name, c := range map[string]struct {
		parts  []*pb.UploadOriginalRequest
		reason string
		field  string
	}{
		"nothing":           {nil, "UPLOAD", ""},
		"chunk first":       {[]*pb.UploadOriginalRequest{piece(content[:10])}, "UPLOAD", ""},
		"empty message":     {[]*pb.UploadOriginalRequest{{}}, "UPLOAD", ""},
		"header only":       {[]*pb.UploadOriginalRequest{header(sum, int64(len(content)))}, "UPLOAD", ""},
		"header twice":      {[]*pb.UploadOriginalRequest{header(sum, 20), header(sum, 20)}, "UPLOAD", ""},
		"short":             {[]*pb.UploadOriginalRequest{header(sum, int64(len(content))), piece(content[:1000])}, "UPLOAD", ""},
		"long":              {[]*pb.UploadOriginalRequest{header(sumOf(content[:10]), 10), piece(content[:11])}, "UPLOAD", ""},
		"wrong digest":      {[]*pb.UploadOriginalRequest{header(sumOf([]byte("other")), 10), piece(content[:10])}, "UPLOAD", ""},
		"chunk too large":   {[]*pb.UploadOriginalRequest{header(sum, int64(len(content))), piece(content[:maxChunk+1])}, "UPLOAD", ""},
		"no digest":         {[]*pb.UploadOriginalRequest{header("", 10)}, "INVALID_FIELD", "header.sha256"},
		"digest of letters": {[]*pb.UploadOriginalRequest{header(strings.Repeat("z", 64), 10)}, "INVALID_FIELD", "header.sha256"},
		"path as digest":    {[]*pb.UploadOriginalRequest{header("../../../../etc/passwd", 10)}, "INVALID_FIELD", "header.sha256"},
		"negative size":     {[]*pb.UploadOriginalRequest{header(sum, -1)}, "INVALID_FIELD", "header.size"},
		"huge size":         {[]*pb.UploadOriginalRequest{header(sum, MaxOriginal+1)}, "INVALID_FIELD", "header.size"},
	} {
		_, err := d.send(t, c.parts...)
		if status.Code(err) != codes.InvalidArgument {
			t.Errorf("%s gave %v", name, err)
		}
		wantReason(t, err, c.reason)
		if c.field != "" {
			wantField(t, err, c.field)
		}
		if whole, partial := d.leftovers(t); whole != 0 || partial != 0 {
			t.Errorf("%s leaves %d files, %d partial", name, whole, partial)
		}
	}
	chunks := func(b []byte, size int) []*pb.UploadOriginalRequest {
		parts := []*pb.UploadOriginalRequest{header(sumOf(b), int64(len(b)))}
		for len(b) > 0 {
			n := min(size, len(b))
			parts, b = append(parts, piece(b[:n]), piece(nil)), b[n:]
		}
		return parts
	}
	res := must[*pb.UploadOriginalResponse](t)(d.send(t, chunks(content, maxChunk)...))
	if !res.GetStored() || res.GetOriginal().GetSize() != int64(len(content)) || res.GetOriginal().GetSha256() != sum {
		t.Errorf("stored as %v", res)
	}
	if res := must[*pb.UploadOriginalResponse](t)(d.send(t, chunks(content, 1000)...)); res.GetStored() {
		t.Error("stored a second time")
	}
	if res := must[*pb.UploadOriginalResponse](t)(d.send(t, header(sum, int64(len(content))))); res.GetStored() { // known content need not be sent
		t.Error("stored a third time")
	}
	_, err := d.send(t, header(sum, 5), piece([]byte("fives")))
	if status.Code(err) != codes.InvalidArgument {
		t.Errorf("another length for known content gave %v", err)
	}
	if res := must[*pb.UploadOriginalResponse](t)(d.send(t, header(sumOf(nil), 0))); !res.GetStored() || res.GetOriginal().GetSize() != 0 {
		t.Errorf("an empty file is stored as %v", res)
	}
	sizes := must[*pb.StatOriginalsResponse](t)(d.transfer().StatOriginals(d.as(t, "desk-key"), &pb.StatOriginalsRequest{Sha256: []string{sum, strings.Repeat("0", 64), sumOf(nil)}})).GetSizes()
	if len(sizes) != 3 || sizes[0] != int64(len(content)) || sizes[1] != -1 || sizes[2] != 0 {
		t.Errorf("sizes %v", sizes)
	}
	_, err = d.transfer().StatOriginals(d.as(t, "desk-key"), &pb.StatOriginalsRequest{Sha256: []string{sum, "x"}})
	wantField(t, err, "sha256[1]")
	_, err = d.transfer().StatOriginals(d.as(t, "desk-key"), &pb.StatOriginalsRequest{Sha256: make([]string, mostInBatch+1)})
	wantField(t, err, "sha256")
}

// An upload broken off leaves nothing behind.
func TestUploadCancelled(t *testing.T) {
	d := newDesk(t)
	content := bytes.Repeat([]byte{7}, 3<<20)
	ctx, cancel := context.WithCancel(d.as(t, "desk-key"))
	s := must[upload](t)(d.transfer().UploadOriginal(ctx))
	for _, p := range []*pb.UploadOriginalRequest{header(sumOf(content), int64(len(content))), piece(content[:maxChunk]), piece(content[:maxChunk])} {
		if err := s.Send(p); err != nil {
			t.Fatal(err)
		}
	}
	for deadline := time.Now().Add(10 * time.Second); ; { // the server is in the middle of it
		if _, partial := d.leftovers(t); partial > 0 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatal("the upload didn't begin")
		}
		time.Sleep(5 * time.Millisecond)
	}
	cancel()
	if _, err := s.CloseAndRecv(); status.Code(err) != codes.Canceled {
		t.Errorf("the caller gets %v", err)
	}
	for deadline := time.Now().Add(10 * time.Second); ; {
		whole, partial := d.leftovers(t)
		if whole == 0 && partial == 0 {
			break
		}
		if time.Now().After(deadline) {
			t.Fatalf("%d files and %d partial ones stay", whole, partial)
		}
		time.Sleep(5 * time.Millisecond)
	}
	if strings.Contains(d.log.text(), `"level":"ERROR"`) {
		t.Errorf("a caller who leaves is logged as an error:\n%s", d.log.text())
	}
}

// fetch downloads a variant, or a part of it.
func (d *desk) fetch(t *testing.T, key string, req *pb.DownloadRequest) (*pb.DownloadHeader, []byte, error) {
	t.Helper()
	s, err := d.transfer().Download(d.as(t, key), req)
	if err != nil {
		return nil, nil, err
	}
	first, err := s.Recv()
	if err != nil {
		return nil, nil, err
	}
	if first.GetHeader() == nil {
		t.Error("the first message isn't the header")
	}
	var b []byte
	for {
		m, err := s.Recv()
		if errors.Is(err, io.EOF) {
			return first.GetHeader(), b, nil
		}
		if err != nil {
			return first.GetHeader(), b, err
		}
		if n := len(m.GetChunk()); n == 0 || n > maxChunk {
			t.Errorf("a chunk of %d bytes", n)
		}
		b = append(b, m.GetChunk()...)
	}
}

func TestDownload(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	content := []byte(strings.Repeat("0123456789", 250_000)) // more than two chunks
	sum := d.file(t, string(content))
	p := markedPicture(sum)
	p.Provenance.FileName = "../folder/plate nine.png"
	must[*pb.Picture](t)(d.archive.CreatePicture(t.Context(), system, p, "large-one"))
	size := int64(len(content))
	for _, c := range []struct{ offset, length, from, to int64 }{
		{0, 0, 0, size}, {0, size, 0, size}, {0, size + 100, 0, size}, {0, 1, 0, 1}, {5, 10, 5, 15}, {maxChunk - 1, 2, maxChunk - 1, maxChunk + 1}, {maxChunk, 0, maxChunk, size},
		{size - 1, 0, size - 1, size}, {size - 1, 10, size - 1, size}, {size, 0, size, size}, {size + 1000, 10, size, size},
	} {
		h, b, err := d.fetch(t, "desk-key", &pb.DownloadRequest{Picture: "pictures/large-one", Variant: "original", Offset: c.offset, Length: c.length})
		if err != nil || !bytes.Equal(b, content[c.from:c.to]) {
			t.Errorf("%d bytes from %d: got %d, %v", c.length, c.offset, len(b), err)
			continue
		}
		if h.GetSize() != size || h.GetSha256() != sum || h.GetFileName() != "plate nine.png" {
			t.Errorf("header %v", h)
		}
	}
	for _, c := range []*pb.DownloadRequest{{Offset: -1}, {Length: -1}} {
		c.Picture, c.Variant = "pictures/large-one", "original"
		_, _, err := d.fetch(t, "desk-key", c)
		wantField(t, err, "offset")
	}
	h, b, err := d.fetch(t, "stranger-key", &pb.DownloadRequest{Picture: s.plate, Variant: "preview-320", Offset: 3, Length: 4})
	if err != nil || string(b) != "view" || h.GetMediaType() != "image/jpeg" {
		t.Errorf("preview: %v, %q, %v", h, b, err)
	}
	for _, variant := range []string{"original", ""} {
		_, _, err := d.fetch(t, "licensee-key", &pb.DownloadRequest{Picture: s.plate, Variant: variant})
		if status.Code(err) != codes.PermissionDenied {
			t.Errorf("a publisher asking for the original gets %v", err)
		}
	}
	for _, variant := range []string{"preview-9", "../" + sum, "derived.json", "preview-320.jpg"} {
		_, _, err := d.fetch(t, "desk-key", &pb.DownloadRequest{Picture: s.plate, Variant: variant})
		wantField(t, err, "variant")
	}
	bare := markedPicture("")
	bare.Original = nil
	must[*pb.Picture](t)(d.archive.CreatePicture(t.Context(), system, bare, "without-file"))
	_, _, err = d.fetch(t, "desk-key", &pb.DownloadRequest{Picture: "pictures/without-file"})
	wantReason(t, err, "NO_PREVIEW")
	waiting := markedPicture(must[*pb.UploadOriginalResponse](t)(d.send(t, header(sumOf([]byte("w")), 1), piece([]byte("w")))).GetOriginal().GetSha256())
	must[*pb.Picture](t)(d.archive.CreatePicture(t.Context(), system, waiting, "waiting"))
	_, _, err = d.fetch(t, "desk-key", &pb.DownloadRequest{Picture: "pictures/waiting", Variant: "preview-320"})
	wantReason(t, err, "PREVIEW_PENDING")
}
