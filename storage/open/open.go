// Package open finds the adapter for a bucket's URL:
//
//	dir:PATH                                                    a folder, made if it is absent
//	s3://BUCKET/PREFIX?endpoint=https://HOST:PORT&region=R      an object store; the prefix may be left out
//
// The query of the second may hold create=true, to make the bucket. An endpoint of http:// means no TLS. Credentials come from the
// environment or a file that it names, never from the URL, which ends up in logs and process lists. A store that can't keep the port's
// promises is refused here, before anything is written.
package open

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"os"
	"slices"
	"strings"

	"github.com/minio/minio-go/v7/pkg/credentials"

	"platarium/storage"
	"platarium/storage/dir"
	"platarium/storage/s3"
)

const wanted = `want "dir:PATH" or "s3://BUCKET/PREFIX?endpoint=https://HOST:PORT&region=REGION"`

// Bucket opens the bucket that address names, and finds out whether it is fit for an archive; if not, the error wraps storage.ErrUnsuitable.
func Bucket(ctx context.Context, address string) (storage.Bucket, error) {
	scheme, rest, found := strings.Cut(address, ":")
	switch {
	case !found:
		return nil, fmt.Errorf("opening the bucket: found %q, which has no scheme; %s", address, wanted)
	case scheme == "dir":
		return folder(rest)
	case scheme == "s3":
		return objects(ctx, address)
	}
	return nil, fmt.Errorf("opening the bucket: found the scheme %q; %s", scheme, wanted)
}

func folder(path string) (storage.Bucket, error) {
	b, err := dir.Open(path) // which tries links itself
	if err != nil {
		return nil, err // and not b: a nil pointer in an interface isn't nil
	}
	return b, nil
}

func objects(ctx context.Context, address string) (storage.Bucket, error) {
	c, err := parse(address)
	if err != nil {
		return nil, fmt.Errorf("opening the bucket: %w", err)
	}
	if c.Credentials, err = fromEnvironment(os.Getenv); err != nil {
		return nil, fmt.Errorf("opening the bucket: %w", err)
	}
	b, err := s3.New(ctx, c)
	if err != nil {
		return nil, fmt.Errorf("opening the bucket: %w", err)
	}
	if err := storage.Probe(ctx, b); err != nil {
		return nil, fmt.Errorf("opening the bucket %q at %s: %w", c.Bucket, c.Endpoint, err)
	}
	return b, nil
}

// parse reads an s3: URL. Its errors never repeat the URL, in case somebody put a secret into it.
func parse(address string) (s3.Config, error) {
	u, err := url.Parse(address)
	if err != nil {
		return s3.Config{}, fmt.Errorf("found a URL that can't be read; %s", wanted)
	}
	if u.User != nil {
		return s3.Config{}, errors.New("found a user or password in the URL, which would end up in logs; want credentials in the environment: " + credentialsWanted)
	}
	if u.Host == "" || u.Fragment != "" {
		return s3.Config{}, fmt.Errorf("found no bucket name, or a fragment; %s", wanted)
	}
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil {
		return s3.Config{}, fmt.Errorf("found a query that can't be read; %s", wanted)
	}
	for name, values := range query {
		if !slices.Contains([]string{"endpoint", "region", "create"}, name) {
			return s3.Config{}, fmt.Errorf("found the parameter %q; want only endpoint, region and create (credentials belong in the environment: %s)",
				name, credentialsWanted)
		}
		if len(values) > 1 {
			return s3.Config{}, fmt.Errorf("found the parameter %q %d times, want it once", name, len(values))
		}
	}
	c := s3.Config{Bucket: u.Host, Prefix: strings.Trim(u.Path, "/"), Region: query.Get("region")}
	switch create := query.Get("create"); create {
	case "true":
		c.CreateBucket = true
	case "", "false":
	default:
		return s3.Config{}, fmt.Errorf("found create=%q, want true or false", create)
	}
	if c.Endpoint, c.Plain, err = endpoint(query.Get("endpoint")); err != nil {
		return s3.Config{}, err
	}
	return c, nil
}

func endpoint(address string) (host string, plain bool, err error) {
	const want = "want endpoint=https://HOST:PORT, or http:// for a store without TLS"
	u, err := url.Parse(address)
	switch {
	case address == "":
		return "", false, errors.New("found no endpoint; " + want)
	case err != nil || u.Host == "" || u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "":
		return "", false, errors.New("found an endpoint that isn't only a scheme and a host; " + want)
	case u.User != nil:
		return "", false, errors.New("found a user or password in the endpoint, which would end up in logs; want credentials in the environment: " + credentialsWanted)
	case u.Scheme != "http" && u.Scheme != "https":
		return "", false, fmt.Errorf("found an endpoint with the scheme %q; %s", u.Scheme, want)
	}
	return u.Host, u.Scheme == "http", nil
}

const credentialsWanted = "AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY (and AWS_SESSION_TOKEN if there is one), " +
	"or AWS_SHARED_CREDENTIALS_FILE with the path of a file that holds aws_access_key_id and aws_secret_access_key"

func fromEnvironment(env func(string) string) (*credentials.Credentials, error) {
	id, secret, file := env("AWS_ACCESS_KEY_ID"), env("AWS_SECRET_ACCESS_KEY"), env("AWS_SHARED_CREDENTIALS_FILE")
	switch {
	case id != "" && secret != "":
		return credentials.NewStaticV4(id, secret, env("AWS_SESSION_TOKEN")), nil
	case id != "" || secret != "":
		return nil, errors.New("found only one of AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY, want both")
	case file == "":
		return nil, errors.New("found no credentials; want " + credentialsWanted)
	}
	if _, err := os.ReadFile(file); err != nil {
		return nil, fmt.Errorf("reading the file that AWS_SHARED_CREDENTIALS_FILE names: %w", err)
	}
	c := credentials.NewFileAWSCredentials(file, env("AWS_PROFILE"))
	v, err := c.GetWithContext(nil)
	if err != nil { // which may quote a line of the file, and so a secret
		return nil, errors.New("found a file in AWS_SHARED_CREDENTIALS_FILE that can't be understood, or that lacks the profile; " +
			"want an INI file with aws_access_key_id and aws_secret_access_key in the section of AWS_PROFILE (default: [default])")
	}
	if v.AccessKeyID == "" || v.SecretAccessKey == "" {
		return nil, errors.New("found no aws_access_key_id and aws_secret_access_key in the file that AWS_SHARED_CREDENTIALS_FILE names")
	}
	return c, nil
}
