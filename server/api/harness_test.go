package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"log/slog"
	"net"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/time/rate"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"
	"google.golang.org/grpc/test/bufconn"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/reflect/protoregistry"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/preview"
	"platarium/storage/dir"
	"platarium/storage/imaging"
)

// journalOfCalls takes what a server logs.
type journalOfCalls struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (j *journalOfCalls) Write(p []byte) (int, error) {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.b.Write(p)
}

func (j *journalOfCalls) text() string {
	j.mu.Lock()
	defer j.mu.Unlock()
	return j.b.String()
}

// desk is a server under test, reached over gRPC as any client would.
type desk struct {
	archive  *archive.Archive
	folder   string // of the bucket
	cache    string
	conn     *grpc.ClientConn
	log      *journalOfCalls
	services *Server
	mu       sync.Mutex
	now      time.Time
	keys     map[string]string // secrets by key id
}

func newDesk(t *testing.T) *desk {
	t.Helper()
	d := &desk{folder: t.TempDir(), cache: t.TempDir(), log: &journalOfCalls{}, now: time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC), keys: map[string]string{}}
	b, err := dir.Open(d.folder)
	if err != nil {
		t.Fatal(err)
	}
	logger := slog.New(slog.NewJSONHandler(d.log, &slog.HandlerOptions{Level: slog.LevelDebug}))
	ids := 0
	d.archive, err = archive.Open(context.WithoutCancel(t.Context()), archive.Config{Bucket: b, Cache: d.cache, Clock: d.clock, Logger: logger, CheckpointMin: -1, NewID: func() string {
		d.mu.Lock()
		defer d.mu.Unlock()
		ids++
		return "made-" + hex.EncodeToString([]byte{byte(ids >> 8), byte(ids)})
	}})
	if err != nil {
		t.Fatal(err)
	}
	runner, err := imaging.NewRunner(imaging.Config{Decoders: imaging.OnlyGo})
	if err != nil {
		t.Fatal(err)
	}
	queue := preview.New(b, d.archive.Originals(), runner, 1, logger)
	services := New(d.archive, queue, logger, "test")
	d.services = services
	g := grpc.NewServer(services.Options()...)
	services.Register(g)
	line := bufconn.Listen(1 << 20)
	done := make(chan error, 1)
	go func() { done <- g.Serve(line) }()
	d.conn, err = grpc.NewClient("passthrough:desk", grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return line.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()), grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(MaxMessage), grpc.MaxCallSendMsgSize(MaxMessage)))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := d.conn.Close(); err != nil {
			t.Error(err)
		}
		g.Stop()
		if err := <-done; err != nil {
			t.Error(err)
		}
		if err := d.archive.Close(); err != nil {
			t.Error(err)
		}
	})
	d.key(t, "owner-key", &pb.Key{Role: pb.Role_ROLE_OWNER})
	d.key(t, "desk-key", &pb.Key{Role: pb.Role_ROLE_ASSISTANT})
	return d
}

// unlimited lets the publishers of the stock ask more than anybody may.
func (d *desk) unlimited() {
	for key := range d.keys {
		d.services.limits.byKey[key] = rate.NewLimiter(rate.Inf, 0)
	}
}

func (d *desk) clock() time.Time {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.now
}

func (d *desk) forward(by time.Duration) {
	d.mu.Lock()
	defer d.mu.Unlock()
	d.now = d.now.Add(by)
}

