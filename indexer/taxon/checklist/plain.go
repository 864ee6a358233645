package checklist

import (
	"fmt"
	"strings"
)

// readPlain reads the one table of a folder, archive or stream. Its first line
// names the columns; letter case doesn't count and only the name is needed:
//
//	id          taxonID     identifier; the name serves where the column is missing
//	name        scientificName   may end with the authors
//	authorship  scientificNameAuthorship
//	rank        taxonRank   English or Latin
//	parent      parentID, parentNameUsageID    id or name of the taxon above
//	status      taxonomicStatus   accepted or synonym
//	accepted    acceptedID, acceptedNameUsageID   id or name that a synonym belongs to
//	vernacular  vernacularName   one or several with | between, each with or without
//	            its language: de:Dornhai|fr:Aiguillat
//	vernacular:de   names in one language
//	language    language of the vernacular column
//	source
//	kingdom … genus   places the taxon where it has no parent
func readPlain(b *builder, names []string) error {
	var table string
	for _, n := range names {
		if !tableFile(n) && len(names) > 1 {
			continue
		}
		if table != "" {
			return fmt.Errorf("several tables (%s, %s) but no meta.xml and no ColDP files: %w", table, n, ErrFormat)
		}
		table = n
	}
	if table == "" {
		return fmt.Errorf("no table among %d files: %w", len(names), ErrFormat)
	}
	named := false
	err := b.headed(table, layoutOf(table), func(r record) {
		named = named || r.get(nameColumns...) != ""
		b.usage(r)
		b.plainVernaculars(r)
	})
	if err == nil && !named {
		return fmt.Errorf("%s has no column scientificName or name: %w", table, ErrFormat)
	}
	return err
}

// plainVernaculars reads the vernaculars of a taxon's own row.
func (b *builder) plainVernaculars(r record) {
	id := rowID(r)
	for column, cell := range r.values {
		lang, own := strings.CutPrefix(column, "vernacular:")
		switch {
		case own:
		case column == "vernacular" || column == "vernacularname":
			lang = r.get("language", "lang")
		default:
			continue
		}
		for _, name := range strings.Split(cell, "|") {
			l := lang
			if code, rest, ok := strings.Cut(name, ":"); ok && len(code) <= 11 && !own {
				l, name = strings.TrimSpace(code), rest
			}
			b.vernacular(vernacular{file: r.file, line: r.line, taxon: id, name: strings.TrimSpace(name), lang: l})
		}
	}
}
