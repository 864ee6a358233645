package server

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/test/bufconn"

	"platarium/server/api"
	"platarium/server/iiif"
	"platarium/server/rest"
	"platarium/server/web"
	"platarium/storage/imaging"
)

// doors are the ways in over HTTP. What stands behind them asks the services as any client does, through a connection inside this process, with the key of whoever came in: so the same roles rule
// everywhere, and no door has rights of its own.
type doors struct {
	inner    *grpc.Server // the services once more, for the connection inside
	pipe     *bufconn.Listener
	conn     *grpc.ClientConn
	tiles    *iiif.Cache
	http     *http.Server
	listener net.Listener
	site     *web.Site
}

// Bounds of HTTP.
const (
	pipeBuffer  = 1 << 20
	headerTime  = 10 * time.Second
	idleTime    = 2 * time.Minute
	longestHead = 64 << 10
	mostTiles   = 8 << 30 // bytes of tiles kept for zooming
)

// openDoors listens for HTTP; nil if no pages are wanted.
func openDoors(ctx context.Context, conf Config, services *api.Server, runner *imaging.Runner) (_ *doors, err error) {
	if conf.Pages == "" {
		return nil, nil
	}
	d := &doors{inner: grpc.NewServer(services.Options()...), pipe: bufconn.Listen(pipeBuffer)}
	services.Register(d.inner)
	d.conn, err = grpc.NewClient("passthrough:///inside",
		grpc.WithTransportCredentials(insecure.NewCredentials()),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(api.MaxMessage), grpc.MaxCallSendMsgSize(api.MaxMessage)),
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) { return d.pipe.DialContext(ctx) }))
	if err != nil {
		return nil, fmt.Errorf("connect the pages: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, d.conn.Close())
		}
	}()
	if d.tiles, err = iiif.OpenCache(filepath.Join(conf.Cache, "tiles"), mostTiles, runner, conf.Logger); err != nil {
		return nil, err
	}
	defer func() {
		if err != nil {
			d.tiles.Close()
		}
	}()
	handler, err := d.rooms(conf)
	if err != nil {
		return nil, err
	}
	d.http = &http.Server{
		Handler: handler, ReadHeaderTimeout: headerTime, IdleTimeout: idleTime, MaxHeaderBytes: longestHead,
		ErrorLog: slog.NewLogLogger(conf.Logger.Handler(), slog.LevelDebug),
	}
	if conf.CertFile != "" {
		cert, err := tls.LoadX509KeyPair(conf.CertFile, conf.KeyPEM)
		if err != nil {
			return nil, fmt.Errorf("read the TLS certificate: %w", err)
		}
		d.http.TLSConfig = &tls.Config{Certificates: []tls.Certificate{cert}, MinVersion: tls.VersionTLS12}
	}
	if d.listener, err = (&net.ListenConfig{}).Listen(ctx, "tcp", conf.Pages); err != nil {
		return nil, fmt.Errorf("listen for pages: %w", err)
	}
	return d, nil
}

// rooms is what lies behind the doors.
func (d *doors) rooms(conf Config) (http.Handler, error) {
	settings := web.Config{Conn: d.conn, Studio: conf.Studio, Secure: conf.CertFile != "", Log: conf.Logger, Now: conf.Clock, Spool: filepath.Join(conf.Cache, "dropped")}
	if conf.Importer != nil {
		settings.Importer = conf.Importer(d.pipe.DialContext)
	}
	site, err := web.New(settings)
	if err != nil {
		return nil, err
	}
	d.site = site
	guest, err := guestSecret(conf.GuestKey)
	if err != nil {
		return nil, err
	}
	secret := func(r *http.Request) string { return cmp.Or(site.Secret(r), guest) }
	pictures, err := iiif.New(iiif.Config{Conn: d.conn, Tiles: d.tiles, Studio: conf.Studio, Secret: secret, Log: conf.Logger})
	if err != nil {
		return nil, err
	}
	scripts, err := rest.New(d.conn)
	if err != nil {
		return nil, err
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		switch path := r.URL.EscapedPath(); { // as it was sent: a mux would tidy it up, and an escaped slash in an identifier with it
		case strings.HasPrefix(path, "/iiif/"):
			pictures.ServeHTTP(w, r)
		case strings.HasPrefix(path, "/v1/"):
			scripts.ServeHTTP(w, r)
		default:
			site.ServeHTTP(w, r)
		}
	}), nil
}

// guestSecret reads the key of those who show none.
func guestSecret(file string) (string, error) {
	if file == "" {
		return "", nil
	}
	b, err := os.ReadFile(file)
	if err != nil {
		return "", fmt.Errorf("read the guests' key: %w", err)
	}
	secret := strings.TrimSpace(string(b))
	if secret == "" {
		return "", fmt.Errorf("read the guests' key: %s is empty; want the line that was written when the key was made", file)
	}
	return secret, nil
}

// address is where a browser finds the pages.
func (d *doors) address() string {
	if d == nil {
		return ""
	}
	if d.http.TLSConfig != nil {
		return "https://" + d.listener.Addr().String()
	}
	return "http://" + d.listener.Addr().String()
}

// serve answers until close.
func (d *doors) serve() error {
	var err error
	if d.http.TLSConfig != nil {
		err = d.http.ServeTLS(d.listener, "", "")
	} else {
		err = d.http.Serve(d.listener)
	}
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return err
}

// serveInside answers what the doors ask, until close.
func (d *doors) serveInside() error {
	if err := d.inner.Serve(d.pipe); !errors.Is(err, grpc.ErrServerStopped) {
		return err
	}
	return nil
}

// close lets requests under way finish, but not for ever, and then closes the connection inside.
func (d *doors) close(ctx context.Context) {
	grace, cancel := context.WithTimeout(ctx, graceTime)
	defer cancel()
	if d.http.Shutdown(grace) != nil {
		_ = d.http.Close() // who is still there had time enough
	}
	d.tiles.Close()
	_ = d.site.Close() // what is left of dropped files is swept at the next start
	_ = d.conn.Close()
	d.inner.Stop()
}