// key makes a key; its secret stays with the desk.
func (d *desk) key(t testing.TB, id string, k *pb.Key) {
	t.Helper()
	_, err := d.archive.CreateKey(context.Background(), archive.Caller{Actor: "system"}, k, id, func(secret string) error {
		d.keys[id] = secret
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
}

// as is a context that presents a key.
func (d *desk) as(t testing.TB, key string) context.Context {
	t.Helper()
	secret, ok := d.keys[key]
	if !ok {
		t.Fatalf("no key %s", key)
	}
	return presenting(t, "Bearer "+secret)
}

func presenting(t testing.TB, value string) context.Context {
	ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
	t.Cleanup(cancel)
	return metadata.AppendToOutgoingContext(ctx, "authorization", value)
}

func (d *desk) records() pb.ArchiveServiceClient     { return pb.NewArchiveServiceClient(d.conn) }
func (d *desk) licensing() pb.LicensingServiceClient { return pb.NewLicensingServiceClient(d.conn) }
func (d *desk) taxa() pb.TaxaServiceClient           { return pb.NewTaxaServiceClient(d.conn) }
func (d *desk) search() pb.SearchServiceClient       { return pb.NewSearchServiceClient(d.conn) }
func (d *desk) transfer() pb.TransferServiceClient   { return pb.NewTransferServiceClient(d.conn) }
func (d *desk) admin() pb.AdminServiceClient         { return pb.NewAdminServiceClient(d.conn) }

func must[T any](t testing.TB) func(T, error) T {
	t.Helper()
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// rpc is one method of the contract.
type rpc struct {
	full string // as gRPC calls it
	desc protoreflect.MethodDescriptor
}

// contract lists every method of every service, from the descriptors.
func contract() []rpc {
	var all []rpc
	protoregistry.GlobalFiles.RangeFilesByPackage("platarium.v1", func(f protoreflect.FileDescriptor) bool {
		for i := range f.Services().Len() {
			s := f.Services().Get(i)
			for k := range s.Methods().Len() {
				m := s.Methods().Get(k)
				all = append(all, rpc{"/" + string(s.FullName()) + "/" + string(m.Name()), m})
			}
		}
		return true
	})
	slices.SortFunc(all, func(a, b rpc) int { return strings.Compare(a.full, b.full) })
	return all
}

func message(d protoreflect.MessageDescriptor) proto.Message {
	t, err := protoregistry.GlobalTypes.FindMessageByName(d.FullName())
	if err != nil {
		panic(err)
	}
	return t.New().Interface()
}

// call calls any method with one request and gathers all answers, at most so many.
func (d *desk) call(ctx context.Context, m rpc, req proto.Message, most int) ([]proto.Message, error) {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	s, err := d.conn.NewStream(ctx, &grpc.StreamDesc{ServerStreams: m.desc.IsStreamingServer(), ClientStreams: m.desc.IsStreamingClient()}, m.full)
	if err != nil {
		return nil, err
	}
	if err := s.SendMsg(req); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	if err := s.CloseSend(); err != nil {
		return nil, err
	}
	var out []proto.Message
	for len(out) < most {
		res := message(m.desc.Output())
		err := s.RecvMsg(res)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return out, err
		}
		out = append(out, res)
		if !m.desc.IsStreamingServer() {
			break
		}
	}
	return out, nil
}

// reason is what an error's ErrorInfo says.
func reason(err error) string {
	for _, detail := range status.Convert(err).Details() {
		if info, ok := detail.(*errdetails.ErrorInfo); ok && info.GetDomain() == domain {
			return info.GetReason()
		}
	}
	return ""
}

// fieldsOf are the fields that an error names.
func fieldsOf(err error) []string {
	var fields []string
	for _, detail := range status.Convert(err).Details() {
		if bad, ok := detail.(*errdetails.BadRequest); ok {
			for _, v := range bad.GetFieldViolations() {
				fields = append(fields, v.GetField())
			}
		}
	}
	return fields
}

func wantReason(t testing.TB, err error, want string) {
	t.Helper()
	if got := reason(err); got != want {
		t.Errorf("got %v with reason %q; want %q", err, got, want)
	}
}

func wantField(t testing.TB, err error, field string) {
	t.Helper()
	if !slices.Contains(fieldsOf(err), field) {
		t.Errorf("got %v, naming %q; want it to name %s", err, fieldsOf(err), field)
	}
}

// file stores an original, with previews as the decoder would have left them, and gives its sha256.
func (d *desk) file(t testing.TB, content string) string {
	t.Helper()
	sum := sha256.Sum256([]byte(content))
	if _, err := d.archive.StoreOriginal(t.Context(), strings.NewReader(content), int64(len(content)), sum); err != nil {
		t.Fatal(err)
	}
	hexSum := hex.EncodeToString(sum[:])
	small := []byte("preview of " + content)
	psum := sha256.Sum256(small)
	info := imaging.Info{Version: 1, Decoder: "by hand", PHash: "00000000000000aa", Warnings: []string{"mark-derived-warning"}, Previews: []imaging.InfoPreview{
		{Name: "preview-320.jpg", MediaType: "image/jpeg", Width: 320, Height: 160, Size: len(small), SHA256: hex.EncodeToString(psum[:])},
	}}
	record := must[[]byte](t)(json.Marshal(info))
	for name, b := range map[string][]byte{"preview-320.jpg": small, imaging.InfoName: record} {
		if err := d.archive.Bucket().Put(t.Context(), "derived/"+hexSum+"/"+name, bytes.NewReader(b), int64(len(b)), nil); err != nil {
			t.Fatal(err)
		}
	}
	return hexSum
}
