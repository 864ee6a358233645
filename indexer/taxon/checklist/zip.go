package checklist

import (
	"archive/zip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"
)

// freeBytes is how much a file may unpack to before its ratio is looked at:
// small tables of like rows compress extremely well.
const freeBytes = 1 << 20

// archive is a zip file whose names have been checked.
type archive struct {
	size  int64
	ratio int64
	files map[string]*zip.File
	names []string
}

func openZip(r io.ReaderAt, size int64, lim Limits) (*archive, error) {
	z, err := zip.NewReader(r, size)
	if err != nil && !errors.Is(err, zip.ErrInsecurePath) { // names are checked below
		return nil, fmt.Errorf("%w: %w", ErrFormat, err)
	}
	if len(z.File) > lim.Files {
		return nil, fmt.Errorf("%d files, limit %d: %w", len(z.File), lim.Files, ErrLimit)
	}
	a := &archive{size: size, ratio: lim.Ratio, files: map[string]*zip.File{}}
	seen := map[string]bool{}
	for _, f := range z.File {
		if strings.HasSuffix(f.Name, "/") && f.Mode().IsDir() {
			continue
		}
		if err := checkName(f); err != nil {
			return nil, err
		}
		if key := strings.ToLower(f.Name); seen[key] {
			return nil, fmt.Errorf("name %q twice in the archive: %w", f.Name, ErrFormat)
		} else {
			seen[key] = true
		}
		a.files[f.Name] = f
		a.names = append(a.names, f.Name)
	}
	return a, nil
}

// checkName refuses names that a careless reader would follow out of the
// archive, and entries that aren't plain files.
func checkName(f *zip.File) error {
	if !fs.ValidPath(f.Name) || strings.ContainsAny(f.Name, "\\:\x00") || len(f.Name) > 255 {
		return fmt.Errorf("file name %q in the archive: %w", f.Name, ErrFormat)
	}
	if !f.Mode().IsRegular() {
		return fmt.Errorf("%q in the archive is no plain file: %w", f.Name, ErrFormat)
	}
	return nil
}

func (a *archive) list(int) ([]string, error) { return a.names, nil }

func (a *archive) open(name string) (io.ReadCloser, error) {
	f, ok := a.files[name]
	if !ok {
		return nil, fmt.Errorf("%q: %w", name, fs.ErrNotExist)
	}
	r, err := f.Open()
	if err != nil {
		return nil, fmt.Errorf("%w: %s: %w", ErrFormat, name, err)
	}
	packed := min(int64(min(f.CompressedSize64, 1<<62)), a.size)
	return &unpacking{ReadCloser: r, name: name, limit: freeBytes + packed*a.ratio}, nil
}

// unpacking counts the bytes that really come out of a packed file.
type unpacking struct {
	io.ReadCloser
	name        string
	read, limit int64
}

func (u *unpacking) Read(p []byte) (int, error) {
	n, err := u.ReadCloser.Read(p)
	u.read += int64(n)
	if u.read > u.limit {
		return 0, fmt.Errorf("%s unpacks to more than %d bytes for its size: %w", u.name, u.limit, ErrLimit)
	}
	if err != nil && !errors.Is(err, io.EOF) {
		err = fmt.Errorf("%w: %s: %w", ErrFormat, u.name, err)
	}
	return n, err
}
