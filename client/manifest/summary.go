package manifest

import (
	"fmt"
	"strings"
)

// String tells a person what became of an import, in a few lines.
func (s *Summary) String() string {
	var lines []string
	if s.Specimens.Rows > 0 {
		lines = append(lines, "specimens: "+s.Specimens.String())
	}
	lines = append(lines, "pictures: "+s.Pictures.String())
	if s.FilesSent+s.FilesKnown > 0 {
		lines = append(lines, fmt.Sprintf("files: %d sent (%s), %d in the archive already", s.FilesSent, Bytes(s.BytesSent), s.FilesKnown))
	}
	for _, path := range []string{s.SpecimenRejects, s.RejectsFile} {
		if path != "" {
			lines = append(lines, "rejected rows, to be mended and imported again: "+path)
		}
	}
	if s.DryRun {
		lines = append(lines, "nothing was stored")
	}
	return strings.Join(lines, "\n")
}

// String counts rows in words.
func (t Tally) String() string {
	list := []string{plural(t.Rows, "row")}
	for _, part := range []struct {
		n    int
		what string
	}{
		{t.Created, "created"}, {t.Updated, "updated"}, {t.Unchanged, "unchanged"}, {t.WouldDo, "would be created or updated"}, {t.Sound, "sound"},
		{t.Rejected, "rejected"}, {t.NotReached, "not reached"},
	} {
		if part.n > 0 {
			list = append(list, fmt.Sprintf("%d %s", part.n, part.what))
		}
	}
	return strings.Join(list, ", ")
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Bytes writes a number of bytes for a person.
func Bytes(n int64) string {
	units := []string{"bytes", "KiB", "MiB", "GiB", "TiB"}
	x, k := float64(n), 0
	for x >= 1024 && k < len(units)-1 {
		x, k = x/1024, k+1
	}
	if k == 0 {
		return fmt.Sprintf("%d bytes", n)
	}
	return fmt.Sprintf("%.1f %s", x, units[k])
}
