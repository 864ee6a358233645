// Package s3 keeps a bucket in an object store that speaks S3, by way of minio-go.
//
// Invariants: an upload is verified before its last byte leaves, so that a wrong, short or cancelled one is never stored, whatever the server checks.
// Every payload is signed with its sha256, over TLS as over plain HTTP, and carries it as x-amz-checksum-sha256 where it is stored whole, so that a
// read of the whole is verified too. Creation is one PutObject with If-None-Match: *, never multipart, where the header is lost.
// Errors and logs never hold credentials.
//
// Left out: trailing checksums and streaming signatures, which servers disagree about; conditional deletes and copies; versions.
//
// A call that is cancelled after its last byte left may have stored the object: the error then wraps storage.ErrDoubtful.
package s3

import (
	"context"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"iter"
	"net/http"
	"strings"

	"github.com/minio/minio-go/v7"
	"github.com/minio/minio-go/v7/pkg/credentials"

	"platarium/storage"
)

// Config says which bucket to use and how to reach it. Only Endpoint, Bucket and Credentials are needed.
type Config struct {
	Endpoint     string                   // host or host:port
	Plain        bool                     // HTTP without TLS: for a store on the same machine or a trusted network
	RootCAs      *x509.CertPool           // nil: the system's, and those in the file SSL_CERT_FILE
	Region       string                   // "" means us-east-1
	Bucket       string                   // name
	Prefix       string                   // put before each key with a slash, at most 100 bytes; so that several archives share a bucket
	Credentials  *credentials.Credentials // asked before each request
	CreateBucket bool                     // make the bucket if it is absent
	SinglePut    int64                    // bytes up to which an upload of known digest is one request; 0 means 512 MiB. Beyond, parts are sent
}

const (
	defaultRegion    = "us-east-1"
	defaultSinglePut = 512 << 20
	maxPrefix        = 100 // bytes: with the longest key below the 1,024 that S3 allows
	tries            = 5   // of a request whose body can be sent again; about 3 s in all
)

func (c Config) withDefaults() Config {
	if c.Region == "" {
		c.Region = defaultRegion
	}
	if c.SinglePut == 0 {
		c.SinglePut = defaultSinglePut
	}
	return c
}

// Validate says what is wrong with the configuration, if anything.
func (c Config) Validate() error {
	switch {
	case c.Endpoint == "":
		return errors.New("found no endpoint, want host or host:port of the object store")
	case strings.ContainsAny(c.Endpoint, "/@?"):
		return errors.New("found an endpoint with a path, query or user, want only host or host:port")
	case c.Bucket == "":
		return errors.New("found no bucket name")
	case c.Credentials == nil:
		return errors.New("found no credentials")
	case c.SinglePut < 0 || c.SinglePut > 5<<30:
		return fmt.Errorf("found a single-request limit of %d bytes, want at most 5 GiB", c.SinglePut)
	case len(c.Prefix) > maxPrefix:
		return fmt.Errorf("found a prefix of %d bytes, want at most %d", len(c.Prefix), maxPrefix)
	}
	if c.Prefix != "" {
		if err := storage.CheckKey(c.Prefix); err != nil {
			return fmt.Errorf("prefix: %w", err)
		}
	}
	return nil
}

// Bucket is a bucket, or the part of one under a prefix, in an object store. It implements storage.Bucket.
type Bucket struct {
	core      *minio.Core
	bucket    string
	prefix    string // "" or ending in a slash
	singlePut int64
}

var _ storage.Bucket = (*Bucket)(nil)

// New connects to the bucket and makes sure that it is there.
func New(ctx context.Context, c Config) (*Bucket, error) {
	c = c.withDefaults()
	if err := c.Validate(); err != nil {
		return nil, fmt.Errorf("configuring the object store: %w", err)
	}
	transport, err := transport(c)
	if err != nil {
		return nil, fmt.Errorf("configuring the object store: %w", err)
	}
	core, err := minio.NewCore(c.Endpoint, &minio.Options{
		Creds: c.Credentials, Secure: !c.Plain, Region: c.Region, Transport: transport, MaxRetries: tries,
	})
	if err != nil {
		return nil, fmt.Errorf("configuring the object store: %w", err)
	}
	b := &Bucket{core: core, bucket: c.Bucket, singlePut: c.SinglePut}
	if c.Prefix != "" {
		b.prefix = c.Prefix + "/"
	}
	if err := b.find(ctx, c); err != nil {
		return nil, err
	}
	return b, nil
}

func (b *Bucket) find(ctx context.Context, c Config) error {
	found, err := b.core.BucketExists(ctx, b.bucket)
	switch {
	case err != nil:
		return fmt.Errorf("asking %s for bucket %q: %w", c.Endpoint, b.bucket, err)
	case found:
		return nil
	case !c.CreateBucket:
		return fmt.Errorf("there is no bucket %q at %s: make one with the store's own tools, or ask for its creation", b.bucket, c.Endpoint)
	}
	err = b.core.MakeBucket(ctx, b.bucket, minio.MakeBucketOptions{Region: c.Region})
	if err != nil {
		// Another may have made it meanwhile.
		if found, ferr := b.core.BucketExists(ctx, b.bucket); ferr == nil && found {
			return nil
		}
		return fmt.Errorf("making bucket %q at %s: %w", b.bucket, c.Endpoint, err)
	}
	return nil
}

