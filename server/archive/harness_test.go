package archive

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
	"platarium/storage/dir"
)

// clock is an instant that tests set. It stands still until then.
type clock struct {
	mu  sync.Mutex
	now time.Time
}

func newClock() *clock { return &clock{now: time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC)} }

func (c *clock) read() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.now
}

func (c *clock) set(t time.Time) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.now = t
}

func (c *clock) forward(d time.Duration) { c.set(c.read().Add(d)) }

// hooks is a bucket whose calls tests hold up or make fail.
type hooks struct {
	storage.Bucket
	mu     sync.Mutex
	before func(call, key string) error // nil for none; an error: the call isn't done
}

func (h *hooks) hook(f func(call, key string) error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.before = f
}

func (h *hooks) ask(call, key string) error {
	h.mu.Lock()
	f := h.before
	h.mu.Unlock()
	if f == nil {
		return nil
	}
	return f(call, key)
}

func (h *hooks) Create(ctx context.Context, key string, data []byte) error {
	if err := h.ask("create", key); err != nil {
		return err
	}
	return h.Bucket.Create(ctx, key, data)
}

func (h *hooks) Put(ctx context.Context, key string, body io.Reader, size int64, sum *storage.Digest) error {
	if err := h.ask("put", key); err != nil {
		return err
	}
	return h.Bucket.Put(ctx, key, body, size, sum)
}

func (h *hooks) Delete(ctx context.Context, key string) error {
	if err := h.ask("delete", key); err != nil {
		return err
	}
	return h.Bucket.Delete(ctx, key)
}

func (h *hooks) Open(ctx context.Context, key string, offset, length int64) (io.ReadCloser, error) {
	if err := h.ask("open", key); err != nil {
		return nil, err
	}
	return h.Bucket.Open(ctx, key, offset, length)
}

func (h *hooks) Stat(ctx context.Context, key string) (storage.Info, error) {
	if err := h.ask("stat", key); err != nil {
		return storage.Info{}, err
	}
	return h.Bucket.Stat(ctx, key)
}

// studio is an archive under test with what it stands on.
type studio struct {
	*Archive
	bucket *hooks
	folder string // of the bucket
	clock  *clock
	conf   Config
}

// counted makes ids that tell where they come from.
func counted(prefix string) func() string {
	var mu sync.Mutex
	n := 0
	return func() string {
		mu.Lock()
		defer mu.Unlock()
		n++
		return fmt.Sprintf("%s-%04d", prefix, n)
	}
}

func newStudio(t testing.TB) *studio {
	t.Helper()
	s := &studio{folder: t.TempDir(), clock: newClock()}
	b, err := dir.Open(s.folder)
	if err != nil {
		t.Fatal(err)
	}
	s.bucket = &hooks{Bucket: b}
	return s.join(t, func(c *Config) { c.NewID = counted("made") })
}

// join opens another archive over the same bucket, with a cache of its own unless change says otherwise.
func (s *studio) join(t testing.TB, change func(*Config)) *studio {
	t.Helper()
	conf := Config{Bucket: s.bucket, Cache: t.TempDir(), Clock: s.clock.read, CheckpointMin: -1}
	if change != nil {
		change(&conf)
	}
	a, err := Open(context.WithoutCancel(t.Context()), conf)
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	other := &studio{Archive: a, bucket: s.bucket, folder: s.folder, clock: s.clock, conf: conf}
	t.Cleanup(func() {
		if err := a.Close(); err != nil { // closing twice is no error
			t.Errorf("close: %v", err)
		}
	})
	return other
}

// reopen closes the archive and opens it again over the same cache.
func (s *studio) reopen(t testing.TB) *studio {
	t.Helper()
	s.shut(t)
	return s.join(t, func(c *Config) { *c = s.conf })
}

func (s *studio) shut(t testing.TB) {
	t.Helper()
	if err := s.Close(); err != nil {
		t.Fatalf("close: %v", err)
	}
}

