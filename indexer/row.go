package indexer

import (
	"encoding/binary"
	"errors"
	"strconv"
	"strings"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
	"platarium/indexer/taxon"
)

// Separators inside cells; clean keeps them out of values.
const (
	itemSep = "\x1e"
	partSep = "\x1f"
)

// row is what the columns keep of a picture, stored with its document.
type row struct {
	name             string
	created, changed int64
	digest           uint64
	cells            [cellCount]string
}

// errRow means that a stored row can't be read: the index is damaged or of
// another schema, and is built again.
var errRow = errors.New("row can't be read")

// append writes the row: numbers fixed, strings with their length before them.
func (r *row) append(b []byte) []byte {
	b = binary.BigEndian.AppendUint64(b, uint64(r.created))
	b = binary.BigEndian.AppendUint64(b, uint64(r.changed))
	b = binary.BigEndian.AppendUint64(b, r.digest)
	b = appendString(b, r.name)
	for _, s := range r.cells {
		b = appendString(b, s)
	}
	return b
}

func appendString(b []byte, s string) []byte {
	return append(binary.AppendUvarint(b, uint64(len(s))), s...)
}

// readRow reads what append wrote, and nothing else.
func readRow(b []byte) (*row, error) {
	if len(b) < 24 {
		return nil, errRow
	}
	r := &row{
		created: int64(binary.BigEndian.Uint64(b)),
		changed: int64(binary.BigEndian.Uint64(b[8:])),
		digest:  binary.BigEndian.Uint64(b[16:]),
	}
	rest := string(b[24:])
	next := func() (string, bool) {
		n, w := binary.Uvarint([]byte(rest[:min(len(rest), binary.MaxVarintLen64)]))
		if w <= 0 || n > uint64(len(rest)-w) {
			return "", false
		}
		s := rest[w : w+int(n)]
		rest = rest[w+int(n):]
		return s, true
	}
	var ok bool
	if r.name, ok = next(); !ok || r.name == "" {
		return nil, errRow
	}
	for i := range r.cells {
		if r.cells[i], ok = next(); !ok {
			return nil, errRow
		}
	}
	if rest != "" {
		return nil, errRow
	}
	return r, nil
}

// clean takes control characters out of a value, so that it can't be mistaken
// for two.
func clean(s string) string {
	if strings.IndexFunc(s, control) < 0 {
		return s
	}
	return strings.Map(func(r rune) rune {
		if control(r) {
			return ' '
		}
		return r
	}, s)
}

func control(r rune) bool { return r < 0x20 || r == 0x7f }

func items(text string) []string {
	if text == "" {
		return nil
	}
	return strings.Split(text, itemSep)
}

func readList(text string) []string { return items(text) }

func writeLineage(l []rank.Taxon) string {
	parts := make([]string, len(l))
	for i, t := range l {
		parts[i] = t.Rank.String() + partSep + clean(t.ID) + partSep + clean(t.Name)
	}
	return strings.Join(parts, itemSep)
}

func readLineage(text string) []rank.Taxon {
	var out []rank.Taxon
	for _, it := range items(text) {
		word, rest, _ := strings.Cut(it, partSep)
		id, name, _ := strings.Cut(rest, partSep)
		r, _ := taxon.ParseRank(word)
		out = append(out, rank.Taxon{ID: id, Name: name, Rank: r})
	}
	return out
}

func writeCounts(counts []rank.Count) string {
	parts := make([]string, len(counts))
	for i, c := range counts {
		parts[i] = c.Character.String() + partSep + c.Element.String() + partSep +
			strconv.FormatFloat(c.Min, 'g', -1, 64) + partSep + strconv.FormatFloat(c.Max, 'g', -1, 64)
	}
	return strings.Join(parts, itemSep)
}

func readCounts(text string) []rank.Count {
	var out []rank.Count
	for _, it := range items(text) {
		p := strings.Split(it, partSep)
		if len(p) != 4 {
			continue
		}
		c, known := meristic.CharacterByCode(p[0])
		e, ok := meristic.ElementByCode(p[1])
		lo, errLo := strconv.ParseFloat(p[2], 64)
		hi, errHi := strconv.ParseFloat(p[3], 64)
		if known && ok && errLo == nil && errHi == nil {
			out = append(out, rank.Count{Character: c, Element: e, Interval: meristic.Range(lo, hi)})
		}
	}
	return out
}

func writeStructures(structures []rank.Structure) string {
	parts := make([]string, len(structures))
	for i, s := range structures {
		parts[i] = strconv.Itoa(int(s.Completeness)) + partSep + clean(s.Name)
	}
	return strings.Join(parts, itemSep)
}

func readStructures(text string) []rank.Structure {
	var out []rank.Structure
	for _, it := range items(text) {
		c, name, _ := strings.Cut(it, partSep)
		out = append(out, rank.Structure{Name: name, Completeness: rank.Completeness(number(c))})
	}
	return out
}
