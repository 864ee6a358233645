package rest_test

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/test/bufconn"

	pb "platarium/proto/platarium/v1"
	"platarium/server/api"
	"platarium/server/archive"
	"platarium/server/preview"
	"platarium/server/rest"
	"platarium/storage/dir"
	"platarium/storage/imaging"
)

// desk is an archive behind the services, and the services behind HTTP.
type desk struct {
	archive *archive.Archive
	conn    *grpc.ClientConn
	url     string
	keys    map[string]string // secrets by key id
}

var system = archive.Caller{Actor: "system"}

func newDesk(t testing.TB) *desk {
	t.Helper()
	d := &desk{keys: map[string]string{}}
	b, err := dir.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	logger := slog.New(slog.DiscardHandler)
	ids := 0
	d.archive, err = archive.Open(context.Background(), archive.Config{
		Bucket: b, Cache: t.TempDir(), Logger: logger, CheckpointMin: -1,
		Clock: func() time.Time { return time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC) },
		NewID: func() string { ids++; return fmt.Sprintf("made-%04d", ids) },
	})
	if err != nil {
		t.Fatal(err)
	}
	runner, err := imaging.NewRunner(imaging.Config{Decoders: imaging.OnlyGo})
	if err != nil {
		t.Fatal(err)
	}
	services := api.New(d.archive, preview.New(b, d.archive.Originals(), runner, 1, logger), logger, "test")
	g := grpc.NewServer(services.Options()...)
	services.Register(g)
	line := bufconn.Listen(1 << 20)
	done := make(chan error, 1)
	go func() { done <- g.Serve(line) }()
	d.conn, err = grpc.NewClient("passthrough:desk", grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return line.DialContext(ctx) }),
		grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	h, err := rest.New(d.conn)
	if err != nil {
		t.Fatal(err)
	}
	front := httptest.NewServer(h)
	d.url = front.URL
	t.Cleanup(func() {
		front.Close()
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
	d.key(t, "owner", &pb.Key{Role: pb.Role_ROLE_OWNER})
	d.key(t, "assistant", &pb.Key{Role: pb.Role_ROLE_ASSISTANT})
	return d
}

// key makes a key; its secret stays with the desk.
func (d *desk) key(t testing.TB, id string, k *pb.Key) {
	t.Helper()
	if _, err := d.archive.CreateKey(context.Background(), system, k, id+"-key", func(secret string) error {
		d.keys[id] = secret
		return nil
	}); err != nil {
		t.Fatal(err)
	}
}

// stock fills the archive: a plate licensed to Quillfin Press, a study that no publisher sees, and a taxon.
func (d *desk) stock(t testing.TB) {
	t.Helper()
	ctx := t.Context()
	for _, id := range []string{"quillfin", "otterbach"} {
		must(t)(d.archive.CreateParty(ctx, system, &pb.Party{DisplayName: id, Role: "publisher"}, id))
		d.key(t, id, &pb.Key{Role: pb.Role_ROLE_PUBLISHER, Party: "parties/" + id})
	}
	for id, kind := range map[string]pb.Kind{"perch-plate": pb.Kind_KIND_PLATE, "perch-study": pb.Kind_KIND_STUDY, "ruffe-plate": pb.Kind_KIND_PLATE} {
		must(t)(d.archive.CreatePicture(ctx, system, &pb.Picture{
			Kind: kind, Title: "The " + id, Notes: "private words", View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_FINAL_ART,
			Identification: &pb.Identification{ScientificName: "Perca fluviatilis"}, Counts: &pb.Counts{Formula: "D XIV, I,13"},
			Original: &pb.Original{Sha256: d.file(t, "bytes of "+id)},
		}, id))
	}
	must(t)(d.archive.CreateGrant(ctx, system, &pb.Grant{
		Licensee: "parties/quillfin", Kind: pb.GrantKind_GRANT_KIND_LICENCE, Exclusivity: pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2025-01-05",
		Scope: &pb.Scope{Works: []string{"pictures/perch-plate"}, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2025-06-01", To: "2027-05-31"},
		Fee:   &pb.Money{Amount: "450.00", Currency: "EUR"},
	}, "first-grant"))
}

// file stores an original, with a preview as the decoder would have left it, and gives its sha256.
func (d *desk) file(t testing.TB, content string) string {
	t.Helper()
	sum := sha256.Sum256([]byte(content))
	must(t)(d.archive.StoreOriginal(t.Context(), strings.NewReader(content), int64(len(content)), sum))
	small := []byte("preview of " + content)
	of := sha256.Sum256(small)
	record, err := json.Marshal(imaging.Info{Version: 1, Decoder: "by hand", PHash: "00000000000000aa", Previews: []imaging.InfoPreview{
		{Name: "preview-320.jpg", MediaType: "image/jpeg", Width: 320, Height: 160, Size: len(small), SHA256: hex.EncodeToString(of[:])},
	}})
	if err != nil {
		t.Fatal(err)
	}
	for name, b := range map[string][]byte{"preview-320.jpg": small, imaging.InfoName: record} {
		if err := d.archive.Bucket().Put(t.Context(), "derived/"+hex.EncodeToString(sum[:])+"/"+name, bytes.NewReader(b), int64(len(b)), nil); err != nil {
			t.Fatal(err)
		}
	}
	return hex.EncodeToString(sum[:])
}

// must fails the test on an error.
func must(t testing.TB) func(any, error) {
	return func(_ any, err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
}

// as is a context for a call over gRPC with a key.
func (d *desk) as(t testing.TB, key string) context.Context {
	t.Helper()
	return metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+d.keys[key])
}

// answer is what came back.
type answer struct {
	code   int
	header http.Header
	body   []byte
}

// do asks over HTTP with a key, "" for none; set changes the request.
func (d *desk) do(t testing.TB, key, verb, path, body string, set ...func(*http.Request)) answer {
	t.Helper()
	r, err := http.NewRequestWithContext(t.Context(), verb, d.url+path, strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	if key != "" {
		r.Header.Set("Authorization", "Bearer "+d.keys[key])
	}
	for _, f := range set {
		f(r)
	}
	res, err := http.DefaultClient.Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer func() { _ = res.Body.Close() }()
	b, err := io.ReadAll(res.Body)
	if err != nil {
		t.Fatalf("%s %s: %v", verb, path, err)
	}
	return answer{res.StatusCode, res.Header, b}
}

func with(name, value string) func(*http.Request) {
	return func(r *http.Request) { r.Header.Set(name, value) }
}

// object is the answer as a JSON object, which must have the status wanted.
func (a answer) object(t testing.TB, code int) map[string]any {
	t.Helper()
	var v map[string]any
	if err := json.Unmarshal(a.body, &v); err != nil || a.code != code || a.header.Get("Content-Type") != "application/json" {
		t.Fatalf("got %d %s %q, %v; want %d", a.code, a.header.Get("Content-Type"), a.body, err, code)
	}
	return v
}

// reason is that of an error, with the fields at fault.
func (a answer) reason(t testing.TB, code int) (reason string, fields []string) {
	t.Helper()
	details, _ := a.object(t, code)["details"].([]any)
	for _, d := range details {
		detail, _ := d.(map[string]any)
		if r, ok := detail["reason"].(string); ok {
			reason = r
		}
		violations, _ := detail["fieldViolations"].([]any)
		for _, v := range violations {
			violation, _ := v.(map[string]any)
			fields = append(fields, fmt.Sprint(violation["field"]))
		}
	}
	return reason, fields
}
