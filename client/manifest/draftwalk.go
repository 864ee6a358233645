package manifest

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"strings"
)

func (d *drafter) leave(file, why string) { d.out.LeftOut = append(d.out.LeftOut, LeftOut{file, why}) }

func (d *drafter) walk(ctx context.Context) error {
	return fs.WalkDir(d.folder.root.FS(), ".", func(p string, entry fs.DirEntry, err error) error {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		switch {
		case err != nil && p == ".":
			return fmt.Errorf("read the folder: %w", err)
		case err != nil:
			d.leave(p, "can't be read: "+reasonless(err))
			return nil
		case p == ".":
			return nil
		}
		if why := unwanted(entry.Name(), entry.IsDir()); why != "" {
			d.leave(p, why)
			if entry.IsDir() {
				return fs.SkipDir
			}
			return nil
		}
		if entry.IsDir() {
			return nil
		}
		if entry.Type()&fs.ModeSymlink != 0 {
			d.leave(p, "is a link")
			return nil
		}
		d.look(p)
		return nil
	})
}

// reasonless is an error without the path, which stands beside it.
func reasonless(err error) string {
	var pe *fs.PathError
	if errors.As(err, &pe) {
		return pe.Err.Error()
	}
	return err.Error()
}

// unwanted says why a file or folder is no picture by its name; empty if it may be one.
func unwanted(name string, dir bool) string {
	lower := strings.ToLower(name)
	switch {
	case strings.HasPrefix(name, "."), strings.HasPrefix(name, "~$"):
		return "is hidden"
	case lower == "thumbs.db", lower == "desktop.ini", lower == "__macosx", lower == "@eadir", lower == "ehthumbs.db":
		return "belongs to the system"
	case dir && (lower == "thumbs" || lower == "thumbnails" || lower == "previews"):
		return "holds thumbnails"
	case dir:
		return ""
	case strings.HasPrefix(lower, "thumb_"), strings.Contains(lower, "_thumb."), strings.HasSuffix(lower, ".thm"):
		return "is a thumbnail"
	}
	switch path.Ext(lower) {
	case ".xmp", ".aae", ".pp3", ".dop", ".json", ".xml", ".cos", ".on1", ".exf":
		return "goes beside a picture and is none"
	case ".csv", ".tsv", ".tab", ".xls", ".xlsx", ".ods", ".txt", ".md", ".doc", ".docx", ".odt", ".rtf", ".html":
		return "is a text or a table"
	case ".zip", ".7z", ".rar", ".gz", ".tar":
		return "is an archive of files; unpack it first"
	case ".tmp", ".bak", ".part", ".crdownload", ".lock":
		return "is unfinished or a backup"
	}
	return ""
}

// look opens a file and reads what it says.
func (d *drafter) look(p string) {
	spelled, info, err := d.folder.stat(p)
	if err != nil {
		d.leave(p, "isn't usable: "+err.Error())
		return
	}
	file, _, err := d.folder.open(spelled)
	if err != nil {
		d.leave(p, "isn't usable: "+err.Error())
		return
	}
	defer func() { _ = file.Close() }() // only read
	head := make([]byte, 16)
	n, err := io.ReadFull(file, head)
	if err != nil && !errors.Is(err, io.ErrUnexpectedEOF) {
		d.leave(p, "can't be read: "+reasonless(err))
		return
	}
	name, format := sniffPicture(head[:n])
	if name == "" {
		d.leave(p, "isn't a picture by its content")
		return
	}
	f := found{file: p, size: info.Size(), format: name}
	if _, err := file.Seek(0, io.SeekStart); err == nil && format != 0 {
		f.meta = readEmbedded(file, format)
	}
	d.guess(&f)
	d.found = append(d.found, f)
}
