// Package dir keeps a bucket in a folder of the local file system: each object is a plain file whose path is its key, so that the archive can be read
// without this program.
//
// Invariants: a file appears under its key whole or not at all, and what a call has acknowledged survives a power cut: data is written to the hidden
// folder .partial, synced, put in place by link (Create) or rename (Put), and the folder that received it is synced. Link fails when the name is
// taken, and that is the whole of conditional creation, also between processes and over NFS. A file system without hard links is refused.
//
// Left out: folders that became empty stay, because removing one while another process puts a file there can't be made durable cheaply.
// Names that aren't keys (hidden files, notes of an operator) are ignored.
package dir

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"time"

	"platarium/storage"
)

// partial is the hidden folder of unfinished files; no key begins with a dot.
const partial = ".partial"

// abandoned is the age at which an unfinished file must be from a process that died: a living one writes to it all the time.
const abandoned = 24 * time.Hour

// Files hold clients' affairs: readable by the owner and the group, never by everyone.
const (
	filePerm   = 0o640
	folderPerm = 0o750
)

// Bucket is a folder that holds an archive. It implements storage.Bucket and may be used by any number of goroutines and processes.
type Bucket struct {
	root string
	link func(oldname, newname string) error // os.Link

	mu      sync.Mutex
	durable map[string]bool // folders known to survive a power cut
}

var _ storage.Bucket = (*Bucket)(nil)

// Open uses the folder at path, making it if needed. It fails with storage.ErrUnsuitable if the file system has no hard links, and removes
// unfinished files that a crash left behind more than a day ago.
func Open(path string) (*Bucket, error) { return open(path, os.Link) }

func open(path string, link func(oldname, newname string) error) (*Bucket, error) {
	if path == "" {
		return nil, errors.New("opening a directory bucket: found an empty path, want the path of a folder")
	}
	root, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("opening a directory bucket: %w", err)
	}
	b := &Bucket{root: root, link: link, durable: map[string]bool{}}
	if err := makeFolder(filepath.Join(root, partial)); err != nil {
		return nil, fmt.Errorf("opening the directory bucket %s: %w", root, err)
	}
	if err := b.sweep(time.Now().Add(-abandoned)); err != nil {
		return nil, fmt.Errorf("opening the directory bucket %s: removing old unfinished files: %w", root, err)
	}
	if err := b.probe(); err != nil {
		return nil, fmt.Errorf("opening the directory bucket %s: %w", root, err)
	}
	return b, nil
}

// probe tries a link, and that a link over an existing name fails.
func (b *Bucket) probe() (err error) {
	from, err := b.write(strings.NewReader("probe"))
	if err != nil {
		return err
	}
	to := from + ".link"
	defer func() { err = errors.Join(err, remove(from), remove(to)) }()
	if err := b.link(from, to); err != nil {
		return fmt.Errorf("%w: its file system can't make hard links (%w); want one that can, such as ext4, XFS, APFS or NTFS", storage.ErrUnsuitable, err)
	}
	if err := b.link(from, to); !errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%w: its file system let a link replace a file (answer: %w)", storage.ErrUnsuitable, err)
	}
	return nil
}

func (b *Bucket) sweep(before time.Time) error {
	entries, err := os.ReadDir(filepath.Join(b.root, partial))
	if err != nil {
		return err
	}
	for _, e := range entries {
		info, err := e.Info()
		switch {
		case errors.Is(err, fs.ErrNotExist): // its writer has just finished
			continue
		case err != nil:
			return err
		case info.ModTime().Before(before):
			if err := remove(filepath.Join(b.root, partial, e.Name())); err != nil {
				return err
			}
		}
	}
	return nil
}

// Stat implements storage.Bucket.
func (b *Bucket) Stat(ctx context.Context, key string) (storage.Info, error) {
	if err := ready(ctx, key); err != nil {
		return storage.Info{}, err
	}
	info, err := os.Stat(b.path(key))
	switch {
	case absent(err) || err == nil && !info.Mode().IsRegular():
		return storage.Info{}, fmt.Errorf("%w: %s", storage.ErrNotExist, key)
	case err != nil:
		return storage.Info{}, fmt.Errorf("describing %s: %w", key, err)
	}
	return storage.Info{Key: key, Size: info.Size(), Modified: info.ModTime()}, nil
}

// Open implements storage.Bucket.
func (b *Bucket) Open(ctx context.Context, key string, offset, length int64) (io.ReadCloser, error) {
	if err := ready(ctx, key); err != nil {
		return nil, err
	}
	if offset < 0 {
		return nil, fmt.Errorf("opening %s: found offset %d, want 0 or more", key, offset)
	}
	f, err := os.Open(b.path(key))
	if absent(err) {
		return nil, fmt.Errorf("%w: %s", storage.ErrNotExist, key)
	}
	if err != nil {
		return nil, fmt.Errorf("opening %s: %w", key, err)
	}
	info, err := f.Stat()
	if err == nil && !info.Mode().IsRegular() {
		err = fmt.Errorf("%w: %s", storage.ErrNotExist, key)
	}
	if err != nil {
		return nil, errors.Join(fmt.Errorf("opening %s: %w", key, err), f.Close())
	}
	n := max(info.Size()-offset, 0)
	if length >= 0 {
		n = min(n, length)
	}
	return &reader{Reader: io.NewSectionReader(f, offset, n), Closer: f, alive: ctx.Err}, nil
}

// reader stops at the end of its context, as one over the network does.
type reader struct {
	io.Reader
	io.Closer
	alive func() error
}

func (r *reader) Read(p []byte) (int, error) {
	if err := r.alive(); err != nil {
		return 0, err
	}
	return r.Reader.Read(p)
}

// Delete implements storage.Bucket. The deletion is durable when it returns.
func (b *Bucket) Delete(ctx context.Context, key string) error {
	if err := ready(ctx, key); err != nil {
		return err
	}
	name := b.path(key)
	info, err := os.Lstat(name)
	if absent(err) || err == nil && info.IsDir() {
		return nil
	}
	if err == nil {
		err = remove(name)
	}
	if err == nil {
		err = syncFolder(filepath.Dir(name))
	}
	if err != nil {
		return fmt.Errorf("deleting %s: %w", key, err)
	}
	return nil
}

// clash says whether key can't be stored because a part of it is an object, or it is itself a folder. It looks only after a failure.
func (b *Bucket) clash(key string) bool {
	for at := path.Dir(key); at != "."; at = path.Dir(at) {
		if info, err := os.Lstat(b.path(at)); err == nil && !info.IsDir() {
			return true
		}
	}
	info, err := os.Lstat(b.path(key))
	return err == nil && info.IsDir()
}

func (b *Bucket) path(key string) string { return filepath.Join(b.root, filepath.FromSlash(key)) }

func (b *Bucket) temporary() string { return filepath.Join(b.root, partial, rand.Text()) }

func ready(ctx context.Context, key string) error {
	if err := storage.CheckKey(key); err != nil {
		return err
	}
	return ctx.Err()
}

// absent includes a key that runs through a file as if it were a folder.
func absent(err error) bool { return errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.ENOTDIR) }

func remove(name string) error {
	if err := os.Remove(name); err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	return nil
}
