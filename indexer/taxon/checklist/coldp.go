package checklist

import (
	"fmt"
	"path"
	"strings"
)

// entity gives the file of a ColDP class: its name in any case, hyphens and
// underscores left out, with a known ending.
func entity(names []string, class string) string {
	for _, n := range names {
		base := strings.ToLower(path.Base(n))
		stem := strings.NewReplacer("-", "", "_", "").Replace(strings.TrimSuffix(base, path.Ext(base)))
		if stem == class && tableFile(n) {
			return n
		}
	}
	return ""
}

// tableFile reports whether a name has the ending of a table.
func tableFile(name string) bool {
	switch strings.ToLower(path.Ext(name)) {
	case ".tsv", ".tab", ".txt", ".csv":
		return true
	}
	return false
}

// layoutOf tells from the ending how a table with a heading is written.
func layoutOf(name string) layout {
	if strings.EqualFold(path.Ext(name), ".csv") {
		return layout{comma: ',', quote: true}
	}
	return layout{comma: '\t', escapes: true}
}

func readColDP(b *builder, names []string) error {
	if usage := entity(names, "nameusage"); usage != "" {
		if err := b.headed(usage, layoutOf(usage), func(r record) {
			if synonymStatus(r.get("status")) { // the parent of a synonym is its accepted taxon
				r.values["acceptednameusageid"] = r.values["parentid"]
				delete(r.values, "parentid")
			}
			b.usage(r)
		}); err != nil {
			return err
		}
	} else if err := readNamesAndTaxa(b, names); err != nil {
		return err
	}
	for _, class := range []string{"vernacularname", "vernacular"} {
		if v := entity(names, class); v != "" {
			return b.headed(v, layoutOf(v), b.vernacularRow)
		}
	}
	return nil
}

// readNamesAndTaxa reads the form with a table each for names, taxa and synonyms.
func readNamesAndTaxa(b *builder, names []string) error {
	byID := map[string]record{}
	file := entity(names, "name")
	if err := b.headed(file, layoutOf(file), func(r record) { byID[r.get("id")] = r }); err != nil {
		return err
	}
	join := func(r record) bool {
		n, ok := byID[r.get("nameid")]
		if !ok {
			b.problem(Problem{File: r.file, Row: r.line, Column: "nameID", Found: r.get("nameid"), Wanted: "the ID of a name in " + file, Skipped: true})
			return false
		}
		for c, v := range n.values {
			switch c {
			case "id", "status", "remarks", "link", "genus":
			default:
				r.values[c] = v
			}
		}
		if g := n.get("genus"); g != "" {
			r.values["genericname"] = g
		}
		return true
	}
	taxa := entity(names, "taxon")
	if err := b.headed(taxa, layoutOf(taxa), func(r record) {
		delete(r.values, "status")
		if join(r) {
			b.usage(r)
		}
	}); err != nil {
		return err
	}
	synonyms := entity(names, "synonym")
	if synonyms == "" {
		return nil
	}
	return b.headed(synonyms, layoutOf(synonyms), func(r record) {
		r.values["acceptednameusageid"] = r.get("taxonid")
		delete(r.values, "taxonid")
		if r.get("id") == "" { // the id is optional; a name may be a synonym of two taxa
			r.values["id"] = fmt.Sprintf("synonym %s of %s", r.get("nameid"), r.get("acceptednameusageid"))
		}
		if r.get("status") == "" {
			r.values["status"] = "synonym"
		}
		if join(r) {
			b.usage(r)
		}
	})
}
