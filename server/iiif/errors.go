package iiif

import (
	"context"
	"errors"
	"fmt"
	"net/http"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"platarium/storage/imaging"
)

var (
	// errNoKey: the request shows no key. The caller presents one.
	errNoKey = errors.New("no key was presented")
	// errNothing: nothing is there, or nothing that the caller may see.
	errNothing = errors.New("there is nothing here")
	// errLater: the image is still being made. The caller asks again.
	errLater = errors.New("the image is still being made")
)

// refusal is a request that can't be answered as it stands.
type refusal struct {
	code int
	text string
}

// Error says what is wrong.
func (r *refusal) Error() string { return r.text }

func badRequest(format string, args ...any) error {
	return &refusal{http.StatusBadRequest, fmt.Sprintf(format, args...)}
}

// fail answers with an error. Hidden and absent things give the same answer, and insides stay in the log.
func (v *visit) fail(err error) {
	code, text := v.outcome(err)
	h := v.w.Header()
	h.Del("Link")
	h.Del("ETag")
	h.Set("Cache-Control", "no-store")
	switch code {
	case http.StatusUnauthorized:
		h.Set("WWW-Authenticate", `Bearer realm="archive"`)
	case http.StatusServiceUnavailable, http.StatusTooManyRequests:
		h.Set("Retry-After", "5")
	}
	if code >= http.StatusInternalServerError && code != http.StatusNotImplemented && !errors.Is(err, errLater) && v.r.Context().Err() == nil {
		v.conf.Log.Error("iiif request failed", "path", v.r.URL.Path, "error", err)
	}
	http.Error(v.w, text, code)
}

func (v *visit) outcome(err error) (int, string) {
	var r *refusal
	var f *imaging.Fault
	switch {
	case errors.As(err, &r):
		return r.code, r.text
	case errors.Is(err, errNoKey):
		return http.StatusUnauthorized, errNoKey.Error()
	case errors.Is(err, errNothing):
		return http.StatusNotFound, errNothing.Error()
	case errors.Is(err, errLater):
		return http.StatusServiceUnavailable, errLater.Error()
	case errors.As(err, &f):
		return http.StatusNotImplemented, f.Error()
	case errors.Is(err, context.Canceled):
		return http.StatusServiceUnavailable, "the request was given up"
	}
	switch status.Code(err) {
	case codes.NotFound, codes.InvalidArgument, codes.PermissionDenied:
		return http.StatusNotFound, errNothing.Error()
	case codes.Unauthenticated:
		return http.StatusUnauthorized, "the key isn't valid"
	case codes.ResourceExhausted:
		return http.StatusTooManyRequests, "too many questions in a short time"
	case codes.Unavailable, codes.DeadlineExceeded, codes.Canceled:
		return http.StatusServiceUnavailable, "not to be reached now"
	default:
		return http.StatusInternalServerError, "that didn't work; the server's log says more"
	}
}
