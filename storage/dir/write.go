package dir

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"sync"
	"syscall"

	"platarium/storage"
)

// Create implements storage.Bucket. It costs two syncs: of the file and of the folder that takes it up.
func (b *Bucket) Create(ctx context.Context, key string, data []byte) error {
	if len(data) > storage.MaxCreate {
		return fmt.Errorf("%w: %s: creating %d bytes, want at most %d", storage.ErrKey, key, len(data), storage.MaxCreate)
	}
	if err := ready(ctx, key); err != nil {
		return err
	}
	return b.store(ctx, key, bytes.NewReader(data), b.link)
}

// Put implements storage.Bucket.
func (b *Bucket) Put(ctx context.Context, key string, body io.Reader, size int64, sum *storage.Digest) error {
	if err := ready(ctx, key); err != nil {
		return err
	}
	return b.store(ctx, key, storage.NewBody(ctx, body, size, sum), os.Rename)
}

// store writes content to a temporary file and places it under key.
func (b *Bucket) store(ctx context.Context, key string, content io.Reader, place func(from, to string) error) error {
	from, err := b.write(content)
	if err != nil {
		return fmt.Errorf("storing %s: %w", key, err)
	}
	err = ctx.Err()
	if err == nil {
		err = b.place(key, from, place)
	}
	// After a rename there is nothing to remove. A file that can't be removed is swept some day, and is no reason to deny what was stored.
	if rerr := remove(from); rerr != nil && err != nil {
		err = errors.Join(err, rerr)
	}
	return err
}

// write makes a synced temporary file.
func (b *Bucket) write(content io.Reader) (name string, err error) {
	name = b.temporary()
	f, err := os.OpenFile(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL, filePerm)
	if err != nil {
		return "", err
	}
	if err = copyAll(f, content); err == nil {
		err = f.Sync()
	}
	err = errors.Join(err, f.Close())
	if err != nil {
		return "", errors.Join(err, remove(name))
	}
	return name, nil
}

const copySize = 256 << 10 // bytes; four times fewer calls than the default, and small enough to stay in cache

// copyAll has a large buffer from a pool; a file's own ReadFrom would make a small one each time.
func copyAll(f *os.File, content io.Reader) error {
	if data, ok := content.(*bytes.Reader); ok {
		_, err := data.WriteTo(f)
		return err
	}
	buf := buffers.Get().(*[copySize]byte)
	defer buffers.Put(buf)
	_, err := io.CopyBuffer(struct{ io.Writer }{f}, content, buf[:])
	return err
}

var buffers = sync.Pool{New: func() any { return new([copySize]byte) }}

// place moves a finished file to its key and makes that durable.
func (b *Bucket) place(key, from string, place func(from, to string) error) error {
	to := b.path(key)
	folder := filepath.Dir(to)
	err := b.ensure(folder)
	if err == nil {
		err = place(from, to)
	}
	if absent(err) && !b.clash(key) {
		// The folder was removed behind our back.
		b.forget()
		if err = b.ensure(folder); err == nil {
			err = place(from, to)
		}
	}
	switch {
	case err != nil && b.clash(key):
		return fmt.Errorf("%w: %s: an object would be another object's folder: %w", storage.ErrKey, key, err)
	case errors.Is(err, fs.ErrExist):
		return fmt.Errorf("%w: %s", storage.ErrExist, key)
	case otherDevice(err):
		return fmt.Errorf("%w: %s lies on another file system than the bucket's folder: %w", storage.ErrUnsuitable, key, err)
	case err != nil:
		return fmt.Errorf("storing %s: %w", key, err)
	}
	if err := syncFolder(folder); err != nil {
		return fmt.Errorf("storing %s: %w: syncing its folder: %w", key, storage.ErrDoubtful, err)
	}
	return nil
}

// otherDevice recognises what a link or a rename to another file system gives.
func otherDevice(err error) bool {
	const windowsNotSameDevice = syscall.Errno(17)
	return errors.Is(err, syscall.EXDEV) || runtime.GOOS == "windows" && errors.Is(err, windowsNotSameDevice)
}

// maxDurable bounds the memory spent on known folders; forgetting one costs a sync.
const maxDurable = 4096

// ensure makes folder and those above it, durably. A folder that is there already may have been made a moment ago by a process that hasn't
// synced it yet, so each is synced once by every process.
func (b *Bucket) ensure(folder string) error {
	if folder == b.root {
		return nil
	}
	b.mu.Lock()
	known := b.durable[folder]
	b.mu.Unlock()
	if known {
		return nil
	}
	above := filepath.Dir(folder)
	if err := b.ensure(above); err != nil {
		return err
	}
	if err := os.Mkdir(folder, folderPerm); err != nil && !errors.Is(err, fs.ErrExist) {
		return err
	}
	if err := syncFolder(above); err != nil {
		return err
	}
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(b.durable) >= maxDurable {
		clear(b.durable)
	}
	b.durable[folder] = true
	return nil
}

func (b *Bucket) forget() {
	b.mu.Lock()
	defer b.mu.Unlock()
	clear(b.durable)
}

// makeFolder makes the bucket's own folder and whatever is missing above it, durably.
func makeFolder(folder string) error {
	err := os.Mkdir(folder, folderPerm)
	if errors.Is(err, fs.ErrNotExist) && filepath.Dir(folder) != folder {
		if err := makeFolder(filepath.Dir(folder)); err != nil {
			return err
		}
		err = os.Mkdir(folder, folderPerm)
	}
	if errors.Is(err, fs.ErrExist) {
		return nil
	}
	if err != nil {
		return err
	}
	return syncFolder(filepath.Dir(folder))
}

// syncFolder makes new and removed names in a folder durable. Windows has no such call: NTFS journals names itself.
func syncFolder(folder string) error {
	if runtime.GOOS == "windows" {
		return nil
	}
	f, err := os.Open(folder)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}
