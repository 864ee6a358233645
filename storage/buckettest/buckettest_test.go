package buckettest

import (
	"bytes"
	"context"
	"crypto/sha256"
	"io"
	"net"
	"net/url"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"platarium/storage"
)

func TestContentIsTheSameHoweverItIsRead(t *testing.T) {
	for _, size := range []int64{0, 1, blockSize - 1, blockSize, blockSize + 1, 3*blockSize + 5} {
		c := Content{Seed: 1, Size: size}
		want := c.Bytes()
		if int64(len(want)) != size || storage.Digest(sha256.Sum256(want)) != c.Digest() {
			t.Errorf("%d bytes: found %d with another digest", size, len(want))
		}
		if got, err := io.ReadAll(iotest.HalfReader(c.Reader())); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%d bytes read in halves: found others, %v", size, err)
		}
		if size > 0 && c.Digest() == (Content{Seed: 2, Size: size}).Digest() {
			t.Errorf("%d bytes: the seed makes no difference", size)
		}
	}
	blocks := Content{Seed: 1, Size: 2 * blockSize}.Bytes()
	if bytes.Equal(blocks[:blockSize], blocks[blockSize:]) {
		t.Error("exchanged blocks would go unnoticed")
	}
}

func TestAMissingServerIsSaidSo(t *testing.T) {
	t.Setenv("PATH", t.TempDir())
	if path, err := find([]string{"", t.TempDir()}); err == nil || !strings.Contains(err.Error(), "go install github.com/versity/versitygw") {
		t.Errorf("found %q, %v", path, err)
	}
}

func TestServerStops(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	for name, end := range map[string]func(stop func() error) error{
		"stop":    func(stop func() error) error { return stop() },
		"context": func(stop func() error) error { cancel(); return stop() },
	} {
		c := t.Context()
		if name == "context" {
			c = ctx
		}
		address, env, stop, err := StartS3(c, t.TempDir())
		if err != nil {
			t.Fatal(err)
		}
		u, err := url.Parse(address)
		if err != nil || u.Scheme != "s3" || env["AWS_ACCESS_KEY_ID"] == "" || env["AWS_SECRET_ACCESS_KEY"] == "" {
			t.Fatalf("%s: found %s, %v", name, address, err)
		}
		host := strings.TrimPrefix(u.Query().Get("endpoint"), "http://")
		conn, err := net.DialTimeout("tcp", host, 5*time.Second)
		if err != nil {
			t.Fatalf("%s: it doesn't listen: %v", name, err)
		}
		if err := conn.Close(); err != nil {
			t.Error(err)
		}
		for range 2 {
			if err := end(stop); err != nil {
				t.Errorf("%s: %v", name, err)
			}
		}
		if conn, err := net.DialTimeout("tcp", host, 5*time.Second); err == nil {
			t.Errorf("%s: it still listens (close: %v)", name, conn.Close())
		}
	}
}

func TestUnder(t *testing.T) {
	if got, want := Under("s3://archive?endpoint=http://h", "a/b"), "s3://archive/a/b?endpoint=http://h"; got != want {
		t.Errorf("found %s, want %s", got, want)
	}
}
