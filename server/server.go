// Package server assembles an archive's services behind their listeners: bucket, archive, previews, gRPC, and the ways in over HTTP; and takes them down in order.
//
// Left out: what the services do (server/api), and what the pages show (server/web).
package server

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"os"
	"path/filepath"
	"time"

	"golang.org/x/sync/errgroup"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/reflection"

	pb "platarium/proto/platarium/v1"
	"platarium/server/api"
	"platarium/server/archive"
	"platarium/server/preview"
	"platarium/storage"
	"platarium/storage/imaging"
	"platarium/storage/open"
	"platarium/storage/original"
)

// Ready is told once the server answers.
type Ready struct {
	Address string // host:port of gRPC
	Pages   string // URL of the pages; empty without them
	KeyFile string // where the first owner's key was written; empty if the archive had one
}

// Run serves an archive until ctx ends, then lets calls under way finish.
func Run(ctx context.Context, conf Config, ready func(Ready)) error {
	if err := conf.Validate(); err != nil {
		return err
	}
	bucket, err := open.Bucket(ctx, conf.Store)
	if err != nil {
		return fmt.Errorf("open the store: %w", err)
	}
	return serve(ctx, conf, bucket, ready)
}

func serve(ctx context.Context, conf Config, bucket storage.Bucket, ready func(Ready)) (err error) {
	queue, runner, err := newQueue(conf, bucket)
	if err != nil {
		return err
	}
	location, err := time.LoadLocation(conf.TimeZone)
	if err != nil {
		return err
	}
	a, err := archive.Open(ctx, archive.Config{
		Bucket: bucket, Cache: conf.Cache, Clock: conf.Clock, Location: location, Logger: conf.Logger, Committed: queue.Committed,
	})
	if err != nil {
		return fmt.Errorf("open the archive: %w", err)
	}
	defer func() { err = errors.Join(err, a.Close()) }()
	if err := emptied(decodingFolder(conf)); err != nil { // what a server that was killed left; the cache is ours alone by now
		return err
	}
	news := Ready{}
	if news.KeyFile, err = firstKey(ctx, a, conf.KeyFile); err != nil {
		return err
	}
	listener, err := (&net.ListenConfig{}).Listen(ctx, "tcp", conf.Listen)
	if err != nil {
		return fmt.Errorf("listen: %w", err)
	}
	news.Address = listener.Addr().String()
	services := api.New(a, queue, conf.Logger, conf.Version)
	opts := services.Options()
	if conf.CertFile != "" {
		creds, err := credentials.NewServerTLSFromFile(conf.CertFile, conf.KeyPEM)
		if err != nil {
			return errors.Join(fmt.Errorf("read the TLS certificate: %w", err), listener.Close())
		}
		opts = append(opts, grpc.Creds(creds))
	}
	doors, err := openDoors(ctx, conf, services, runner)
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	news.Pages = doors.address()
	g := grpc.NewServer(opts...)
	health := services.Register(g)
	if conf.Reflection {
		reflection.Register(g)
	}
	health.SetServingStatus("", healthpb.HealthCheckResponse_SERVING)
	return runAll(ctx, conf, a, queue, g, listener, doors, func() {
		conf.Logger.Info("serving", "address", news.Address, "pages", news.Pages, "archive", a.ArchiveID(), "sequence", a.Journal().Position().Seq)
		if ready != nil {
			ready(news)
		}
	}, health.Shutdown)
}