var owner = Caller{Actor: "owner-key"}

func as(request string) Caller { return Caller{Actor: owner.Actor, RequestID: request} }

// must takes a result that has no error.
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

// Records that are right as they stand; tests change what they are about.
func plate() *pb.Picture { return &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Perch, left lateral"} }

func jar() *pb.Specimen {
	return &pb.Specimen{CatalogNumber: "LM 1902.4", Institution: "Lakeside Museum"}
}

func press() *pb.Party { return &pb.Party{DisplayName: "Reed Press", Role: "publisher"} }

func ownSpecies() *pb.Taxon {
	return &pb.Taxon{ScientificName: "Perca imaginaria", Rank: "species", Status: pb.TaxonStatus_TAXON_STATUS_ACCEPTED}
}

// licence is an executed licence of one picture.
func licence(to string, works ...string) *pb.Grant {
	return &pb.Grant{
		Licensee: to, Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2026-01-10",
		Scope: &pb.Scope{Works: works, Media: []string{"print.book"}, Territories: []string{"DE", "AT"}, Languages: []string{"*"}, From: "2026-01-15", To: "2028-01-14"},
	}
}

func exclusive(to string, works ...string) *pb.Grant {
	g := licence(to, works...)
	g.Exclusivity = pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE
	return g
}

func printed(by, grant string, works ...string) *pb.Use {
	return &pb.Use{User: by, Grant: grant, Title: "Fishes of the Lake", Copies: 500, Scope: &pb.Scope{
		Works: works, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2026-03-01",
	}}
}

func (s *studio) picture(t testing.TB, id string, change func(*pb.Picture)) *pb.Picture {
	t.Helper()
	p := plate()
	if change != nil {
		change(p)
	}
	return must[*pb.Picture](t)(s.CreatePicture(t.Context(), owner, p, id))
}

func (s *studio) party(t testing.TB, id string) string {
	t.Helper()
	return must[*pb.Party](t)(s.CreateParty(t.Context(), owner, press(), id)).GetName()
}

// wantViolation says what is wrong with an error that should name one field.
func wantViolation(t testing.TB, err error, field string) {
	t.Helper()
	var bad *InvalidError
	if !errors.As(err, &bad) {
		t.Errorf("got %v; want a violation of %s", err, field)
		return
	}
	var fields []string
	for _, v := range bad.Violations {
		fields = append(fields, v.Field)
		if v.Description == "" {
			t.Errorf("%s: no description", v.Field)
		}
	}
	if !slices.Contains(fields, field) {
		t.Errorf("violations of %q; want of %q: %v", fields, field, err)
	}
}

func wantIs(t testing.TB, err, want error) {
	t.Helper()
	if !errors.Is(err, want) {
		t.Errorf("got %v; want %v", err, want)
	}
}

// same compares messages and shows both when they differ.
func same(t testing.TB, what string, got, want proto.Message) {
	t.Helper()
	if !proto.Equal(got, want) {
		t.Errorf("%s differs:\n got %s\nwant %s", what, protojson.Format(got), protojson.Format(want))
	}
}

// stored reads every object of the bucket under a prefix, in order of key.
func (s *studio) stored(t testing.TB, prefix string) map[string]string {
	t.Helper()
	out := map[string]string{}
	for info, err := range s.bucket.List(t.Context(), prefix, "") {
		if err != nil {
			t.Fatal(err)
		}
		r, err := s.bucket.Open(t.Context(), info.Key, 0, -1)
		if err != nil {
			t.Fatal(err)
		}
		var b strings.Builder
		if _, err := io.Copy(&b, r); err != nil {
			t.Fatal(err)
		}
		if err := r.Close(); err != nil {
			t.Fatal(err)
		}
		out[info.Key] = b.String()
	}
	return out
}

// sync brings an archive up to what others have committed.
func (s *studio) sync(t testing.TB) int64 {
	t.Helper()
	return must[int64](t)(s.Journal().Sync(t.Context()))
}
