package s3_test

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/minio/minio-go/v7/pkg/credentials"

	"platarium/storage"
	"platarium/storage/buckettest"
	"platarium/storage/s3"
)

const (
	testKey    = "AKIDTESTONLY"
	testSecret = "secret-for-tests-only"
)

// answering is a store that finds its bucket and otherwise answers as told: for what a real one does too rarely.
func answering(t *testing.T, handle http.HandlerFunc) *s3.Bucket {
	t.Helper()
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.Method == http.MethodHead && strings.Trim(r.URL.Path, "/") == "archive" {
			return
		}
		handle(w, r)
	}))
	t.Cleanup(server.Close)
	b, err := s3.New(t.Context(), s3.Config{
		Endpoint: strings.TrimPrefix(server.URL, "http://"), Plain: true, Bucket: "archive", Credentials: credentials.NewStaticV4(testKey, testSecret, ""),
	})
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestAnswersBecomeSentinels(t *testing.T) {
	all := []error{storage.ErrExist, storage.ErrNotExist, storage.ErrDoubtful, storage.ErrChecksum, storage.ErrUnsuitable, storage.ErrKey}
	for _, c := range []struct {
		status int
		code   string
		want   error // nil: none of the sentinels
	}{
		{412, "PreconditionFailed", storage.ErrExist},
		{409, "ConditionalRequestConflict", storage.ErrExist},
		{409, "OperationAborted", nil},
		{403, "AccessDenied", nil},
		{404, "NoSuchBucket", nil},
		{400, "BadDigest", storage.ErrChecksum},
		{400, "XAmzContentSHA256Mismatch", storage.ErrChecksum},
		{409, "ObjectParentIsFile", storage.ErrKey},
		{501, "NotImplemented", storage.ErrUnsuitable},
		{507, "InsufficientStorage", storage.ErrDoubtful},
	} {
		b := answering(t, func(w http.ResponseWriter, r *http.Request) {
			_, _ = io.Copy(io.Discard, r.Body)
			w.WriteHeader(c.status)
			fmt.Fprintf(w, "<Error><Code>%s</Code><Message>As told.</Message></Error>", c.code)
		})
		for name, err := range map[string]error{
			"Create": b.Create(t.Context(), "k", []byte("x")), "Put": b.Put(t.Context(), "k", strings.NewReader("x"), 1, nil),
		} {
			if err == nil {
				t.Errorf("%s: %d %s was taken for success", name, c.status, c.code)
			}
			for _, sentinel := range all {
				if is := errors.Is(err, sentinel); is != errors.Is(c.want, sentinel) {
					t.Errorf("%s: %d %s became %v, want %v", name, c.status, c.code, err, c.want)
				}
			}
		}
	}
}

// A lost reply: the store took the object and the connection broke.
func TestALostReplyIsDoubtful(t *testing.T) {
	var stored atomic.Int32
	lose := func(w http.ResponseWriter, r *http.Request) {
		if _, err := io.Copy(io.Discard, r.Body); err == nil {
			stored.Add(1)
		}
		panic(http.ErrAbortHandler)
	}
	b := answering(t, lose)
	if err := b.Create(t.Context(), "k", []byte("x")); !errors.Is(err, storage.ErrDoubtful) || stored.Load() == 0 {
		t.Errorf("found %v, want ErrDoubtful", err)
	}
	content := buckettest.Content{Seed: 1, Size: 6 << 20}
	sum := content.Digest()
	if err := b.Put(t.Context(), "k", content.Reader(), content.Size, &sum); !errors.Is(err, storage.ErrDoubtful) {
		t.Errorf("found %v, want ErrDoubtful", err)
	}
	// A retry meets what the lost request stored: the caller reads back.
	var asked atomic.Int32
	b = answering(t, func(w http.ResponseWriter, r *http.Request) {
		if asked.Add(1) == 1 {
			lose(w, r)
		}
		w.WriteHeader(http.StatusPreconditionFailed)
	})
	if err := b.Create(t.Context(), "k", []byte("x")); !errors.Is(err, storage.ErrExist) {
		t.Errorf("found %v, want ErrExist", err)
	}
}

