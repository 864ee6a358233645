package s3_test

import (
	"crypto/rand"
	"crypto/x509"
	"net/url"
	"os"
	"strings"
	"testing"

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
	c := s3.Config{
		Endpoint: endpoint.Host, Plain: endpoint.Scheme == "http", Bucket: u.Host, Region: u.Query().Get("region"), CreateBucket: true,
		Credentials: credentials.NewEnvAWS(),
		Prefix:      "studio/" + strings.ToLower(rand.Text()[:8]),
	}
	if !c.Plain {
		pem, err := os.ReadFile(os.Getenv("SSL_CERT_FILE"))
		if err != nil {
			t.Fatal(err)
		}
		c.RootCAs = x509.NewCertPool()
		c.RootCAs.AppendCertsFromPEM(pem)
	}
	return c
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
	buckettest.Run(t, func(t *testing.T) storage.Bucket { return open(t, config(t, address)) })
}
