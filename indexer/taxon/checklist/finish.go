package checklist

import (
	"fmt"
	"strings"

	"platarium/indexer/taxon"
)

// finish ties parents, accepted taxa and vernaculars together and refuses rings.
func (b *builder) finish(prefix string) (*Checklist, error) {
	b.implyParents()
	b.resolve()
	b.giveVernaculars()
	out := &b.list
	for _, u := range b.rows {
		if u.ID != "" {
			out.Taxa = append(out.Taxa, u.Taxon)
			out.Origins = append(out.Origins, Origin{File: u.file, Row: u.line})
		}
	}
	if _, err := taxon.NewTree(out.Taxa); err != nil {
		return nil, fmt.Errorf("checklist: %w", err)
	}
	if prefix == "" {
		return out, nil
	}
	for i := range out.Taxa {
		for _, id := range []*string{&out.Taxa[i].ID, &out.Taxa[i].ParentID, &out.Taxa[i].AcceptedID} {
			if *id != "" {
				*id = prefix + *id
			}
		}
	}
	return out, nil
}

// reference finds the id that a parent or accepted column means: an id, or a
// name that only one taxon has.
func (b *builder) reference(s string) (string, bool) {
	if _, ok := b.at[s]; ok {
		return s, true
	}
	id := b.byName[s]
	if id == "" {
		if n, err := taxon.Parse(s); err == nil { // acceptedNameUsage with its authors
			id = b.byName[n.Canonical()]
		}
	}
	return id, id != ""
}

// resolve replaces references by ids. A parent that isn't there leaves its taxon
// without place; a synonym of nothing is left out, and so on until all are tied.
func (b *builder) resolve() {
	for i := range b.rows {
		u := &b.rows[i]
		if u.ParentID != "" {
			id, ok := b.reference(u.ParentID)
			if !ok {
				b.problem(Problem{File: u.file, Row: u.line, Column: u.parentColumn, Found: u.ParentID, Wanted: "the id of a taxon in this checklist"})
			}
			if id == u.ID { // roots of some lists are their own parents
				id = ""
			}
			u.ParentID = id
		}
		if u.Status != taxon.Synonym {
			continue
		}
		id, ok := b.reference(u.AcceptedID)
		if !ok || id == u.ID {
			b.problem(Problem{File: u.file, Row: u.line, Column: u.acceptedColumn, Found: u.AcceptedID, Wanted: "the id of an accepted taxon in this checklist", Skipped: true})
			delete(b.at, u.ID)
			u.ID = ""
			continue
		}
		u.AcceptedID = id
	}
	b.dropOrphans()
}

// dropOrphans leaves out synonyms whose accepted taxon was itself left out.
func (b *builder) dropOrphans() {
	for again := true; again; {
		again = false
		for i := range b.rows {
			u := &b.rows[i]
			if u.ID == "" {
				continue
			}
			if _, ok := b.at[u.ParentID]; !ok {
				u.ParentID = ""
			}
			if _, ok := b.at[u.AcceptedID]; u.Status == taxon.Synonym && !ok {
				b.problem(Problem{File: u.file, Row: u.line, Column: u.acceptedColumn, Found: u.AcceptedID, Wanted: "an accepted taxon that wasn't left out", Skipped: true})
				delete(b.at, u.ID)
				u.ID, again = "", true
			}
		}
	}
}

func (b *builder) giveVernaculars() {
	for _, v := range b.vernaculars {
		i, ok := b.at[v.taxon]
		if !ok {
			b.problem(Problem{File: v.file, Row: v.line, Column: "taxonID", Found: v.taxon, Wanted: "the id of a taxon in this checklist", Skipped: true})
			continue
		}
		t := &b.rows[i].Taxon
		t.Vernaculars = append(t.Vernaculars, taxon.Vernacular{Lang: v.lang, Name: v.name})
	}
}

// ranks that rows name in columns of their own, from the top down.
var aboveRanks = []taxon.Rank{
	taxon.Kingdom, taxon.Phylum, taxon.Subphylum, taxon.Class, taxon.Subclass, taxon.Order, taxon.Suborder, taxon.Superfamily,
	taxon.Family, taxon.Subfamily, taxon.Tribe, taxon.Subtribe, taxon.Genus,
}

// aboveOf lists the taxa above that a row names, from the top down.
func aboveOf(r record, rank taxon.Rank) []higher {
	var out []higher
	for _, h := range aboveRanks {
		name := r.get(h.String())
		if name == "" || strings.EqualFold(name, "not assigned") || rank != taxon.Unranked && h >= rank {
			continue
		}
		out = append(out, higher{h, name})
	}
	return out
}

// implyParents gives rows without a parent the taxa that they name above them,
// making those that have no row of their own.
func (b *builder) implyParents() {
	own := map[higher]string{}
	for _, u := range b.rows {
		if u.Status == taxon.Accepted {
			own[higher{u.Rank, u.Name}] = u.ID
		}
	}
	for i := range b.rows {
		if b.rows[i].ParentID != "" || b.rows[i].Status == taxon.Synonym {
			continue
		}
		parent := ""
		for _, h := range b.rows[i].above {
			id, ok := own[h]
			if !ok {
				id = "implied " + h.rank.String() + " " + h.name
				own[h] = id
				b.at[id] = len(b.rows)
				b.rows = append(b.rows, usage{
					Taxon: taxon.Taxon{ID: id, ParentID: parent, Rank: h.rank, Name: h.name},
					file:  b.rows[i].file, line: b.rows[i].line, parentColumn: h.rank.String(),
				})
			}
			if id != b.rows[i].ID {
				parent = id
			}
		}
		b.rows[i].ParentID = parent
	}
}
