package journal

import (
	"context"
	"errors"
	"fmt"
	"io"
	"time"

	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
	"platarium/storage"
)

const (
	formatKey   = "format.json"
	formatWhat  = "platarium archive"
	formatLimit = 64 << 10 // bytes
	formatTries = 5        // of making a bucket an archive when the store gives no clear answer
)

// readFormat reads what the bucket holds; an error wraps storage.ErrNotExist if it holds nothing yet, and ErrFormat if this program can't read it.
func readFormat(ctx context.Context, b storage.Bucket) (*pb.Format, error) {
	data, err := readObject(ctx, b, formatKey, formatLimit)
	if err != nil {
		return nil, err
	}
	f := new(pb.Format)
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(data, f); err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrFormat, formatKey, err)
	}
	switch {
	case f.GetWhat() != formatWhat:
		return nil, fmt.Errorf("%w: %s says %q, want %q", ErrFormat, formatKey, f.GetWhat(), formatWhat)
	case f.GetVersion() < 1 || f.GetVersion() > FormatVersion:
		return nil, fmt.Errorf("%w: version %d, this program knows up to %d", ErrFormat, f.GetVersion(), FormatVersion)
	case f.GetArchiveId() == "":
		return nil, fmt.Errorf("%w: %s has no archive id", ErrFormat, formatKey)
	}
	return f, nil
}

// ensureFormat reads the format, or makes the bucket an archive. Whoever makes it first decides the archive's id.
func ensureFormat(ctx context.Context, b storage.Bucket, now time.Time, random io.Reader) (*pb.Format, error) {
	f, err := readFormat(ctx, b)
	if !errors.Is(err, storage.ErrNotExist) {
		return f, err
	}
	for info, err := range b.List(ctx, journalPrefix, "") {
		if err != nil {
			return nil, fmt.Errorf("list journal: %w", err)
		}
		return nil, fmt.Errorf("%w: there is %s but no %s", ErrFormat, info.Key, formatKey)
	}
	id, err := randomHex(random, 16)
	if err != nil {
		return nil, err
	}
	f = &pb.Format{What: formatWhat, Version: FormatVersion, ArchiveId: id, CreateTime: timestamppb.New(now.UTC().Truncate(time.Second))}
	data, err := protojson.MarshalOptions{Multiline: true}.Marshal(f)
	if err != nil {
		return nil, fmt.Errorf("encode %s: %w", formatKey, err)
	}
	data = append(data, '\n')
	for try := 1; ; try++ {
		created := b.Create(ctx, formatKey, data)
		if created == nil {
			return f, nil
		}
		there, err := readFormat(ctx, b) // another's, or one's own after a lost reply
		switch {
		case err == nil:
			return there, nil
		case try < formatTries && errors.Is(created, storage.ErrDoubtful) && errors.Is(err, storage.ErrNotExist):
			continue // the request was lost, or is still on its way: the same bytes can be offered again
		}
		return nil, fmt.Errorf("create %s: %w", formatKey, errors.Join(created, err))
	}
}