// runAll runs the listener and what works behind it, and stops them in order: first no new calls, then the rest.
func runAll(ctx context.Context, conf Config, a *archive.Archive, queue *preview.Queue, g *grpc.Server, listener net.Listener, d *doors, started, stopping func()) error {
	back, stopBack := context.WithCancel(context.WithoutCancel(ctx))
	defer stopBack()
	var behind errgroup.Group
	behind.Go(func() error { return a.Follow(back, followEvery) })
	behind.Go(func() error { return queue.Run(back, a.WithoutPreviews) })
	behind.Go(func() error { return housekeeping(back, a, conf.Logger, cleanEvery) })
	front, ended := errgroup.WithContext(ctx)
	front.Go(func() error {
		if err := g.Serve(listener); !errors.Is(err, grpc.ErrServerStopped) { // told to stop before it had begun
			return err
		}
		return nil
	})
	if d != nil {
		front.Go(d.serve)
		front.Go(d.serveInside)
	}
	front.Go(func() error {
		<-ended.Done()
		stopping()
		if d != nil {
			d.close(back)
		}
		force := time.AfterFunc(graceTime, g.Stop)
		g.GracefulStop()
		force.Stop()
		return nil
	})
	started()
	err := front.Wait()
	stopBack()
	if e := behind.Wait(); e != nil && !errors.Is(e, context.Canceled) {
		err = errors.Join(err, e)
	}
	return err
}

// decodingFolder holds what is decoded just now.
func decodingFolder(conf Config) string { return filepath.Join(conf.Cache, "decoding") }

// emptied removes everything in a folder.
func emptied(folder string) error {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return fmt.Errorf("clear the folder for decoding: %w", err)
	}
	for _, e := range entries {
		if err := os.RemoveAll(filepath.Join(folder, e.Name())); err != nil {
			return fmt.Errorf("clear the folder for decoding: %w", err)
		}
	}
	return nil
}

func newQueue(conf Config, bucket storage.Bucket) (*preview.Queue, *imaging.Runner, error) {
	folder := decodingFolder(conf)
	if err := os.MkdirAll(folder, 0o700); err != nil {
		return nil, nil, fmt.Errorf("make the folder for decoding: %w", err)
	}
	runner, err := imaging.NewRunner(imaging.Config{TempDir: folder, Concurrency: max(conf.Workers, 1), Limits: conf.Limits, Decoders: conf.Decoders})
	if err != nil {
		return nil, nil, fmt.Errorf("prepare the decoder: %w", err)
	}
	return preview.New(bucket, original.New(bucket), runner, conf.Workers, conf.Logger), runner, nil
}

// housekeeping destroys, now and then, what is no longer to be kept: originals that no record came to name, and keys of contacts to be forgotten.
func housekeeping(ctx context.Context, a *archive.Archive, log *slog.Logger, every time.Duration) error {
	tick := time.NewTicker(every)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return nil
		case <-tick.C:
		}
		if a.Journal().ReadOnly() != nil {
			continue // it has said why, and this can wait
		}
		swept, err := a.Sweep(ctx)
		forgotten, ferr := a.FinishForgetting(ctx)
		if err := errors.Join(err, ferr); err != nil && ctx.Err() == nil {
			log.Warn("housekeeping failed; it is tried again", "error", err)
		}
		if swept > 0 || forgotten > 0 {
			log.Info("housekeeping", "originals", swept, "contacts", forgotten)
		}
	}
}

// firstKey makes an owner's key if none stands, and writes its secret to a file that only this user can read.
func firstKey(ctx context.Context, a *archive.Archive, path string) (string, error) {
	has, err := a.HasOwner()
	if err != nil || has {
		return "", err
	}
	if path == "" {
		return "", errors.New("the archive has no owner's key, and there is no file to write one to: give a key file")
	}
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		return "", fmt.Errorf("make the folder of the key file: %w", err)
	}
	key := &pb.Key{DisplayName: "first owner", Role: pb.Role_ROLE_OWNER}
	_, err = a.CreateKey(ctx, archive.Caller{Actor: "system"}, key, "", func(secret string) error { return writeKey(path, secret) })
	if err != nil {
		return "", fmt.Errorf("make the first owner's key: %w", err)
	}
	return path, nil
}

// writeKey writes a secret to a new file. One that is there already may hold the only key to another archive.
func writeKey(path, secret string) error {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return fmt.Errorf("%s exists and may hold the key to another archive: move it away, or name another key file", path)
	}
	if err != nil {
		return fmt.Errorf("write the key file: %w", err)
	}
	_, err = fmt.Fprintln(f, secret)
	return errors.Join(err, f.Sync(), f.Close())
}
