package checklist

import (
	"encoding/xml"
	"fmt"
	"io"
	"path"
	"strconv"
	"strings"
)

// maxMeta is the longest meta.xml, in bytes.
const maxMeta = 1 << 20

// metaFile describes the tables of an archive (Darwin Core text guide, TDWG).
type metaFile struct {
	Core       *metaTable  `xml:"core"`
	Extensions []metaTable `xml:"extension"`
}

type metaTable struct {
	RowType   string      `xml:"rowType,attr"`
	Separator *string     `xml:"fieldsTerminatedBy,attr"`
	Quote     *string     `xml:"fieldsEnclosedBy,attr"`
	Lines     *string     `xml:"linesTerminatedBy,attr"`
	Encoding  string      `xml:"encoding,attr"`
	Headings  string      `xml:"ignoreHeaderLines,attr"`
	Locations []string    `xml:"files>location"`
	IDs       []metaField `xml:"id"`
	CoreIDs   []metaField `xml:"coreid"`
	Fields    []metaField `xml:"field"`
}

type metaField struct {
	Index   string `xml:"index,attr"`
	Term    string `xml:"term,attr"`
	Default string `xml:"default,attr"`
}

func readDarwinCore(b *builder, names []string) error {
	metaName := find(names, "meta.xml")
	meta, err := readMeta(b, metaName)
	if err != nil {
		return err
	}
	if meta.Core == nil || !strings.HasSuffix(meta.Core.RowType, "/Taxon") {
		return fmt.Errorf("%s: the core isn't a table of taxa: %w", metaName, ErrFormat)
	}
	dir := path.Dir(metaName)
	if err := readMetaTable(b, *meta.Core, dir, b.usage); err != nil {
		return err
	}
	for _, x := range meta.Extensions {
		if strings.HasSuffix(x.RowType, "/VernacularName") {
			if err := readMetaTable(b, x, dir, b.vernacularRow); err != nil {
				return err
			}
		}
	}
	return nil
}

func readMeta(b *builder, name string) (*metaFile, error) {
	f, err := b.files.open(name)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", name, err)
	}
	defer func() { _ = f.Close() }() // read only: nothing is lost
	data, err := io.ReadAll(io.LimitReader(&metered{r: f, b: b.budget}, maxMeta+1))
	if err != nil {
		return nil, fmt.Errorf("read %s: %w", name, err)
	}
	if len(data) > maxMeta {
		return nil, fmt.Errorf("%s is longer than %d bytes: %w", name, maxMeta, ErrLimit)
	}
	var meta metaFile
	if err := xml.Unmarshal(data, &meta); err != nil {
		return nil, fmt.Errorf("%s: %w: %w", name, ErrFormat, err)
	}
	return &meta, nil
}

// readMetaTable reads the files of one table, row by row, as meta.xml maps them.
func readMetaTable(b *builder, t metaTable, dir string, f func(record)) error {
	l, err := t.layout()
	if err != nil {
		return err
	}
	cols, constants, err := t.columns()
	if err != nil {
		return err
	}
	if len(t.Locations) == 0 {
		return fmt.Errorf("table %s names no file: %w", t.RowType, ErrFormat)
	}
	for _, loc := range t.Locations {
		name := path.Join(dir, strings.TrimSpace(loc))
		if err := readMapped(b, name, l, cols, constants, f); err != nil {
			return err
		}
	}
	return nil
}

func readMapped(b *builder, name string, l layout, cols map[int][]string, constants map[string]string, f func(record)) error {
	file, err := b.files.open(name)
	if err != nil {
		return fmt.Errorf("%w: open %s: %w", ErrFormat, name, err)
	}
	defer func() { _ = file.Close() }() // read only: nothing is lost
	err = l.rows(file, b.budget, func(line int, row []string) error {
		r := record{file: name, line: line, values: make(map[string]string, len(cols)+len(constants))}
		for term, v := range constants {
			r.values[term] = v
		}
		for i, terms := range cols {
			if i >= len(row) || row[i] == "" {
				continue
			}
			for _, term := range terms {
				r.values[term] = strings.Clone(row[i])
			}
		}
		f(r)
		return nil
	})
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return nil
}

// layout turns the attributes of a table, with the guide's defaults, into ours.
func (t metaTable) layout() (layout, error) {
	l := layout{comma: ',', quote: true}
	if t.Separator != nil {
		sep := []rune(unescape(*t.Separator))
		if len(sep) != 1 || sep[0] == '\n' || sep[0] == '\r' || sep[0] == '"' {
			return l, fmt.Errorf("fieldsTerminatedBy %q, wanted one character: %w", *t.Separator, ErrFormat)
		}
		l.comma = sep[0]
	}
	if t.Quote != nil {
		switch unescape(*t.Quote) {
		case "":
			l.quote = false
		case `"`:
		default:
			return l, fmt.Errorf("fieldsEnclosedBy %q, wanted a double quote or nothing: %w", *t.Quote, ErrFormat)
		}
	}
	if t.Lines != nil && strings.Trim(unescape(*t.Lines), "\r\n ") != "" {
		return l, fmt.Errorf("linesTerminatedBy %q, wanted a line break: %w", *t.Lines, ErrFormat)
	}
	switch strings.ToLower(t.Encoding) {
	case "", "utf-8", "utf8", "us-ascii", "ascii":
	case "iso-8859-1", "latin1", "windows-1252", "cp1252":
		l.latin1 = true
	default:
		return l, fmt.Errorf("encoding %q, wanted UTF-8: %w", t.Encoding, ErrFormat)
	}
	if t.Headings != "" {
		n, err := strconv.Atoi(t.Headings)
		if err != nil || n < 0 || n > 1000 {
			return l, fmt.Errorf("ignoreHeaderLines %q, wanted a number: %w", t.Headings, ErrFormat)
		}
		l.skip = n
	}
	return l, nil
}

// columns gives the terms of each column and the terms with a fixed value.
func (t metaTable) columns() (map[int][]string, map[string]string, error) {
	cols, constants := map[int][]string{}, map[string]string{}
	add := func(f metaField, term string) error {
		if f.Default != "" {
			constants[term] = f.Default
		}
		if f.Index == "" {
			return nil
		}
		i, err := strconv.Atoi(f.Index)
		if err != nil || i < 0 || i > 10000 {
			return fmt.Errorf("column index %q of %s: %w", f.Index, term, ErrFormat)
		}
		cols[i] = append(cols[i], term)
		return nil
	}
	for _, f := range append(t.IDs, t.CoreIDs...) {
		if err := add(f, "id"); err != nil {
			return nil, nil, err
		}
	}
	for _, f := range t.Fields {
		term := strings.ToLower(path.Base(strings.TrimSpace(f.Term)))
		if err := add(f, term); err != nil {
			return nil, nil, err
		}
	}
	return cols, constants, nil
}

func unescape(s string) string {
	return strings.NewReplacer(`\t`, "\t", `\n`, "\n", `\r`, "\r", `&quot;`, `"`).Replace(s)
}
