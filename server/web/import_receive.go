package web

import (
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"net/http"
	"os"
	"path"
	"path/filepath"
	"strings"
	"unicode"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// drained is how much of a refused upload is read on, bytes.
const drained = 1 << 30

// receive takes in what a visitor drops: a stream of files, each with its path below the folder that was dropped. The session's token comes in a header or as the first part, before any file is looked at.
func (s *Site) receive(v *visit) error {
	if !v.staff() || s.imports == nil {
		return errNoPage
	}
	parts, err := v.r.MultipartReader()
	if err != nil {
		return status.Error(codes.InvalidArgument, "found no files; want some to be dropped or chosen")
	}
	first, err := parts.NextPart()
	if err != nil {
		return errToken
	}
	if !v.hasHeaderToken() && !v.isToken(first) {
		return errToken
	}
	b, err := s.imports.begin(v.token, v.secret)
	if errors.Is(err, errBusy) {
		return status.Error(codes.FailedPrecondition, err.Error())
	}
	if err != nil {
		return err
	}
	if first.FormName() == tokenField {
		first = nil
	}
	if err := b.take(first, parts); err != nil {
		_, _ = io.Copy(io.Discard, io.LimitReader(v.r.Body, drained)) // a browser hears an answer only once it has sent everything
		return errors.Join(err, s.imports.giveUp(v.token))
	}
	s.imports.look(b)
	if strings.HasPrefix(v.r.Header.Get("Accept"), "application/json") {
		writeJSON(v.w, http.StatusOK, map[string]string{"to": "/import"})
		return nil
	}
	return v.redirect("/import")
}

// hasHeaderToken says whether the request's header carries the session's token; the body is left alone.
func (v *visit) hasHeaderToken() bool {
	return v.r.Header.Get(tokenHeader) != "" && v.hasToken(v.r)
}

// isToken says whether a part of a form carries the session's token.
func (v *visit) isToken(p *multipart.Part) bool {
	if p.FormName() != tokenField {
		return false
	}
	given, err := io.ReadAll(io.LimitReader(p, 1000))
	return err == nil && v.sameToken(string(given))
}

// take writes the files below the folder, and nowhere else.
func (b *bringing) take(first *multipart.Part, parts *multipart.Reader) error {
	root, err := os.OpenRoot(b.job.Folder)
	if err != nil {
		return err
	}
	err = b.takeAll(root, first, parts)
	return errors.Join(err, root.Close())
}

func (b *bringing) takeAll(root *os.Root, part *multipart.Part, parts *multipart.Reader) error {
	where := "" // the path of the next file, which came as a field of its own
	for {
		if part != nil {
			switch {
			case part.FormName() == "path":
				text, err := io.ReadAll(io.LimitReader(part, 4096))
				if err != nil {
					return broken(err)
				}
				where = string(text)
			case part.FormName() == "file" && part.FileName() != "":
				if where == "" {
					where = part.FileName()
				}
				if err := b.takeFile(root, where, part); err != nil {
					return err
				}
				where = ""
			}
		}
		var err error
		if part, err = parts.NextPart(); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			return broken(err)
		}
	}
	if b.files == 0 {
		return status.Error(codes.InvalidArgument, "found no files; want some to be dropped or chosen")
	}
	return nil
}

func broken(err error) error {
	return status.Errorf(codes.InvalidArgument, "the files broke off on their way: %v", err)
}

func (b *bringing) takeFile(root *os.Root, name string, r io.Reader) error {
	where, err := dropPath(name)
	if err != nil {
		return err
	}
	if b.files++; b.files > mostFiles {
		return status.Errorf(codes.InvalidArgument, "found more than %d files; want fewer at once", mostFiles)
	}
	if dir := path.Dir(where); dir != "." {
		if err := root.MkdirAll(filepath.FromSlash(dir), 0o700); err != nil {
			return status.Errorf(codes.InvalidArgument, "found %q, where a file stands already: %v", name, err)
		}
	}
	f, err := root.OpenFile(filepath.FromSlash(where), os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if errors.Is(err, os.ErrExist) {
		return status.Errorf(codes.InvalidArgument, "found %q twice; want each file once", name)
	}
	if err != nil {
		return fmt.Errorf("keep a dropped file: %w", err)
	}
	n, err := io.Copy(f, io.LimitReader(r, mostBytes-b.bytes+1))
	if b.bytes += n; err == nil && b.bytes > mostBytes {
		err = status.Errorf(codes.InvalidArgument, "found more than %d GiB; want less at once", mostBytes>>30)
	} else if err != nil {
		err = broken(err)
	}
	return errors.Join(err, f.Close())
}

// Bounds of a path that is dropped.
const (
	longestPath = 1024
	deepestPath = 24
)

// dropPath is the path of a dropped file below its folder, or why it can't be one: no way up or out, no names that mean something to a system, nothing that can't be seen.
func dropPath(name string) (string, error) {
	name = strings.ReplaceAll(name, `\`, "/")
	refuse := func(why string) (string, error) {
		return "", status.Errorf(codes.InvalidArgument, "file %q: %s", name, why)
	}
	if len(name) > longestPath || strings.Count(name, "/") > deepestPath {
		return refuse("its path is too long")
	}
	if strings.ContainsFunc(name, func(r rune) bool { return unicode.IsControl(r) || r == unicode.ReplacementChar || r == ':' }) {
		return refuse("its name holds signs that no file's should")
	}
	if name == "" || strings.HasPrefix(name, "/") || path.Clean(name) != name || !filepath.IsLocal(filepath.FromSlash(name)) {
		return refuse("want a path below the folder that is dropped")
	}
	return name, nil
}
