package manifest

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// folder opens the files that a manifest names: below one folder, whatever links say.
type folder struct {
	root *os.Root
}

func openFolder(dir string) (*folder, error) {
	root, err := os.OpenRoot(dir)
	if err != nil {
		return nil, fmt.Errorf("open the folder of the files: %w", err)
	}
	return &folder{root}, nil
}

func (f *folder) close() error { return f.root.Close() }

// errFile is what is wrong with a file, in words for the report.
type errFile struct{ text string }

func (e *errFile) Error() string { return e.text }

func wrongFile(format string, args ...any) error { return &errFile{fmt.Sprintf(format, args...)} }

// stat finds a regular file with something in it. The path comes from cleanPath; the one returned is as the disk spells it.
func (f *folder) stat(name string) (spelled string, info fs.FileInfo, err error) {
	for _, spelled := range []string{name, norm.NFC.String(name), norm.NFD.String(name)} { // Macs decompose accents, others don't
		info, err := f.root.Stat(spelled)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return "", nil, f.explain(name, err)
		}
		return spelled, info, regular(name, info)
	}
	return "", nil, wrongFile("found %q, which isn't there%s", short(name), suggestion2(f.likely(name)))
}

func regular(name string, info fs.FileInfo) error {
	if m := info.Mode(); !m.IsRegular() {
		return wrongFile("found %q, which is %s; want a file", short(name), modeWord(m))
	}
	if info.Size() == 0 {
		return wrongFile("found %q, which is empty (0 bytes); want the whole scan", short(name))
	}
	return nil
}

func modeWord(m fs.FileMode) string {
	switch {
	case m.IsDir():
		return "a folder"
	case m&fs.ModeNamedPipe != 0:
		return "a named pipe"
	case m&fs.ModeSocket != 0:
		return "a socket"
	case m&fs.ModeDevice != 0:
		return "a device"
	default:
		return "no ordinary file"
	}
}

// open opens a file that stat has found, and looks again at what was opened.
func (f *folder) open(spelled string) (*os.File, fs.FileInfo, error) {
	file, err := f.root.OpenFile(spelled, os.O_RDONLY|openFlags, 0)
	if err != nil {
		return nil, nil, f.explain(spelled, err)
	}
	info, err := file.Stat()
	if err == nil {
		err = regular(spelled, info)
	}
	if err != nil {
		return nil, nil, errors.Join(err, file.Close())
	}
	return file, info, nil
}

func (f *folder) explain(name string, err error) error {
	var pe *fs.PathError
	switch {
	case errors.Is(err, fs.ErrPermission):
		return wrongFile("found %q, which may not be read; want read permission for it and its folder", short(name))
	case errors.Is(err, fs.ErrNotExist):
		return wrongFile("found %q, which isn't there any more", short(name))
	case errors.As(err, &pe) && strings.Contains(pe.Err.Error(), "escapes"):
		return wrongFile("found %q, which is a link that leads out of the manifest's folder; want the file itself", short(name))
	case errors.As(err, &pe):
		return wrongFile("found %q, which can't be opened: %s", short(name), pe.Err)
	default:
		return wrongFile("found %q, which can't be opened: %s", short(name), err)
	}
}

// likely looks for a file in the same folder whose name differs by case or a slip.
func (f *folder) likely(name string) string {
	const most = 5000 // names looked at
	dir, base := path.Split(name)
	d, err := f.root.Open(path.Clean("./" + dir))
	if err != nil {
		return ""
	}
	names, _ := d.Readdirnames(most) // what could be listed is enough for a suggestion
	_ = d.Close()
	for _, n := range names {
		if strings.EqualFold(n, base) {
			return dir + n
		}
	}
	if best := nearest(base, names); best != "" && utf8.RuneCountInString(base) > 4 {
		return dir + best
	}
	return ""
}

func suggestion2(best string) string {
	if best == "" {
		return ""
	}
	return fmt.Sprintf(" (did you mean %q?)", best)
}
