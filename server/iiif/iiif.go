// Package iiif serves the archive's pictures to viewers by two published standards: IIIF Image API 3.0 (and 2.1) at level 2, and IIIF Presentation API 3.0.
//
// Below /iiif/ lie 3/{id} and 2/{id}, the image services of a picture; pictures/{id}/manifest, a picture with its words; and briefs/{id}/manifest, the
// plate and studies of a brief.
//
// Invariants: every answer is built from what the services of the contract give to the caller's own key, asked anew for each request, and
// the package holds no rights of its own; what is hidden from a caller is answered exactly like what isn't there. Whoever is shown the digest of an original
// may have its pixels, and gets them from a pyramid of tiles; others get a service over the largest preview. Pyramids are kept in a local folder within a bound, and are made again when missing.
//
// Left out: sockets and sessions (server), decoding (storage/imaging), search and annotation by others (IIIF Content Search, Web Annotation Protocol).
package iiif

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"net/url"
	"strings"

	"golang.org/x/sync/semaphore"
	"google.golang.org/grpc"
	"google.golang.org/grpc/metadata"

	pb "platarium/proto/platarium/v1"
)

// Config is what the handler needs.
type Config struct {
	Conn   grpc.ClientConnInterface // to the services
	Tiles  *Cache                   // where pyramids are kept
	Studio string                   // name of the house, given as provider
	// Base is the address at which people reach the server, such as https://archive.example; empty takes each request's own host.
	Base string
	// Secret gives the secret of the key that a request shows, or "". Nil reads the bearer token of its authorization header.
	Secret func(*http.Request) string
	Log    *slog.Logger
}

// Handler answers below /iiif/. Safe for concurrent use.
type Handler struct {
	conf       Config
	archive    pb.ArchiveServiceClient
	transfer   pb.TransferServiceClient
	commission pb.CommissionServiceClient
	pixels     *semaphore.Weighted
}

// pixelsAtOnce bounds the pixels held by requests under way: of tiles laid together and of results, four bytes each. It is the most that one request can need.
const pixelsAtOnce = mostSource + maxArea

// New makes the handler.
func New(conf Config) (*Handler, error) {
	if conf.Conn == nil || conf.Tiles == nil || conf.Log == nil {
		return nil, errors.New("iiif needs a connection, a cache of tiles and a log")
	}
	if conf.Secret == nil {
		conf.Secret = bearer
	}
	conf.Base = strings.TrimSuffix(conf.Base, "/")
	return &Handler{
		conf: conf, archive: pb.NewArchiveServiceClient(conf.Conn), transfer: pb.NewTransferServiceClient(conf.Conn),
		commission: pb.NewCommissionServiceClient(conf.Conn), pixels: semaphore.NewWeighted(pixelsAtOnce),
	}, nil
}

func bearer(r *http.Request) string {
	secret, ok := strings.CutPrefix(r.Header.Get("Authorization"), "Bearer ")
	if !ok {
		return ""
	}
	return secret
}

// visit is one request.
type visit struct {
	*Handler
	w http.ResponseWriter
	r *http.Request
}

// ServeHTTP answers one request.
func (h *Handler) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	head := w.Header()
	head.Set("Access-Control-Allow-Origin", "*")
	head.Set("Access-Control-Expose-Headers", "Link, ETag")
	head.Set("X-Content-Type-Options", "nosniff")
	switch r.Method {
	case http.MethodGet, http.MethodHead:
	case http.MethodOptions: // a browser asks before it shows a key from another site's page
		head.Set("Access-Control-Allow-Methods", "GET, HEAD, OPTIONS")
		head.Set("Access-Control-Allow-Headers", "Authorization, Accept, If-None-Match")
		head.Set("Access-Control-Max-Age", "86400")
		w.WriteHeader(http.StatusNoContent)
		return
	default:
		head.Set("Allow", "GET, HEAD, OPTIONS")
		http.Error(w, "only GET, HEAD and OPTIONS are answered here", http.StatusMethodNotAllowed)
		return
	}
	v := &visit{h, w, r}
	if err := v.answer(); err != nil {
		v.fail(err)
	}
}

// answer finds what a path asks for. Segments are unescaped one by one, so that an escaped slash stays within its segment.
func (v *visit) answer() error {
	parts := strings.Split(strings.TrimPrefix(v.r.URL.EscapedPath(), "/iiif/"), "/")
	for i, p := range parts {
		s, err := url.PathUnescape(p)
		if err != nil {
			return badRequest("the path holds %q, which isn't escaped rightly", p)
		}
		parts[i] = s
	}
	secret := v.conf.Secret(v.r)
	if secret == "" {
		return errNoKey
	}
	// What a key may see is nobody else's.
	v.w.Header().Set("Cache-Control", "private, max-age=300")
	v.w.Header().Set("Vary", "Accept, Accept-Encoding, Authorization, Cookie")
	ctx := metadata.AppendToOutgoingContext(v.r.Context(), "authorization", "Bearer "+secret)
	switch {
	case len(parts) >= 2 && (parts[0] == "3" || parts[0] == "2"):
		return v.imageService(ctx, apiVersion(parts[0][0]-'0'), parts[1], parts[2:])
	case len(parts) == 3 && parts[0] == "pictures" && parts[2] == "manifest":
		return v.pictureManifest(ctx, parts[1])
	case len(parts) == 3 && parts[0] == "briefs" && parts[2] == "manifest":
		return v.briefManifest(ctx, parts[1])
	default:
		return errNothing
	}
}

// imageService answers what is asked of one picture's image service.
func (v *visit) imageService(ctx context.Context, version apiVersion, id string, rest []string) error {
	service := v.base() + "/iiif/" + string('0'+rune(version)) + "/" + url.PathEscape(id)
	switch {
	case len(rest) == 0 || len(rest) == 1 && rest[0] == "":
		if _, err := v.getPicture(ctx, id); err != nil {
			return err
		}
		v.w.Header().Set("Location", service+"/info.json")
		v.w.WriteHeader(http.StatusSeeOther)
		return nil
	case len(rest) == 1 && rest[0] == "info.json":
		return v.info(ctx, version, id, service)
	case len(rest) == 4:
		return v.image(ctx, version, id, service, rest)
	default:
		return errNothing
	}
}

// base is the address of the server as the caller reaches it.
func (v *visit) base() string {
	if v.conf.Base != "" {
		return v.conf.Base
	}
	scheme := "http"
	if v.r.TLS != nil {
		scheme = "https"
	}
	return scheme + "://" + v.r.Host
}
