package s3_test

import (
	"bytes"
	"crypto/rand"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"platarium/storage"
	"platarium/storage/buckettest"
	"platarium/storage/s3"
)

// config reads what buckettest gives, and puts each bucket under a prefix of its own.
func config(t testing.TB, address string) s3.Config {
	t.Helper()
	u, err := url.Parse(address)
	if err != nil {
		t.Fatal(err)
	}
	endpoint, err := url.Parse(u.Query().Get("endpoint"))
	if err != nil {
		t.Fatal(err)
	}
	return s3.Config{
		Endpoint: endpoint.Host, Plain: endpoint.Scheme == "http", Bucket: u.Host, Region: u.Query().Get("region"), CreateBucket: true,
		Credentials: credentials.NewEnvAWS(),
		Prefix:      "studio/" + strings.ToLower(rand.Text()[:8]),
	}
}

func open(t testing.TB, c s3.Config) *s3.Bucket {
	t.Helper()
	b, err := s3.New(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestConformance(t *testing.T) {
	address := buckettest.S3Server(t)
	buckettest.Run(t, func(t *testing.T) storage.Bucket { return open(t, config(t, address)) })
}

func TestConformanceTLS(t *testing.T) {
	address := buckettest.S3ServerTLS(t)
	pem, err := os.ReadFile(os.Getenv("SSL_CERT_FILE"))
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(pem)
	buckettest.RunQuick(t, func(t *testing.T) storage.Bucket {
		c := config(t, address)
		c.RootCAs = pool
		return open(t, c)
	})
	c := config(t, address)
	c.RootCAs = x509.NewCertPool()
	if _, err := s3.New(t.Context(), c); err == nil {
		t.Error("a certificate that nobody vouches for was accepted")
	}
}

// TestParts has a low limit, so that uploads of known digest go in parts too.
func TestParts(t *testing.T) {
	c := config(t, buckettest.S3Server(t))
	c.SinglePut = 1
	b := open(t, c)
	for _, size := range []int64{5<<20 + 1, 10 << 20, 12 << 20} {
		content := buckettest.Content{Seed: 1, Size: size}
		sum, wrong := content.Digest(), storage.Digest{}
		if err := b.Put(t.Context(), "parts", content.Reader(), size, &wrong); !errors.Is(err, storage.ErrChecksum) {
			t.Errorf("%d bytes of a wrong digest: found %v", size, err)
		}
		if _, err := b.Stat(t.Context(), "parts"); !errors.Is(err, storage.ErrNotExist) {
			t.Errorf("%d bytes of a wrong digest: then %v", size, err)
		}
		if err := b.Put(t.Context(), "parts", content.Reader(), size, &sum); err != nil {
			t.Fatal(err)
		}
		if got := contents(t, b, "parts"); !bytes.Equal(got, content.Bytes()) {
			t.Errorf("%d bytes were changed", size)
		}
		if err := b.Delete(t.Context(), "parts"); err != nil {
			t.Fatal(err)
		}
	}
	if err := b.Put(t.Context(), "huge", failing{}, 200<<30, nil); err == nil || errors.Is(err, errRead) {
		t.Errorf("200 GiB: found %v, want a refusal before anything is read", err)
	}
	// Refused uploads leave no parts behind either.
	client, err := minio.New(c.Endpoint, &minio.Options{Creds: c.Credentials, Region: c.Region})
	if err != nil {
		t.Fatal(err)
	}
	for left := range client.ListIncompleteUploads(t.Context(), c.Bucket, "", true) {
		t.Errorf("an unfinished upload is left: %+v", left)
	}
}

var errRead = errors.New("was read")

type failing struct{}

func (failing) Read([]byte) (int, error) { return 0, errRead }

// TestDamageIsNoticed flips one byte in the store's own file.
func TestDamageIsNoticed(t *testing.T) {
	folder := t.TempDir()
	address, env, stop, err := buckettest.StartS3(t.Context(), folder)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := stop(); err != nil {
			t.Error(err)
		}
	})
	for name, value := range env {
		t.Setenv(name, value)
	}
	c := config(t, address)
	b := open(t, c)
	for name, size := range map[string]int64{"one": 1, "single": 70_000, "parts": 6 << 20} {
		content := buckettest.Content{Seed: 5, Size: size}
		if err := b.Put(t.Context(), name, content.Reader(), size, nil); err != nil {
			t.Fatal(err)
		}
		f, err := os.OpenFile(filepath.Join(folder, "data", c.Bucket, filepath.FromSlash(c.Prefix), name), os.O_WRONLY, 0)
		if err != nil {
			t.Fatal(err)
		}
		if _, err = f.WriteAt([]byte{^content.Bytes()[size/2]}, size/2); err != nil {
			t.Fatal(err)
		}
		if err := f.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := b.Open(t.Context(), name, 0, -1)
		if err != nil {
			t.Fatal(err)
		}
		n, err := io.Copy(io.Discard, r)
		if n != size || !errors.Is(err, storage.ErrChecksum) {
			t.Errorf("%s: found %d bytes, %v, want ErrChecksum at the end", name, n, err)
		}
		if err := r.Close(); err != nil {
			t.Error(err)
		}
	}
}

func contents(t testing.TB, b storage.Bucket, key string) []byte {
	t.Helper()
	r, err := b.Open(t.Context(), key, 0, -1)
	if err != nil {
		t.Fatal(err)
	}
	data, err := io.ReadAll(r)
	if err = errors.Join(err, r.Close()); err != nil {
		t.Fatal(err)
	}
	return data
}

// BenchmarkPut compares the adapter with the client library's own PutObject, over the same bytes and server.
func BenchmarkPut(b *testing.B) {
	c := config(b, buckettest.S3Server(b))
	bucket := open(b, c)
	client, err := minio.New(c.Endpoint, &minio.Options{Creds: c.Credentials, Region: c.Region})
	if err != nil {
		b.Fatal(err)
	}
	for _, size := range []int64{1000, 1 << 20, 8 << 20, 64 << 20} {
		content := buckettest.Content{Seed: 9, Size: size}
		data, sum := content.Bytes(), content.Digest()
		put := func(name string, f func(key string) error) {
			b.Run(fmt.Sprintf("%dKiB/%s", size>>10, name), func(b *testing.B) {
				b.SetBytes(size)
				for i := 0; b.Loop(); i++ {
					if err := f(fmt.Sprintf("%s/%d", name, i%8)); err != nil {
						b.Fatal(err)
					}
				}
			})
		}
		put("minio-go", func(key string) error {
			_, err := client.PutObject(b.Context(), c.Bucket, "plain/"+key, struct{ io.Reader }{bytes.NewReader(data)}, size, minio.PutObjectOptions{})
			return err
		})
		put("digest", func(key string) error {
			return bucket.Put(b.Context(), key, struct{ io.Reader }{bytes.NewReader(data)}, size, &sum)
		})
		put("nodigest", func(key string) error {
			return bucket.Put(b.Context(), key, struct{ io.Reader }{bytes.NewReader(data)}, size, nil)
		})
	}
}

func BenchmarkCreate(b *testing.B) {
	bucket := open(b, config(b, buckettest.S3Server(b)))
	data := buckettest.Content{Seed: 1, Size: 2000}.Bytes()
	for i := 0; b.Loop(); i++ {
		if err := bucket.Create(b.Context(), fmt.Sprintf("journal/%020d.json", i), data); err != nil {
			b.Fatal(err)
		}
	}
}
