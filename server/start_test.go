package server

import (
	"bytes"
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/x509"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"io"
	"log/slog"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/metadata"
	reflectionpb "google.golang.org/grpc/reflection/grpc_reflection_v1"
	"google.golang.org/grpc/status"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/storage/buckettest"
	"platarium/storage/dir"
	"platarium/storage/open"
)

// certificate makes a self-signed certificate for the loopback address, as files.
func certificate(t *testing.T) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		IsCA: true, BasicConstraintsValid: true, KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	if err != nil {
		t.Fatal(err)
	}
	rawKey, err := x509.MarshalPKCS8PrivateKey(private)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {Type: "PRIVATE KEY", Bytes: rawKey}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

// launch runs a server and gives its news; it ends with the test.
func launch(t *testing.T, run func(context.Context, func(Ready)) error) (news Ready, stop func() error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	ready, done := make(chan Ready, 1), make(chan error, 1)
	go func() { done <- run(ctx, func(r Ready) { ready <- r }) }()
	ended := false
	stop = func() error {
		if ended {
			return nil
		}
		ended = true
		cancel()
		return <-done
	}
	t.Cleanup(func() {
		if err := stop(); err != nil {
			t.Errorf("server ended with %v", err)
		}
	})
	select {
	case news = <-ready:
	case err := <-done:
		ended = true
		cancel()
		t.Fatalf("server didn't start: %v", err)
	}
	return news, stop
}

func secretIn(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return strings.TrimSpace(string(b))
}

func TestTLS(t *testing.T) {
	conf := newConfig(t)
	conf.CertFile, conf.KeyPEM = certificate(t)
	news, _ := launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
	secret := secretIn(t, news.KeyFile)
	c, err := client.Dial(client.Config{Address: news.Address, Key: secret, CAFile: conf.CertFile})
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	if _, err := c.Admin.GetStatus(t.Context(), &pb.GetStatusRequest{}); err != nil {
		t.Errorf("over TLS: %v", err)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 2*time.Second)
	defer cancel()
	plain, err := grpc.NewClient(news.Address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	defer plain.Close()
	if _, err := healthpb.NewHealthClient(plain).Check(ctx, &healthpb.HealthCheckRequest{}); err == nil {
		t.Error("a server with a certificate answers in the clear")
	}
	lost := newConfig(t)
	lost.CertFile, lost.KeyPEM = filepath.Join(t.TempDir(), "none.pem"), conf.KeyPEM
	if err := Run(t.Context(), lost, nil); err == nil || !strings.Contains(err.Error(), "certificate") {
		t.Errorf("without its certificate the server starts: %v", err)
	}
}

// The first owner's key is written to a new file that only its user can read; a file that is there is never touched.
func TestKeyFile(t *testing.T) {
	conf := newConfig(t)
	conf.KeyFile = filepath.Join(t.TempDir(), "deep", "down", "owner.key")
	news, stop := launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
	if news.KeyFile != conf.KeyFile {
		t.Errorf("told of %q", news.KeyFile)
	}
	info, err := os.Stat(conf.KeyFile)
	if err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("key file has the mode %v, %v", info.Mode(), err)
	}
	secret := secretIn(t, conf.KeyFile)
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	news, stop = launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
	if news.KeyFile != "" || secretIn(t, conf.KeyFile) != secret {
		t.Errorf("a second start tells of %q and leaves %q", news.KeyFile, secretIn(t, conf.KeyFile))
	}
	if err := stop(); err != nil {
		t.Fatal(err)
	}
	other := newConfig(t)
	other.KeyFile = conf.KeyFile
	if err := Run(t.Context(), other, nil); err == nil || !strings.Contains(err.Error(), "another archive") {
		t.Errorf("an archive without a key, and a file with another's: %v", err)
	}
	if secretIn(t, conf.KeyFile) != secret {
		t.Error("the other archive's key was overwritten")
	}
	other.KeyFile = ""
	if err := Run(t.Context(), other, nil); err == nil || !strings.Contains(err.Error(), "key file") {
		t.Errorf("without a key file: %v", err)
	}
	other.KeyFile = filepath.Join(t.TempDir(), "owner.key") // the refused starts left no key that nobody has
	news, _ = launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, other, ready) })
	dial(t, news.Address, secretIn(t, news.KeyFile))
}