func TestCancelledWhileWaitingIsDoubtful(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	b := answering(t, func(w http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		cancel()
		<-r.Context().Done()
	})
	err := b.Create(ctx, "k", []byte("x"))
	if !errors.Is(err, storage.ErrDoubtful) || !errors.Is(err, context.Canceled) {
		t.Errorf("found %v, want ErrDoubtful and context.Canceled", err)
	}
}

func TestCreateIsOneConditionalRequest(t *testing.T) {
	var requests []string
	b := answering(t, func(_ http.ResponseWriter, r *http.Request) {
		_, _ = io.Copy(io.Discard, r.Body)
		requests = append(requests, fmt.Sprintf("%s %s If-None-Match:%s", r.Method, r.URL, r.Header.Get("If-None-Match")))
	})
	if err := b.Create(t.Context(), "journal/1.json", make([]byte, storage.MaxCreate)); err != nil {
		t.Fatal(err)
	}
	if want := "PUT /archive/journal/1.json If-None-Match:*"; len(requests) != 1 || requests[0] != want {
		t.Errorf("found %q, want only %q", requests, want)
	}
}

func TestAnUnorderedListingIsRefused(t *testing.T) {
	b := answering(t, func(w http.ResponseWriter, _ *http.Request) {
		fmt.Fprint(w, `<ListBucketResult><IsTruncated>false</IsTruncated>
			<Contents><Key>b</Key><Size>1</Size></Contents><Contents><Key>a</Key><Size>1</Size></Contents></ListBucketResult>`)
	})
	var last error
	for _, err := range b.List(t.Context(), "", "") {
		last = err
	}
	if !errors.Is(last, storage.ErrUnsuitable) {
		t.Errorf("found %v, want ErrUnsuitable", last)
	}
}

func TestCredentialsStayOutOfErrors(t *testing.T) {
	address := buckettest.S3Server(t)
	c := config(t, address)
	for name, creds := range map[string]*credentials.Credentials{
		"unknown key": credentials.NewStaticV4(testKey, testSecret, "token-for-tests"), "wrong secret": credentials.NewStaticV4("buckettest", testSecret, ""),
	} {
		c.Credentials = creds
		_, err := s3.New(t.Context(), c)
		if err == nil {
			t.Fatalf("%s: was let in", name)
		}
		for _, secret := range []string{testKey, testSecret, "token-for-tests", "Signature="} {
			if text := fmt.Sprintf("%v %+v", err, err); strings.Contains(text, secret) {
				t.Errorf("%s: %q shows %q", name, text, secret)
			}
		}
	}
}

func TestConfigIsValidated(t *testing.T) {
	good := s3.Config{Endpoint: "store.example:9000", Bucket: "archive", Credentials: credentials.NewStaticV4("a", "b", "")}
	if err := good.Validate(); err != nil {
		t.Fatal(err)
	}
	for name, spoil := range map[string]func(*s3.Config){
		"no endpoint":     func(c *s3.Config) { c.Endpoint = "" },
		"endpoint is URL": func(c *s3.Config) { c.Endpoint = "https://store.example" },
		"user":            func(c *s3.Config) { c.Endpoint = "me@store.example" },
		"no bucket":       func(c *s3.Config) { c.Bucket = "" },
		"no credentials":  func(c *s3.Config) { c.Credentials = nil },
		"bad prefix":      func(c *s3.Config) { c.Prefix = "../x" },
		"slash":           func(c *s3.Config) { c.Prefix = "x/" },
		"long prefix":     func(c *s3.Config) { c.Prefix = strings.Repeat("x", 101) },
		"limit":           func(c *s3.Config) { c.SinglePut = 6 << 30 },
	} {
		c := good
		spoil(&c)
		if err := c.Validate(); err == nil {
			t.Errorf("%s: passed", name)
		}
		if _, err := s3.New(t.Context(), c); err == nil {
			t.Errorf("%s: was opened", name)
		}
	}
}

func TestAnAbsentBucketIsSaidSo(t *testing.T) {
	c := config(t, buckettest.S3Server(t))
	c.CreateBucket = false
	_, err := s3.New(t.Context(), c)
	if err == nil || !strings.Contains(err.Error(), `no bucket "archive"`) {
		t.Errorf("found %v", err)
	}
}
