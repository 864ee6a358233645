package s3

import (
	"errors"
	"fmt"
	"net/http"

	"github.com/minio/minio-go/v7"

	"platarium/storage"
)

// response is the store's own answer inside err; its zero value means that there was none.
func response(err error) minio.ErrorResponse {
	var r minio.ErrorResponse
	errors.As(err, &r)
	return r
}

func readError(doing, key string, err error) error {
	if r := response(err); r.StatusCode == http.StatusNotFound && r.Code != minio.NoSuchBucket {
		return fmt.Errorf("%w: %s", storage.ErrNotExist, key)
	}
	return fmt.Errorf("%s %s: %w", doing, key, err)
}

// writeError sorts the ways in which a write fails: refused for sure, or, if all of it was sent, an outcome that nobody knows.
func writeError(doing, key string, err error, sent bool) error {
	r := response(err)
	switch {
	case r.StatusCode == http.StatusPreconditionFailed, r.Code == "ConditionalRequestConflict":
		return fmt.Errorf("%w: %s", storage.ErrExist, key)
	case r.Code == "XAmzContentSHA256Mismatch", r.Code == "XAmzContentChecksumMismatch", r.Code == minio.BadDigest:
		return fmt.Errorf("%s %s: %w: the store received other bytes than were sent: %w", doing, key, storage.ErrChecksum, err)
	case r.Code == "ObjectParentIsFile", r.Code == "ExistingObjectIsDirectory":
		return fmt.Errorf("%w: %s: an object would be another object's folder: %w", storage.ErrKey, key, err)
	case r.StatusCode == http.StatusNotImplemented:
		return fmt.Errorf("%s %s: %w: %w", doing, key, storage.ErrUnsuitable, err)
	case !sent, r.StatusCode >= 400 && r.StatusCode < 500 && r.StatusCode != http.StatusRequestTimeout:
		return fmt.Errorf("%s %s: %w", doing, key, err)
	}
	return fmt.Errorf("%s %s: %w: %w", doing, key, storage.ErrDoubtful, err)
}