// Health needs no key; reflection needs one, and is served only where it was decided.
func TestHealthAndReflection(t *testing.T) {
	conf := newConfig(t)
	if err := conf.Validate(); err != nil {
		t.Fatal(err)
	}
	for _, served := range []bool{true, false} {
		conf.Reflection = served
		bucket, err := open.Bucket(t.Context(), conf.Store)
		if err != nil {
			t.Fatal(err)
		}
		news, stop := launch(t, func(ctx context.Context, ready func(Ready)) error { return serve(ctx, conf, bucket, ready) })
		conn, err := grpc.NewClient(news.Address, grpc.WithTransportCredentials(insecure.NewCredentials()))
		if err != nil {
			t.Fatal(err)
		}
		h, err := healthpb.NewHealthClient(conn).Check(t.Context(), &healthpb.HealthCheckRequest{})
		if err != nil || h.GetStatus() != healthpb.HealthCheckResponse_SERVING {
			t.Errorf("health: %v, %v", h, err)
		}
		ask := func(ctx context.Context) (int, error) {
			s, err := reflectionpb.NewServerReflectionClient(conn).ServerReflectionInfo(ctx)
			if err != nil {
				return 0, err
			}
			if err := s.Send(&reflectionpb.ServerReflectionRequest{MessageRequest: &reflectionpb.ServerReflectionRequest_ListServices{}}); err != nil && !errors.Is(err, io.EOF) {
				return 0, err
			}
			res, err := s.Recv()
			return len(res.GetListServicesResponse().GetService()), err
		}
		_, err = ask(t.Context())
		want := map[bool]codes.Code{true: codes.Unauthenticated, false: codes.Unimplemented}[served]
		if status.Code(err) != want {
			t.Errorf("reflection without a key, served %v: %v", served, err)
		}
		n, err := ask(metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+secretIn(t, conf.KeyFile)))
		if served && (err != nil || n < 6) || !served && status.Code(err) != codes.Unimplemented {
			t.Errorf("reflection with a key, served %v: %d services, %v", served, n, err)
		}
		if err := errors.Join(conn.Close(), stop()); err != nil {
			t.Fatal(err)
		}
	}
}

// A server told to stop takes no new calls and lets those under way finish.
func TestShutdownLetsCallsFinish(t *testing.T) {
	conf := newConfig(t)
	news, stop := launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
	secret := secretIn(t, news.KeyFile)
	conn, err := grpc.NewClient(news.Address, grpc.WithTransportCredentials(insecure.NewCredentials()))
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	ctx := metadata.AppendToOutgoingContext(t.Context(), "authorization", "Bearer "+secret)
	content := lineArt(t)
	half := len(content) / 2
	up, err := pb.NewTransferServiceClient(conn).UploadOriginal(ctx)
	if err != nil {
		t.Fatal(err)
	}
	sum := sha256.Sum256(content)
	send := func(m *pb.UploadOriginalRequest) {
		t.Helper()
		if err := up.Send(m); err != nil {
			t.Fatal(err)
		}
	}
	send(&pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Header{Header: &pb.UploadHeader{Sha256: hex.EncodeToString(sum[:]), Size: int64(len(content))}}})
	send(&pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Chunk{Chunk: content[:half]}})
	partial := filepath.Join(strings.TrimPrefix(conf.Store, "dir:"), ".partial")
	await(t, "the upload to begin", func() bool { e, err := os.ReadDir(partial); return err == nil && len(e) > 0 })
	done := make(chan error, 1)
	go func() { done <- stop() }()
	await(t, "new calls to be refused", func() bool {
		late, cancel := context.WithTimeout(t.Context(), time.Second)
		defer cancel()
		fresh, err := grpc.NewClient(news.Address, grpc.WithTransportCredentials(insecure.NewCredentials()))
		if err != nil {
			t.Fatal(err)
		}
		defer fresh.Close()
		_, err = healthpb.NewHealthClient(fresh).Check(late, &healthpb.HealthCheckRequest{})
		return err != nil
	})
	select {
	case err := <-done:
		t.Fatalf("the server ended with %v while an upload was under way", err)
	default:
	}
	send(&pb.UploadOriginalRequest{Part: &pb.UploadOriginalRequest_Chunk{Chunk: content[half:]}})
	res, err := up.CloseAndRecv()
	if err != nil || !res.GetStored() {
		t.Errorf("the upload under way gave %v, %v", res, err)
	}
	if err := <-done; err != nil {
		t.Errorf("the server ended with %v", err)
	}
}

