package manifest

import (
	"fmt"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// Column describes one column of a manifest or of a specimens file.
type Column struct {
	Name     string `json:"name"`
	Meaning  string `json:"meaning"`
	Example  string `json:"example,omitempty"`
	Required bool   `json:"required,omitempty"` // the header must have it, and every row must fill it

	paths []string // fields of the record that the cell speaks of, for comparing and updating
	set   func(e *entry, cell string) error
}

// Columns lists the columns of a manifest of pictures.
func Columns() []Column {
	return slices.Concat(identityColumns(), contentColumns(), rightsColumns(), settlingColumns())
}

func identityColumns() []Column {
	return []Column{
		{Name: "file", Meaning: "the scan, below the manifest's folder; empty for a record without one", Example: "plates/perch left.tif",
			set: func(e *entry, s string) (err error) { e.file, err = cleanPath(s); return err }},
		{Name: "id", Meaning: "the id wanted: 4 to 63 lower-case letters, digits, hyphens; empty for one made from the content", Example: "perch-1987-left",
			set: func(e *entry, s string) (err error) { e.id, err = parseID(s); return err }},
		{Name: "key", Meaning: "a label by which other rows may refer to this one", Example: "P12", set: func(e *entry, s string) error { e.key = s; return nil }},
		{Name: "kind", Meaning: "plate, study or reference", Example: "plate", Required: true, paths: []string{"kind"},
			set: func(e *entry, s string) error { return parseWord(&e.picture.Kind, s) }},
		{Name: "title", Meaning: "what the studio calls it", Example: "European perch, left lateral", Required: true, paths: []string{"title"},
			set: func(e *entry, s string) error { e.picture.Title = s; return nil }},
		{Name: "scientific_name", Meaning: "the taxon's name as written at identification; it must be known to the archive", Example: "Perca fluviatilis",
			paths: []string{"identification.scientific_name"}, set: func(e *entry, s string) error { e.identification().ScientificName = s; return nil }},
		{Name: "taxon", Meaning: "the taxon's resource name, where the name alone won't do", Example: "taxa/T012345", paths: []string{"identification.taxon"},
			set: func(e *entry, s string) (err error) {
				e.identification().Taxon, err = parseName(s, "taxa")
				return err
			}},
		{Name: "identified_by", Meaning: "who identified it", Example: "H. Ruskvik", paths: []string{"identification.identified_by"},
			set: func(e *entry, s string) error { e.identification().IdentifiedBy = s; return nil }},
		{Name: "identified_on", Meaning: "when, as a date (EDTF)", Example: "2019-04", paths: []string{"identification.identified_on"},
			set: func(e *entry, s string) (err error) { e.identification().IdentifiedOn, err = parseDate(s); return err }},
		{Name: "qualifier", Meaning: "cf., aff. or ?, where the identification is open", Example: "cf.", paths: []string{"identification.qualifier"},
			set: func(e *entry, s string) (err error) {
				e.identification().Qualifier, err = parseQualifier(s)
				return err
			}},
		{Name: "specimen", Meaning: "the specimen drawn: its key, id or catalog number", Example: "NNHM 1998.114", paths: []string{"specimen"},
			set: func(e *entry, s string) error { e.specimen = s; return nil }},
	}
}

func contentColumns() []Column {
	return []Column{
		{Name: "view", Meaning: "the side from which the animal is seen: " + strings.Join(wordsOf[pb.View](), ", "), Example: "left lateral", paths: []string{"view"},
			set: func(e *entry, s string) error { return parseWord(&e.picture.View, s) }},
		{Name: "stage", Meaning: "how far the work has come: " + strings.Join(wordsOf[pb.Stage](), ", "), Example: "final art", paths: []string{"stage"},
			set: func(e *entry, s string) error { return parseWord(&e.picture.Stage, s) }},
		{Name: "technique", Meaning: "medium and technique in words", Example: "ink on scraperboard", paths: []string{"technique"},
			set: func(e *entry, s string) error { e.picture.Technique = s; return nil }},
		{Name: "structures", Meaning: "parts shown, separated by ; each as name=" + strings.Join(wordsOf[pb.Completeness](), "|") + "@x,y,width,height; condition and region (fractions from the upper left) may be left out",
			Example: "first dorsal fin=complete@0.3,0.1,0.2,0.2; pectoral fin=damaged", paths: []string{"structures"},
			set: func(e *entry, s string) (err error) { e.picture.Structures, err = parseStructures(s); return err }},
		{Name: "counts", Meaning: "the counts shown, as a formula", Example: "D XIV, I,13; A II,8", paths: []string{"counts"},
			set: func(e *entry, s string) error { return e.setCounts(s) }},
		{Name: "landmarks", Meaning: "named points, separated by ; each as name@x,y in fractions", Example: "snout tip@0.1,0.5; hypural end@0.82,0.49", paths: []string{"landmarks"},
			set: func(e *entry, s string) (err error) { e.picture.Landmarks, err = parseLandmarks(s); return err }},
		{Name: "calibration", Meaning: "how long a stretch of the picture is: x1,y1,x2,y2=millimeters basis", Example: "0.1,0.9,0.3,0.9=50 scale bar", paths: []string{"calibration"},
			set: func(e *entry, s string) (err error) { e.picture.Calibration, err = parseCalibration(s); return err }},
		{Name: "derived_from", Meaning: "what it was made from, separated by ; each the key, id or file of another row or pictures/{id}, with :fact (only facts taken) or :copied (the default)",
			Example: "P11:copied; references/perch fresh.jpg:fact", paths: []string{"derived_from"},
			set: func(e *entry, s string) (err error) { e.sources, err = parseDerivations(s); return err }},
		{Name: "source", Meaning: "sources outside the archive in words, separated by ; with :fact or :copied", Example: "photograph by a client, 2018:fact", paths: []string{"derived_from"},
			set: func(e *entry, s string) (err error) { e.outside, err = parseDerivations(s); return err }},
		{Name: "job", Meaning: "the job or commission for which it was made", Example: "Lake guide 2019", paths: []string{"job"},
			set: func(e *entry, s string) error { e.picture.Job = s; return nil }},
		{Name: "keywords", Meaning: "keywords, separated by ;", Example: "freshwater; predator", paths: []string{"keywords"},
			set: func(e *entry, s string) error { e.picture.Keywords = parts(s); return nil }},
		{Name: "notes", Meaning: "notes; never shown to a publisher", Example: "left pelvic fin redrawn", paths: []string{"notes"},
			set: func(e *entry, s string) error { e.picture.Notes = s; return nil }},
	}
}

func rightsColumns() []Column {
	return []Column{
		{Name: "creator", Meaning: "who made it, in order, separated by ;", Example: "Maren Oltedal", paths: []string{"creators"},
			set: func(e *entry, s string) error { e.picture.Creators = parts(s); return nil }},
		{Name: "created", Meaning: "when it was made, as a date (EDTF)", Example: "1987-06", paths: []string{"created"},
			set: func(e *entry, s string) (err error) { e.picture.Created, err = parseDate(s); return err }},
		{Name: "rights_holder", Meaning: "who holds the rights, in words or as parties/{id}", Example: "Studio Ebbvik", paths: []string{"rights_holder"},
			set: func(e *entry, s string) error { e.picture.RightsHolder = s; return nil }},
		{Name: "rights_statement", Meaning: "URI of a statement at rightsstatements.org or a licence at creativecommons.org", Example: "http://rightsstatements.org/vocab/InC/1.0/",
			paths: []string{"rights_statement"}, set: func(e *entry, s string) (err error) { e.picture.RightsStatement, err = parseStatement(s); return err }},
		{Name: "credit", Meaning: "the parts of the credit line, in order, separated by ; or by a slash between spaces", Example: "© Maren Oltedal / Studio Ebbvik", paths: []string{"credit_parts"},
			set: func(e *entry, s string) error { e.picture.CreditParts = creditParts(s); return nil }},
	}
}

func settlingColumns() []Column {
	return []Column{
		{Name: "doubts", Meaning: "guesses of a first draft that a person must settle; a row goes in only once this is empty", Example: "",
			set: func(_ *entry, s string) error {
				return fmt.Errorf("found %q; want these doubts settled and the cell cleared", short(s))
			}},
		{Name: "reason", Meaning: "why the row was rejected last time; ignored", Example: "", set: func(*entry, string) error { return nil }},
	}
}

// columnNamed finds a column; nil if there is none.
func columnNamed(columns []Column, name string) *Column {
	for i := range columns {
		if columns[i].Name == name {
			return &columns[i]
		}
	}
	return nil
}

// foldHeader makes "Scientific Name" and "scientific-name" one.
func foldHeader(s string) string {
	return strings.ToLower(strings.Join(strings.FieldsFunc(s, func(r rune) bool { return r == ' ' || r == '_' || r == '-' || r == '\u00a0' }), "_"))
}
