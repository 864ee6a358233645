package checklist

import (
	"fmt"
	"strings"
	"unicode"

	"platarium/indexer/taxon"
)

// builder gathers taxa and vernaculars and puts them together at the end, when
// every id is known.
type builder struct {
	files       files
	budget      *budget
	list        Checklist
	rows        []usage
	at          map[string]int // id to place in rows
	byName      map[string]string
	vernaculars []vernacular
}

// usage is a taxon or synonym with the row it came from.
type usage struct {
	taxon.Taxon
	file, parentColumn, acceptedColumn string
	line                               int
	above                              []higher
}

// higher is a taxon above, given by its name in the row of a lower one.
type higher struct {
	rank taxon.Rank
	name string
}

// vernacular is an everyday name with the row it came from.
type vernacular struct {
	file, taxon, name, lang string
	line                    int
}

func newBuilder(b *budget, f files) *builder {
	return &builder{files: f, budget: b, at: map[string]int{}, byName: map[string]string{}}
}

func (b *builder) problem(p Problem) {
	const longest = 200
	if len(p.Found) > longest {
		p.Found = strings.ToValidUTF8(p.Found[:longest], "") + "…"
	}
	if len(b.list.Problems) >= MaxProblems {
		b.list.MoreProblems++
		return
	}
	b.list.Problems = append(b.list.Problems, p)
}

// Column names of the formats, in lower case; the first with a value counts.
var (
	idColumns       = []string{"taxonid", "id"}
	nameColumns     = []string{"scientificname", "name"}
	authorColumns   = []string{"scientificnameauthorship", "authorship", "author"}
	rankColumns     = []string{"taxonrank", "rank"}
	statusColumns   = []string{"taxonomicstatus", "status"}
	parentColumns   = []string{"parentnameusageid", "parentid", "parent", "parentnameusage"}
	acceptedColumns = []string{"acceptednameusageid", "acceptedid", "accepted", "acceptednameusage"}
	sourceColumns   = []string{"source", "accordingto", "nameaccordingto", "datasetname"}
)

// rowID is the id of a row, or its name where the table has none.
func rowID(r record) string {
	if id := r.get(idColumns...); id != "" {
		return id
	}
	return r.get(nameColumns...)
}

// usage enters a row that describes a taxon or a synonym.
func (b *builder) usage(r record) {
	u := usage{file: r.file, line: r.line, parentColumn: r.has(parentColumns...), acceptedColumn: r.has(acceptedColumns...)}
	u.ID, u.Source = rowID(r), r.get(sourceColumns...)
	u.Name, u.Authorship = nameOf(r)
	reject := func(column, found, wanted string) {
		b.problem(Problem{File: r.file, Row: r.line, Column: column, Found: found, Wanted: wanted, Skipped: true})
	}
	if u.Name == "" {
		reject("scientificName", "", "a scientific name")
		return
	}
	if len(u.Name) > taxon.MaxNameLength {
		reject("scientificName", u.Name, fmt.Sprintf("at most %d bytes", taxon.MaxNameLength))
		return
	}
	if first, double := b.at[u.ID]; double {
		reject("taxonID", u.ID, fmt.Sprintf("an id not used before (row %d of %s has it)", b.rows[first].line, b.rows[first].file))
		return
	}
	var known bool
	if u.Rank, known = taxon.ParseRank(r.get(rankColumns...)); !known && r.get(rankColumns...) != "" {
		b.problem(Problem{File: r.file, Row: r.line, Column: r.has(rankColumns...), Found: r.get(rankColumns...), Wanted: "a rank such as family or species"})
	}
	u.ParentID, u.AcceptedID = r.get(parentColumns...), r.get(acceptedColumns...)
	switch status := r.get(statusColumns...); {
	case strings.EqualFold(status, "bare name"):
		return // stands outside the classification by its own account
	case synonymStatus(status) || u.AcceptedID != "" && u.AcceptedID != u.ID && !acceptedStatus(status):
		u.Status, u.ParentID = taxon.Synonym, ""
		if u.AcceptedID == "" {
			reject(u.acceptedColumn, "", "the accepted taxon of a "+status)
			return
		}
	case !acceptedStatus(status) && status != "":
		b.problem(Problem{File: r.file, Row: r.line, Column: r.has(statusColumns...), Found: status, Wanted: "accepted or synonym"})
		fallthrough
	default:
		u.AcceptedID, u.above = "", aboveOf(r, u.Rank)
	}
	b.at[u.ID] = len(b.rows)
	if _, double := b.byName[u.Name]; double {
		b.byName[u.Name] = "" // ambiguous: no reference by name
	} else {
		b.byName[u.Name] = u.ID
	}
	b.rows = append(b.rows, u)
}

// vernacularRow enters a row of a table of vernaculars.
func (b *builder) vernacularRow(r record) {
	b.vernacular(vernacular{file: r.file, line: r.line, taxon: r.get("taxonid", "id", "coreid"),
		name: r.get("vernacularname", "name"), lang: r.get("language", "lang")})
}

func (b *builder) vernacular(v vernacular) {
	if v.name == "" {
		b.problem(Problem{File: v.file, Row: v.line, Column: "vernacularName", Wanted: "a name", Skipped: true})
		return
	}
	tag, ok := languageTag(v.lang)
	if !ok {
		b.problem(Problem{File: v.file, Row: v.line, Column: "language", Found: v.lang, Wanted: "a language tag such as de"})
	}
	v.lang = tag
	b.vernaculars = append(b.vernaculars, v)
}

// synonymStatus reports whether a status makes a name a synonym.
func synonymStatus(s string) bool {
	s = strings.ToLower(s)
	return strings.Contains(s, "synonym") || s == "misapplied" || s == "invalid" || s == "unaccepted" || s == "not accepted"
}

// acceptedStatus reports whether a status makes a name an accepted one.
func acceptedStatus(s string) bool {
	switch strings.ToLower(s) {
	case "accepted", "valid", "provisionally accepted", "doubtful", "current":
		return true
	}
	return false
}

// nameOf takes name and authors from a row. Many lists put the authors behind
// the name, with or without a column of their own.
func nameOf(r record) (name, authors string) {
	name, authors = r.get(nameColumns...), r.get(authorColumns...)
	if name == "" {
		parts := []string{r.get("genericname", "genus", "uninomial"), r.get("specificepithet"), r.get("infraspecificepithet")}
		if parts[1] == "" {
			parts = []string{r.get("uninomial", "genericname")}
		}
		return strings.Join(strings.Fields(strings.Join(parts, " ")), " "), authors
	}
	if authors != "" {
		return strings.TrimSpace(strings.TrimSuffix(name, authors)), authors
	}
	if _, rest, _ := strings.Cut(name, " "); !strings.ContainsFunc(rest, func(r rune) bool { return unicode.IsUpper(r) || r == '(' }) {
		return name, "" // no authors, no need to look for them
	}
	n, err := taxon.Parse(name)
	if err != nil || n.Tail != "" || n.Surrogate != taxon.Settled || n.Hybrid != taxon.NotHybrid || n.Authorship() == "" {
		return name, ""
	}
	return n.Canonical(), n.Authorship()
}
