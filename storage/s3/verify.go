package s3

import (
	"encoding/base64"
	"errors"
	"fmt"
	"hash"
	"io"
	"net/http"
	"strings"

	"github.com/minio/minio-go/v7"

	"platarium/storage"
)

// verified compares what is read with the checksum of the whole object that the store sent along, if any: the sha256 that single uploads carry,
// or what the store computed over the parts of a larger one. A checksum of checksums ("...-3", COMPOSITE) says nothing about the bytes.
func verified(key string, body io.ReadCloser, header http.Header) io.ReadCloser {
	if strings.EqualFold(header.Get("x-amz-checksum-type"), "COMPOSITE") {
		return body
	}
	for _, kind := range []minio.ChecksumType{minio.ChecksumSHA256, minio.ChecksumCRC64NVME, minio.ChecksumCRC32C, minio.ChecksumCRC32} {
		want, err := base64.StdEncoding.DecodeString(header.Get(kind.Key()))
		if err != nil || len(want) == 0 {
			continue
		}
		return &verifier{ReadCloser: body, key: key, hash: kind.Hasher(), want: string(want), kind: kind.String()}
	}
	return body
}

type verifier struct {
	io.ReadCloser
	key        string
	hash       hash.Hash
	want, kind string
}

func (v *verifier) Read(p []byte) (int, error) {
	n, err := v.ReadCloser.Read(p)
	v.hash.Write(p[:n])
	if errors.Is(err, io.EOF) && string(v.hash.Sum(nil)) != v.want {
		err = fmt.Errorf("reading %s: %w: the store's own %s differs", v.key, storage.ErrChecksum, v.kind)
	}
	return n, err
}