func transport(c Config) (*http.Transport, error) {
	t, err := minio.DefaultTransport(!c.Plain)
	if err != nil {
		return nil, err
	}
	t.WriteBufferSize, t.ReadBufferSize = 64<<10, 64<<10
	t.MaxIdleConnsPerHost = 64
	if c.RootCAs != nil && t.TLSClientConfig != nil {
		t.TLSClientConfig.RootCAs = c.RootCAs
	}
	return t, nil
}

// Stat implements storage.Bucket.
func (b *Bucket) Stat(ctx context.Context, key string) (storage.Info, error) {
	if err := ready(ctx, key); err != nil {
		return storage.Info{}, err
	}
	o, err := b.core.StatObject(ctx, b.bucket, b.prefix+key, minio.StatObjectOptions{})
	if err != nil {
		return storage.Info{}, readError("describing", key, err)
	}
	return storage.Info{Key: key, Size: o.Size, Modified: o.LastModified}, nil
}

// Delete implements storage.Bucket.
func (b *Bucket) Delete(ctx context.Context, key string) error {
	if err := ready(ctx, key); err != nil {
		return err
	}
	err := b.core.RemoveObject(ctx, b.bucket, b.prefix+key, minio.RemoveObjectOptions{})
	if err == nil || response(err).Code == minio.NoSuchKey {
		return nil
	}
	return writeError("deleting", key, err, true)
}

// List implements storage.Bucket. It asks for pages of 1,000 objects.
func (b *Bucket) List(ctx context.Context, prefix, after string) iter.Seq2[storage.Info, error] {
	return func(yield func(storage.Info, error) bool) {
		if err := storage.CheckPrefix(prefix); err != nil {
			yield(storage.Info{}, err)
			return
		}
		opts := minio.ListObjectsOptions{Prefix: b.prefix + prefix, Recursive: true, FetchOwner: new(bool)}
		if after != "" {
			opts.StartAfter = b.prefix + after
		}
		last := after
		for o := range b.core.ListObjectsIter(ctx, b.bucket, opts) {
			key := strings.TrimPrefix(o.Key, b.prefix)
			switch {
			case o.Err != nil:
				yield(storage.Info{}, fmt.Errorf("listing %q: %w", prefix, o.Err))
				return
			case storage.CheckKey(key) != nil: // not ours
				continue
			case key <= last:
				yield(storage.Info{}, fmt.Errorf("%w: listing %q: it gave %s after %s, out of bytewise order", storage.ErrUnsuitable, prefix, key, last))
				return
			}
			last = key
			if !yield(storage.Info{Key: key, Size: o.Size, Modified: o.LastModified}, nil) {
				return
			}
		}
		// The client library ends silently with its context.
		if err := ctx.Err(); err != nil {
			yield(storage.Info{}, fmt.Errorf("listing %q: %w", prefix, err))
		}
	}
}

func ready(ctx context.Context, key string) error {
	if err := storage.CheckKey(key); err != nil {
		return err
	}
	return ctx.Err()
}

// Open implements storage.Bucket. A read of the whole ends with storage.ErrChecksum if the store knows a checksum that differs.
func (b *Bucket) Open(ctx context.Context, key string, offset, length int64) (io.ReadCloser, error) {
	if err := ready(ctx, key); err != nil {
		return nil, err
	}
	if offset < 0 {
		return nil, fmt.Errorf("opening %s: found offset %d, want 0 or more", key, offset)
	}
	if length == 0 { // HTTP has no empty range
		_, err := b.Stat(ctx, key)
		return http.NoBody, err
	}
	body, header, err := b.get(ctx, key, offset, length)
	switch {
	case response(err).Code == minio.InvalidRange: // beyond the end
		return http.NoBody, nil
	case err != nil:
		return nil, readError("opening", key, err)
	case offset > 0 || length > 0:
		return body, nil
	}
	return verified(key, body, header), nil
}

func (b *Bucket) get(ctx context.Context, key string, offset, length int64) (io.ReadCloser, http.Header, error) {
	var opts minio.GetObjectOptions
	var err error
	switch {
	case length > 0:
		last := offset + length - 1
		if last < offset { // beyond what fits: to the end
			last = 1<<63 - 1
		}
		err = opts.SetRange(offset, last)
	case offset > 0:
		err = opts.SetRange(offset, 0)
	default:
		opts.Set("x-amz-checksum-mode", "ENABLED")
	}
	if err != nil {
		return nil, nil, err
	}
	body, _, header, err := b.core.GetObject(ctx, b.bucket, b.prefix+key, opts)
	return body, header, err
}
