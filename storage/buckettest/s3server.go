package buckettest

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"go/build"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// The test server's credentials are public on purpose: it listens on the loopback interface and lives as long as a test.
const (
	accessKey = "buckettest"
	secretKey = "buckettest-secret"
)

const howToInstall = "go install github.com/versity/versitygw/cmd/versitygw@v1.8.0"

// S3Server starts a real object store for a test or a benchmark, over plain HTTP on the loopback interface, and gives the URL of a bucket in it for
// open.Bucket. The credentials are set in the environment until the test ends, so that a caller of t.Parallel must use StartS3. A missing
// server program fails the test.
func S3Server(t testing.TB) string {
	t.Helper()
	return server(t, StartS3)
}

// S3ServerTLS is S3Server over TLS, with a certificate of its own that SSL_CERT_FILE names.
func S3ServerTLS(t testing.TB) string {
	t.Helper()
	return server(t, StartS3TLS)
}

func server(t testing.TB, start func(context.Context, string) (string, map[string]string, func() error, error)) string {
	t.Helper()
	url, env, stop, err := start(context.WithoutCancel(t.Context()), t.TempDir())
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
	return url
}

// Under gives the URL of the part of a bucket under prefix, so that tests share one server.
func Under(url, prefix string) string { return strings.Replace(url, "?", "/"+prefix+"?", 1) }

// StartS3 starts a real object store (versitygw, found in PATH or among Go's installed programs) with its data in folders under dir. It gives
// the URL of a bucket for open.Bucket, the environment that a client needs, and a function that stops the server. It also stops when ctx ends.
// An object's bytes lie in dir/data/archive under its key, for tests that damage them.
func StartS3(ctx context.Context, dir string) (url string, env map[string]string, stop func() error, err error) {
	return start(ctx, dir, "http")
}

// StartS3TLS is StartS3 over TLS; the environment names the server's certificate.
func StartS3TLS(ctx context.Context, dir string) (url string, env map[string]string, stop func() error, err error) {
	return start(ctx, dir, "https")
}

func start(ctx context.Context, dir, scheme string) (string, map[string]string, func() error, error) {
	program, err := find(places())
	if err != nil {
		return "", nil, nil, err
	}
	if dir, err = filepath.Abs(dir); err != nil { // the server changes its working folder
		return "", nil, nil, err
	}
	versions, data := filepath.Join(dir, "versions"), filepath.Join(dir, "data")
	for _, folder := range []string{versions, data} {
		if err := os.MkdirAll(folder, 0o700); err != nil {
			return "", nil, nil, err
		}
	}
	env := map[string]string{"AWS_ACCESS_KEY_ID": accessKey, "AWS_SECRET_ACCESS_KEY": secretKey, "AWS_SESSION_TOKEN": ""}
	args := []string{"--quiet", "--keep-alive"} // without the second it closes each connection, unlike other stores
	if scheme == "https" {
		cert, key := filepath.Join(dir, "cert.pem"), filepath.Join(dir, "key.pem")
		if err := writeCertificate(cert, key); err != nil {
			return "", nil, nil, fmt.Errorf("making a certificate: %w", err)
		}
		args = append(args, "--cert", cert, "--key", key)
		env["SSL_CERT_FILE"] = cert
	}
	args = append(args, "posix", "--versioning-dir", versions, data)
	// Another program may take the free port in between.
	for range 5 {
		var address string
		var stop func() error
		if address, stop, err = run(ctx, program, filepath.Join(dir, "server.log"), scheme, args); err == nil {
			return "s3://archive?endpoint=" + scheme + "://" + address + "&region=us-east-1&create=true", env, stop, nil
		}
	}
	return "", nil, nil, err
}

// places are the folders where Go installs programs.
func places() []string {
	places := []string{os.Getenv("GOBIN")}
	for _, gopath := range filepath.SplitList(build.Default.GOPATH) {
		places = append(places, filepath.Join(gopath, "bin"))
	}
	if home, err := os.UserHomeDir(); err == nil {
		places = append(places, filepath.Join(home, "go", "bin"))
	}
	return places
}

func find(places []string) (string, error) {
	if path, err := exec.LookPath("versitygw"); err == nil {
		return path, nil
	}
	for _, place := range places {
		if !filepath.IsAbs(place) {
			continue
		}
		if path, err := exec.LookPath(filepath.Join(place, "versitygw")); err == nil {
			return path, nil
		}
	}
	return "", errors.New("the object store for tests, versitygw, is not installed; get it with: " + howToInstall)
}

// run starts the program and waits until it answers.
func run(ctx context.Context, program, logName, scheme string, args []string) (address string, stop func() error, err error) {
	if address, err = freeAddress(); err != nil {
		return "", nil, err
	}
	log, err := os.Create(logName)
	if err != nil {
		return "", nil, err
	}
	defer log.Close() //nolint:errcheck // the process has a handle of its own
	ctx, cancel := context.WithCancel(ctx)
	cmd := exec.CommandContext(ctx, program, append([]string{"--port", address}, args...)...)
	cmd.Env = append(os.Environ(), "ROOT_ACCESS_KEY="+accessKey, "ROOT_SECRET_KEY="+secretKey)
	cmd.Stdout, cmd.Stderr = log, log
	if err := cmd.Start(); err != nil {
		cancel()
		return "", nil, fmt.Errorf("starting the object store: %w", err)
	}
	ended := make(chan error, 1)
	go func() { ended <- cmd.Wait() }()
	stop = func() error {
		cancel()
		err := <-ended
		ended <- err // for a second call
		if exit := new(exec.ExitError); errors.As(err, &exit) || errors.Is(err, context.Canceled) {
			return nil // killed, as intended
		}
		return err
	}
	if err := await(ctx, scheme+"://"+address, ended); err != nil {
		serr := stop()
		text, rerr := os.ReadFile(logName)
		return "", nil, errors.Join(fmt.Errorf("starting the object store: %w; it said: %s", err, text), serr, rerr)
	}
	return address, stop, nil
}

func freeAddress() (string, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return "", err
	}
	return l.Addr().String(), l.Close()
}

func await(ctx context.Context, url string, ended chan error) error {
	client := &http.Client{
		Timeout: 5 * time.Second,
		// It is asked only whether it answers.
		Transport: &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, DisableKeepAlives: true},
	}
	for deadline := time.Now().Add(20 * time.Second); ; {
		req, err := http.NewRequestWithContext(ctx, http.MethodGet, url, nil)
		if err != nil {
			return err
		}
		resp, err := client.Do(req)
		if err == nil {
			return resp.Body.Close()
		}
		if time.Now().After(deadline) {
			return fmt.Errorf("no answer: %w", err)
		}
		select {
		case err := <-ended:
			ended <- err
			return fmt.Errorf("it ended: %w", err)
		case <-time.After(20 * time.Millisecond):
		}
	}
}

func writeCertificate(certName, keyName string) error {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return err
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), IsCA: true, BasicConstraintsValid: true,
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(24 * time.Hour),
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	cert, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return err
	}
	der, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return err
	}
	return errors.Join(
		os.WriteFile(certName, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: cert}), 0o600),
		os.WriteFile(keyName, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: der}), 0o600))
}