// A server may be told to stop before it has quite begun.
func TestStopAtOnce(t *testing.T) {
	conf := newConfig(t)
	for range 10 {
		ctx, cancel := context.WithCancel(t.Context())
		if err := Run(ctx, conf, func(Ready) { cancel() }); err != nil {
			t.Fatal(err)
		}
	}
}

func await(t *testing.T, what string, there func() bool) {
	t.Helper()
	for deadline := time.Now().Add(20 * time.Second); !there(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(deadline) {
			t.Fatalf("waited in vain for %s", what)
		}
	}
}

// The same over an object store: a scan goes in, is found, and is there for a server that has nothing but the store.
func TestObjectStore(t *testing.T) {
	conf := newConfig(t)
	conf.Store = buckettest.S3Server(t)
	r := start(t, conf)
	content := lineArt(t)
	sum := upload(t, r.owner, content, "plate.png")
	if _, err := r.owner.Archive.CreatePicture(t.Context(), &pb.CreatePictureRequest{PictureId: "stored-far", RequestId: "far-1", Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "Stored far away", Original: &pb.Original{Sha256: sum}}}); err != nil {
		t.Fatal(err)
	}
	waitPreviews(t, r.owner)
	r.stop()
	conf.Cache = t.TempDir()
	again := start(t, conf)
	found, err := again.owner.Search.SearchPictures(t.Context(), &pb.SearchPicturesRequest{Text: "far away"})
	if err != nil || found.GetTotal() != 1 {
		t.Errorf("found %v, %v", found, err)
	}
	var back bytes.Buffer
	if _, err := again.owner.Download(t.Context(), "pictures/stored-far", "original", &back); err != nil || !bytes.Equal(back.Bytes(), content) {
		t.Errorf("%d bytes came back of %d, %v", back.Len(), len(content), err)
	}
	if d, err := again.owner.Transfer.GetDerived(t.Context(), &pb.GetDerivedRequest{Picture: "pictures/stored-far"}); err != nil || d.GetState() != "ready" {
		t.Errorf("previews: %v, %v", d, err)
	}
}

// Housekeeping sweeps what no record came to name, and finishes forgetting.
func TestHousekeeping(t *testing.T) {
	folder := t.TempDir()
	b, err := dir.Open(folder)
	if err != nil {
		t.Fatal(err)
	}
	a, err := archive.Open(t.Context(), archive.Config{Bucket: b, Cache: t.TempDir()})
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	sum := sha256.Sum256([]byte("nobody's"))
	if _, err := a.StoreOriginal(t.Context(), strings.NewReader("nobody's"), 8, sum); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(folder, "originals", hex.EncodeToString(sum[:1]), hex.EncodeToString(sum[:]))
	then := time.Now().Add(-30 * 24 * time.Hour)
	if err := os.Chtimes(path, then, then); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- housekeeping(ctx, a, slog.New(slog.DiscardHandler), time.Millisecond) }()
	await(t, "the sweep", func() bool { _, err := os.Stat(path); return errors.Is(err, os.ErrNotExist) })
	cancel()
	if err := <-done; err != nil {
		t.Error(err)
	}
}

// What a killed server left half decoded is cleared away by the next one.
func TestRemnantsAreCleared(t *testing.T) {
	conf := newConfig(t)
	left := filepath.Join(conf.Cache, "decoding", "picture-1", "original")
	if err := os.MkdirAll(filepath.Dir(left), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(left, []byte("half"), 0o600); err != nil {
		t.Fatal(err)
	}
	launch(t, func(ctx context.Context, ready func(Ready)) error { return Run(ctx, conf, ready) })
	if _, err := os.Stat(filepath.Dir(left)); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the remnant is still there: %v", err)
	}
}
