package dir

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"slices"
	"strings"

	"platarium/storage"
)

// List implements storage.Bucket. It reads one folder at a time, and keeps of each only the names that prefix and after let through.
func (b *Bucket) List(ctx context.Context, prefix, after string) iter.Seq2[storage.Info, error] {
	return func(yield func(storage.Info, error) bool) {
		if err := storage.CheckPrefix(prefix); err != nil {
			yield(storage.Info{}, err)
			return
		}
		l := &lister{bucket: b, prefix: prefix, after: after, yield: yield, alive: ctx.Err}
		l.folder(prefix[:strings.LastIndexByte(prefix, '/')+1])
	}
}

type lister struct {
	bucket        *Bucket
	prefix, after string
	yield         func(storage.Info, error) bool
	alive         func() error
}

// folder yields what lies under at ("" or a path that ends in a slash), and says whether to go on.
func (l *lister) folder(at string) bool {
	names, err := l.names(at)
	if err != nil {
		l.yield(storage.Info{}, fmt.Errorf("listing %q: %w", at, err))
		return false
	}
	for _, name := range names {
		if strings.HasSuffix(name, "/") {
			if !l.folder(at + name) {
				return false
			}
		} else if !l.object(at + name) {
			return false
		}
	}
	return true
}

func (l *lister) object(key string) bool {
	err := l.alive()
	if err == nil {
		var info fs.FileInfo
		info, err = os.Lstat(l.bucket.path(key))
		switch {
		case absent(err): // deleted since the folder was read
			return true
		case err == nil:
			return l.yield(storage.Info{Key: key, Size: info.Size(), Modified: info.ModTime()}, nil)
		}
	}
	l.yield(storage.Info{}, fmt.Errorf("listing %s: %w", key, err))
	return false
}

// names gives the wanted names of a folder in the order of the keys: a folder's name counts with its slash, so that "a-b" precedes "a/b".
func (l *lister) names(at string) (names []string, err error) {
	if err := l.alive(); err != nil {
		return nil, err
	}
	f, err := os.Open(l.bucket.path(at))
	if absent(err) {
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	for {
		entries, err := f.ReadDir(1024)
		for _, e := range entries {
			name := e.Name()
			if e.IsDir() {
				name += "/"
			} else if !e.Type().IsRegular() {
				continue
			}
			if l.wanted(at + name) {
				names = append(names, name)
			}
		}
		switch {
		case err == io.EOF || absent(err):
			slices.Sort(names)
			return names, nil
		case err != nil:
			return nil, err
		}
		if err := l.alive(); err != nil {
			return nil, err
		}
	}
}

// wanted says whether the object name, or anything under the folder name, can be in the listing.
func (l *lister) wanted(name string) bool {
	if strings.HasSuffix(name, "/") {
		return storage.CheckPrefix(name) == nil &&
			(strings.HasPrefix(name, l.prefix) || strings.HasPrefix(l.prefix, name)) &&
			(name > l.after || strings.HasPrefix(l.after, name))
	}
	return name > l.after && strings.HasPrefix(name, l.prefix) && storage.CheckKey(name) == nil
}
