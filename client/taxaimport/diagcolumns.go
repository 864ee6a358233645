package taxaimport

import (
	"fmt"
	"slices"
	"strings"
)

// Column of a table of diagnoses.
type Column struct {
	Name    string `json:"name"`
	Meaning string `json:"meaning"`
	Example string `json:"example,omitempty"`
}

// Names of columns that the code speaks of.
const (
	colSpecies = "species"
	colSource  = "source"
	colOther   = "other"
)

// DiagnosisColumns lists the columns of a table of diagnoses. Counts are written as in a formula: 13-14, ~70, ii,8, I,5; an empty cell says nothing.
func DiagnosisColumns() []Column {
	return []Column{
		{colSpecies, "scientific name, as the archive spells it or by a synonym (required)", "Sebastes polyspinis"},
		{"family", "tells whether capital numerals are spines; that of the archive if empty", "Sebastidae"},
		{"d1_spines", "spines of the first dorsal fin, or of the only one", "13-14"},
		{"d2_spines", "spines of the second dorsal fin", "1"},
		{"d_rays", "soft rays of the dorsal fin, of the second where the first has only spines; two or three fins are parted by +", "13-16"},
		{"d3_rays", "soft rays of the third dorsal fin", "19-22"},
		{"finlets_dorsal", "finlets behind the dorsal fin", "8-9"},
		{"finlets_anal", "finlets behind the anal fin", "7-8"},
		{"a_spines", "spines of the anal fin", "3"},
		{"a_rays", "soft rays of the anal fin, of the first where there are two", "7-9"},
		{"a2_rays", "soft rays of the second anal fin", "20-22"},
		{"pectoral", "rays of the pectoral fin", "17-19"},
		{"pelvic", "spine and rays of the pelvic fin", "I,5"},
		{"ll_scales", "scales along the body", "43-53"},
		{"ll_kind", "which of them: pored, tubed, lateral series, midlateral row, to caudal base; empty for the lateral line", "pored"},
		{"gr_upper", "gill rakers of the upper limb, first arch", "9"},
		{"gr_lower", "gill rakers of the lower limb", "14"},
		{"gr_total", "gill rakers altogether", "35-39"},
		{"vert_precaudal", "precaudal (abdominal) vertebrae", "11"},
		{"vert_caudal", "caudal vertebrae", "17"},
		{"vert_total", "vertebrae altogether", "28"},
		{colOther, "further counts, each with its label, parted by ; (what is no count stays as a note)", "branchiostegals 15-19; predorsal 11-13"},
		{"provenance", "how the value came here", "READ"},
		{colSource, "the publication, which is shown with every verdict (required)", "Day 1870, Proc. Zool. Soc. London p. 680"},
		{"where_read", "where the text was seen", ""},
		{"licence", "licence of the statement", "public domain"},
	}
}

// headings finds which known column each heading names.
func headings(file string, heads []string) ([]string, error) {
	var known []string
	for _, c := range DiagnosisColumns() {
		known = append(known, c.Name)
	}
	var out, faults []string
	for _, h := range heads {
		name := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(h)), " ", "_")
		switch {
		case !slices.Contains(known, name):
			faults = append(faults, fmt.Sprintf("found %q; %s", h, suggestion(name, known)))
		case slices.Contains(out, name):
			faults = append(faults, fmt.Sprintf("found %q twice; want it once", h))
		}
		out = append(out, name)
	}
	for _, must := range []string{colSpecies, colSource} {
		if !slices.Contains(out, must) {
			faults = append(faults, "want a column "+must)
		}
	}
	if faults != nil {
		return nil, fmt.Errorf("%s, row 1: %w: %s", file, ErrUnusable, strings.Join(faults, "; "))
	}
	return out, nil
}

// suggestion names the column that was meant, or all of them where none is near.
func suggestion(name string, known []string) string {
	const near = 3 // letters that differ; common practice, no source
	best, least := "", near+1
	for _, k := range known {
		if d := lettersApart(name, k); d < least {
			best, least = k, d
		}
	}
	if best != "" && least < len(name) {
		return fmt.Sprintf("did you mean %q?", best)
	}
	return "want one of " + strings.Join(known, ", ")
}

// lettersApart is the number of letters to insert, remove or exchange (Levenshtein).
func lettersApart(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		before := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := before
			if a[i] != b[j] {
				cost = 1 + min(before, row[j], row[j+1])
			}
			before, row[j+1] = row[j+1], cost
		}
	}
	return row[len(b)]
}
