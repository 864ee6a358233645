package rest_test

import (
	"context"
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/testing/protocmp"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rest"
)

// ear is a connection that keeps what is asked, and answers streams as it is told.
type ear struct {
	ctx     context.Context //nolint:containedctx // kept to be looked at after the call
	request proto.Message
	answers []proto.Message
	err     error // ends a stream after its answers
}

func (e *ear) Invoke(ctx context.Context, _ string, req, _ any, _ ...grpc.CallOption) error {
	e.ctx = ctx
	e.request, _ = req.(proto.Message)
	return nil
}

func (e *ear) NewStream(ctx context.Context, _ *grpc.StreamDesc, _ string, _ ...grpc.CallOption) (grpc.ClientStream, error) {
	e.ctx = ctx
	return &mouth{ear: e}, nil
}

// mouth is a stream of what an ear was told to say.
type mouth struct {
	grpc.ClientStream
	ear  *ear
	said int
}

func (m *mouth) SendMsg(req any) error {
	m.ear.request, _ = req.(proto.Message)
	return nil
}
func (m *mouth) CloseSend() error { return nil }
func (m *mouth) RecvMsg(res any) error {
	if m.said == len(m.ear.answers) {
		return m.ear.err
	}
	proto.Merge(res.(proto.Message), m.ear.answers[m.said])
	m.said++
	return nil
}

func listening(t testing.TB, e *ear) http.Handler {
	t.Helper()
	h, err := rest.New(e)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func asked(verb, path, body string) *http.Request {
	r := httptest.NewRequest(verb, path, strings.NewReader(body))
	r.Header.Set("Authorization", "Bearer k")
	return r
}

// A stream that fails after its beginning says so in its last line.
func TestStreamFailsLate(t *testing.T) {
	e := &ear{answers: []proto.Message{&pb.VerifyResponse{Commits: 1}, &pb.VerifyResponse{Commits: 2}}, err: status.Error(codes.DataLoss, "the journal is broken")}
	w := httptest.NewRecorder()
	listening(t, e).ServeHTTP(w, asked("POST", "/v1/journal:verify", `{"skipOriginals":true}`))
	lines := strings.Split(strings.TrimSuffix(w.Body.String(), "\n"), "\n")
	if w.Code != 200 || len(lines) != 3 || canon(t, []byte(lines[1])) != `{"commits":"2"}` || canon(t, []byte(lines[2])) != `{"error":{"code":15,"message":"the journal is broken"}}` {
		t.Errorf("got %d %q", w.Code, lines)
	}
	if !e.request.(*pb.VerifyRequest).GetSkipOriginals() {
		t.Errorf("asked %v", e.request)
	}
}

// A file that breaks off is never taken for a whole one.
func TestFileFailsLate(t *testing.T) {
	header := &pb.DownloadResponse{Part: &pb.DownloadResponse_Header{Header: &pb.DownloadHeader{MediaType: "image/png", Size: 9, FileName: "a.png"}}}
	half := &pb.DownloadResponse{Part: &pb.DownloadResponse_Chunk{Chunk: []byte("half")}}
	for _, ending := range []error{status.Error(codes.DataLoss, "damaged"), io.EOF} {
		for _, c := range []struct{ verb, path, accept string }{
			{"GET", "/v1/pictures/perch-plate/files/original", ""}, {"POST", "/v1/pictures/perch-plate:deliver", ""}, {"POST", "/v1/pictures/perch-plate:deliver", "multipart/mixed"},
		} {
			if c.accept != "" && errors.Is(ending, io.EOF) {
				continue // the parts don't say how long they are
			}
			front := httptest.NewServer(listening(t, &ear{answers: []proto.Message{header, half}, err: ending}))
			r, err := http.NewRequestWithContext(t.Context(), c.verb, front.URL+c.path, nil)
			if err != nil {
				t.Fatal(err)
			}
			r.Header.Set("Authorization", "Bearer k")
			r.Header.Set("Accept", c.accept)
			res, err := front.Client().Do(r)
			if err == nil { // a short beginning may not have left before the end
				_, err = io.ReadAll(res.Body)
				_ = res.Body.Close()
			}
			if err == nil {
				t.Errorf("%s %s ends well after %v", c.verb, c.path, ending)
			}
			front.Close()
		}
	}
}

// The services get the caller's key and nothing else of what it sent.
func TestOnlyTheKeyGoesOn(t *testing.T) {
	e := &ear{}
	r := asked("GET", "/v1/status", "")
	for _, name := range []string{"Cookie", "Grpc-Metadata-Role", "X-Forwarded-For", "Grpc-Timeout"} {
		r.Header.Set(name, "1")
	}
	listening(t, e).ServeHTTP(httptest.NewRecorder(), r)
	md, _ := metadata.FromOutgoingContext(e.ctx)
	if diff := cmp.Diff(metadata.MD{"authorization": {"Bearer k"}}, md); diff != "" {
		t.Error(diff)
	}
}

// Any query and body are refused or understood; what was understood is said by its own JSON again.
func FuzzRequest(f *testing.F) {
	for _, s := range [][2]string{
		{"", `{"kind":"KIND_PLATE","title":"Zander"}`}, {"pictureId=zander-plate&request_id=1", `{"counts":{"formula":"D XIV"}}`}, {"pictureId=a&pictureId=b", `{}`}, {"limit=1", `{}`},
		{"%zz", `{"titel":1}`}, {"picture=x", `[]`}, {"requestId=%ff", `{"title":"\ud800"}`}, {"picture.title=x", `null`}, {"pictureId=", `{"title":"a","title":"b"}`},
	} {
		f.Add(s[0], s[1])
	}
	e := &ear{}
	h := listening(f, e)
	f.Fuzz(func(t *testing.T, query, body string) {
		send := func(query, body string) (int, *pb.CreatePictureRequest) {
			e.request = nil
			r := asked("POST", "/v1/pictures", body)
			r.URL.RawQuery = query
			w := httptest.NewRecorder()
			h.ServeHTTP(w, r)
			req, _ := e.request.(*pb.CreatePictureRequest)
			return w.Code, req
		}
		code, first := send(query, body)
		if (code == 200) != (first != nil) || code != 200 && code != 400 {
			t.Fatalf("%d for %v", code, first)
		}
		if first == nil {
			return
		}
		b, err := protojson.Marshal(first.GetPicture())
		if err != nil {
			t.Fatal(err)
		}
		again := url.Values{"pictureId": {first.GetPictureId()}, "requestId": {first.GetRequestId()}}
		if code, second := send(again.Encode(), string(b)); code != 200 || !cmp.Equal(first, second, protocmp.Transform()) {
			t.Errorf("%d: %v becomes %v", code, first, second)
		}
	})
}
