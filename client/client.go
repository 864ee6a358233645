// Package client talks to an archive's server: it dials, presents the key, repeats what is safe to repeat, and moves files.
//
// Invariants: the key travels only over TLS or to a loopback address, unless plain text was asked for; every write goes out with a request id, so that a
// repetition can't do it twice.
//
// Left out: manifests (client/manifest) and the command line (client/cli).
package client

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"net"
	"os"
	"slices"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

// ErrPlainText means that the address isn't on this machine, and the connection would be in the clear. The caller uses TLS or asks for plain text.
var ErrPlainText = errors.New("key would travel in the clear: use TLS, or ask for plain text explicitly")

// Config says how to reach a server.
type Config struct {
	Address   string // host:port
	Key       string // the secret of a key
	TLS       bool   // use TLS with the system's certificate authorities
	CAFile    string // or with those in this PEM file (implies TLS)
	PlainText bool   // allow plain text beyond loopback

	// Dialer, if not nil, connects to a server within this process; nothing is encrypted then, since nothing leaves it.
	Dialer func(context.Context) (net.Conn, error)
}

// Client is a connection with a stub for every service. It may be used concurrently.
type Client struct {
	conn *grpc.ClientConn

	Archive    pb.ArchiveServiceClient
	Taxa       pb.TaxaServiceClient
	Search     pb.SearchServiceClient
	Licensing  pb.LicensingServiceClient
	Commission pb.CommissionServiceClient
	Transfer   pb.TransferServiceClient
	Admin      pb.AdminServiceClient
}

// maxMessage is the largest message, bytes: a batch of 1,000 pictures.
const maxMessage = 32 << 20

// Dial prepares a connection; it is made at the first call.
func Dial(conf Config) (*Client, error) {
	creds, err := conf.credentials()
	if err != nil {
		return nil, err
	}
	var more []grpc.DialOption
	if conf.Dialer != nil {
		more = append(more, grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return conf.Dialer(ctx) }))
	}
	conn, err := grpc.NewClient(conf.Address, append(more,
		grpc.WithTransportCredentials(creds),
		grpc.WithChainUnaryInterceptor(withKey(conf.Key), repeat),
		grpc.WithChainStreamInterceptor(withStreamKey(conf.Key)),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(maxMessage), grpc.MaxCallSendMsgSize(maxMessage)),
		grpc.WithReadBufferSize(1<<20), grpc.WithWriteBufferSize(1<<20),
		grpc.WithInitialWindowSize(4<<20), grpc.WithInitialConnWindowSize(16<<20),
	)...)
	if err != nil {
		return nil, fmt.Errorf("dial %s: %w", conf.Address, err)
	}
	return &Client{
		conn: conn, Archive: pb.NewArchiveServiceClient(conn), Taxa: pb.NewTaxaServiceClient(conn), Search: pb.NewSearchServiceClient(conn),
		Licensing: pb.NewLicensingServiceClient(conn), Commission: pb.NewCommissionServiceClient(conn), Transfer: pb.NewTransferServiceClient(conn), Admin: pb.NewAdminServiceClient(conn),
	}, nil
}

// Close ends the connection.
func (c *Client) Close() error { return c.conn.Close() }

func (conf Config) credentials() (credentials.TransportCredentials, error) {
	if conf.CAFile != "" {
		pem, err := os.ReadFile(conf.CAFile)
		if err != nil {
			return nil, fmt.Errorf("read certificate authorities: %w", err)
		}
		pool := x509.NewCertPool()
		if !pool.AppendCertsFromPEM(pem) {
			return nil, fmt.Errorf("%s holds no PEM certificate", conf.CAFile)
		}
		return credentials.NewTLS(&tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}), nil
	}
	if conf.TLS {
		return credentials.NewTLS(&tls.Config{MinVersion: tls.VersionTLS12}), nil
	}
	if !conf.PlainText && conf.Dialer == nil && !loopback(conf.Address) {
		return nil, fmt.Errorf("%s: %w", conf.Address, ErrPlainText)
	}
	return insecure.NewCredentials(), nil
}

func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

func presenting(ctx context.Context, key string) context.Context {
	if key == "" {
		return ctx
	}
	return metadata.AppendToOutgoingContext(ctx, "authorization", "Bearer "+key)
}

func withKey(key string) grpc.UnaryClientInterceptor {
	return func(ctx context.Context, method string, req, reply any, cc *grpc.ClientConn, invoke grpc.UnaryInvoker, opts ...grpc.CallOption) error {
		return invoke(presenting(ctx, key), method, req, reply, cc, opts...)
	}
}

func withStreamKey(key string) grpc.StreamClientInterceptor {
	return func(ctx context.Context, desc *grpc.StreamDesc, cc *grpc.ClientConn, method string, streamer grpc.Streamer, opts ...grpc.CallOption) (grpc.ClientStream, error) {
		return streamer(presenting(ctx, key), desc, cc, method, opts...)
	}
}

// Repetition of calls that the server couldn't answer: pauses double from the first.
const (
	repeats    = 5
	firstPause = 100 * time.Millisecond
)

// repeat asks again when the server was unavailable. Calls that change something carry a request id, so that asking again is safe; those that can't are not repeated.
func repeat(ctx context.Context, method string, req, reply any, cc *grpc.ClientConn, invoke grpc.UnaryInvoker, opts ...grpc.CallOption) error {
	pause := firstPause
	for try := 0; ; try++ {
		err := invoke(ctx, method, req, reply, cc, opts...)
		if status.Code(err) != codes.Unavailable || try == repeats || !repeatable(method, req) {
			return err
		}
		select {
		case <-ctx.Done():
			return err
		case <-time.After(pause):
			pause *= 2
		}
	}
}

// repeatable says whether asking twice does no more than asking once.
func repeatable(method string, req any) bool {
	if r, ok := req.(interface{ GetRequestId() string }); ok {
		return r.GetRequestId() != ""
	}
	switch b := req.(type) {
	case *pb.BatchCreatePicturesRequest:
		return allNamed(b.GetRequests())
	case *pb.BatchCreateTaxaRequest:
		return allNamed(b.GetRequests())
	}
	name := method[strings.LastIndexByte(method, '/')+1:]
	for _, prefix := range []string{"Get", "List", "Search", "Match", "Parse", "Check", "Stat", "MakePlan"} {
		if strings.HasPrefix(name, prefix) {
			return true
		}
	}
	return false
}

// allNamed says whether each part of a batch has a request id.
func allNamed[R interface{ GetRequestId() string }](list []R) bool {
	return !slices.ContainsFunc(list, func(r R) bool { return r.GetRequestId() == "" })
}
