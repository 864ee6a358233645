// Package api answers the gRPC services of the contract over an archive.
//
// Invariants: every method is in the role table, and what isn't is denied; a caller's role is looked up anew for each call; an object that a caller may not see
// answers exactly like one that isn't there; what a publisher gets is cut down in one place (outsider.go); every error that leaves has a
// code, a reason and, for fields at fault, their paths, by one table (errors.go); what the table doesn't know leaves as INTERNAL without its text, and is logged once.
//
// Left out: records and their rules (server/archive), the licensing algebra (server/rights), sockets and TLS (server).
package api

import (
	"context"
	"fmt"
	"log/slog"
	"runtime/debug"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/health"
	healthpb "google.golang.org/grpc/health/grpc_health_v1"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/preview"
)

// Server implements all services.
type Server struct {
	archive  *archive.Archive
	previews *preview.Queue
	log      *slog.Logger
	version  string
	limits   *limiter
	looks    licensedLooks
}

// New makes the services over an archive.
func New(a *archive.Archive, previews *preview.Queue, log *slog.Logger, version string) *Server {
	return &Server{archive: a, previews: previews, log: log, version: version, limits: newLimiter()}
}

// MaxMessage is the largest message taken or sent, bytes: a batch of 1,000 pictures fits.
const MaxMessage = 32 << 20

// Options are the server options that the services rely on.
func (s *Server) Options() []grpc.ServerOption {
	return []grpc.ServerOption{
		grpc.MaxRecvMsgSize(MaxMessage),
		grpc.ChainUnaryInterceptor(s.unary),
		grpc.ChainStreamInterceptor(s.stream),
		grpc.ReadBufferSize(1 << 20), grpc.WriteBufferSize(1 << 20),
		grpc.InitialWindowSize(4 << 20), grpc.InitialConnWindowSize(16 << 20),
	}
}

// Register adds all services, with gRPC health, to a server made with Options.
func (s *Server) Register(g *grpc.Server) *health.Server {
	pb.RegisterArchiveServiceServer(g, archiveService{Server: s})
	pb.RegisterTaxaServiceServer(g, taxaService{Server: s})
	pb.RegisterSearchServiceServer(g, searchService{Server: s})
	pb.RegisterLicensingServiceServer(g, licensingService{Server: s})
	pb.RegisterCommissionServiceServer(g, commissionService{Server: s})
	pb.RegisterTransferServiceServer(g, transferService{Server: s})
	pb.RegisterAdminServiceServer(g, adminService{Server: s})
	h := health.NewServer()
	healthpb.RegisterHealthServer(g, h)
	return h
}

type principalKey struct{}

// principal is who calls.
type principal struct {
	key   string // id of the key, without the collection
	role  pb.Role
	party string // parties/{id}, for a publisher
}

func (p principal) outsider() bool { return p.role == pb.Role_ROLE_PUBLISHER }

// caller returns who calls; the interceptors have put it there.
func caller(ctx context.Context) principal {
	p, _ := ctx.Value(principalKey{}).(principal)
	return p
}

// by is the caller of a write, in the archive's terms.
func by(ctx context.Context, requestID string) archive.Caller {
	return archive.Caller{Actor: caller(ctx).key, RequestID: requestID}
}

func (s *Server) unary(ctx context.Context, req any, info *grpc.UnaryServerInfo, next grpc.UnaryHandler) (any, error) {
	start := time.Now()
	ctx, err := s.admit(ctx, info.FullMethod)
	var res any
	if err == nil {
		res, err = guarded(func() (any, error) { return next(ctx, req) })
	}
	return res, s.leave(ctx, info.FullMethod, start, err)
}

func (s *Server) stream(srv any, ss grpc.ServerStream, info *grpc.StreamServerInfo, next grpc.StreamHandler) error {
	start := time.Now()
	ctx, err := s.admit(ss.Context(), info.FullMethod)
	if err == nil {
		_, err = guarded(func() (any, error) {
			return nil, next(srv, &callerStream{ServerStream: ss, ctx: func() context.Context { return ctx }})
		})
	}
	return s.leave(ctx, info.FullMethod, start, err)
}

// guarded turns a panic into an error, so that one request that nobody foresaw doesn't end everybody's.
func guarded(call func() (any, error)) (res any, err error) {
	defer func() {
		if r := recover(); r != nil {
			err = fmt.Errorf("panic: %v\n%s", r, debug.Stack())
		}
	}()
	return call()
}

// callerStream is a stream whose context knows the caller.
type callerStream struct {
	grpc.ServerStream
	ctx func() context.Context
}

func (c *callerStream) Context() context.Context { return c.ctx() }

// leave turns an error into what the caller may see, and logs the call.
func (s *Server) leave(ctx context.Context, method string, start time.Time, err error) error {
	out := statusOf(err)
	level := slog.LevelDebug
	attrs := []slog.Attr{slog.String("method", method), slog.String("key", caller(ctx).key), slog.Duration("took", time.Since(start))}
	if out != nil {
		attrs = append(attrs, slog.String("code", out.Code().String()))
		if internal(out) {
			level = slog.LevelError
			attrs = append(attrs, slog.Any("error", err))
		}
	}
	s.log.LogAttrs(ctx, level, "call", attrs...)
	if out == nil {
		return nil
	}
	return out.Err()
}
