package manifest

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	pb "platarium/proto/platarium/v1"
)

// SpecimenColumns lists the columns of a specimens file. Any further length is a column called NAME_mm.
func SpecimenColumns() []Column {
	return []Column{
		{Name: "key", Meaning: "a label by which pictures refer to it", Example: "S7", set: func(e *entry, s string) error { e.key = s; return nil }},
		{Name: "id", Meaning: "the id wanted; empty for one made from institution and catalog number", Example: "nnhm-1998-114",
			set: func(e *entry, s string) (err error) { e.id, err = parseID(s); return err }},
		{Name: "scientific_name", Meaning: "the taxon's name as written at identification", Example: "Perca fluviatilis", paths: []string{"identification.scientific_name"},
			set: func(e *entry, s string) error { e.identification().ScientificName = s; return nil }},
		{Name: "taxon", Meaning: "the taxon's resource name, where the name alone won't do", Example: "taxa/T012345", paths: []string{"identification.taxon"},
			set: func(e *entry, s string) (err error) { e.identification().Taxon, err = parseName(s, "taxa"); return err }},
		{Name: "identified_by", Meaning: "who identified it", Example: "H. Ruskvik", paths: []string{"identification.identified_by"},
			set: func(e *entry, s string) error { e.identification().IdentifiedBy = s; return nil }},
		{Name: "catalog_number", Meaning: "the number under which it is kept; the key if left out", Example: "NNHM 1998.114", paths: []string{"catalog_number"},
			set: func(e *entry, s string) error { e.animal.CatalogNumber = s; return nil }},
		{Name: "institution", Meaning: "institution or owner", Example: "Northmere Natural History Museum", paths: []string{"institution"},
			set: func(e *entry, s string) error { e.animal.Institution = s; return nil }},
		lengthColumn("standard_length_mm", "standard length, mm"), lengthColumn("total_length_mm", "total length, mm"),
		lengthColumn("fork_length_mm", "fork length, mm"), lengthColumn("head_length_mm", "head length, mm"),
		{Name: "counts", Meaning: "counts made on the animal, as a formula", Example: "D XIV, I,13", paths: []string{"counts"}, set: func(e *entry, s string) error { return e.setCounts(s) }},
		textColumn("sex", "sex, in words", "female", func(a *pb.Specimen) *string { return &a.Sex }),
		textColumn("life_stage", "life stage, in words", "adult", func(a *pb.Specimen) *string { return &a.LifeStage }),
		textColumn("preservation", "how it is preserved", "ethanol 70 %", func(a *pb.Specimen) *string { return &a.Preservation }),
		textColumn("damage", "damage seen", "two dorsal rays broken", func(a *pb.Specimen) *string { return &a.Damage }),
		textColumn("locality", "where it was taken; outsiders see it generalised by sensitivity", "Ebb Sound, north shore", func(a *pb.Specimen) *string { return &a.Locality }),
		{Name: "sensitivity", Meaning: "sensitivity of the locality: 0 none, 1 withhold, 2 to 4 generalise", Example: "0", paths: []string{"sensitivity"}, set: setSensitivity},
		{Name: "collected_on", Meaning: "date of taking (EDTF)", Example: "1998-07", paths: []string{"collected_on"},
			set: func(e *entry, s string) (err error) { e.animal.CollectedOn, err = parseDate(s); return err }},
		textColumn("collected_by", "who took it", "A. Pastramonte", func(a *pb.Specimen) *string { return &a.CollectedBy }),
		textColumn("permits", "permits and protection, in words", "permit 17/2018", func(a *pb.Specimen) *string { return &a.Permits }),
		textColumn("type_status", "type status", "paratype", func(a *pb.Specimen) *string { return &a.TypeStatus }),
		textColumn("notes", "notes; never shown to a publisher", "stiff, fins brittle", func(a *pb.Specimen) *string { return &a.Notes }),
		{Name: "reason", Meaning: "why the row was rejected last time; ignored", set: func(*entry, string) error { return nil }},
	}
}

func textColumn(name, meaning, example string, field func(*pb.Specimen) *string) Column {
	return Column{Name: name, Meaning: meaning, Example: example, paths: []string{name}, set: func(e *entry, s string) error { *field(e.animal) = s; return nil }}
}

func setSensitivity(e *entry, s string) error {
	n, err := strconv.ParseUint(s, 10, 8)
	if err != nil || n > 4 {
		return fmt.Errorf("found %q; want 0 (none) to 4, with 1 the most sensitive", short(s))
	}
	e.animal.Sensitivity = int32(n)
	return nil
}

// lengthSigns are the trade's signs for the usual lengths.
func lengthSign(name string) string {
	switch name {
	case "standard_length":
		return "SL"
	case "total_length":
		return "TL"
	case "fork_length":
		return "FL"
	case "head_length":
		return "HL"
	default:
		return strings.ReplaceAll(name, "_", " ")
	}
}

// lengthColumn is the column of one length, called NAME_mm.
func lengthColumn(name, meaning string) Column {
	sign := lengthSign(strings.TrimSuffix(name, "_mm"))
	return Column{Name: name, Meaning: meaning, Example: "212.5", paths: []string{"measurements"}, set: func(e *entry, s string) error {
		mm, err := number(s)
		if err != nil {
			return err
		}
		if mm == 0 {
			return fmt.Errorf("found %q; want millimeters above 0", short(s))
		}
		e.animal.Measurements = append(e.animal.Measurements, &pb.Measurement{Measurement: sign, ValueMm: mm})
		slices.SortFunc(e.animal.Measurements, func(a, b *pb.Measurement) int { return strings.Compare(a.GetMeasurement(), b.GetMeasurement()) })
		return nil
	}}
}

// furtherLength makes the column of a length that isn't listed; nil if the name isn't one of a length.
func furtherLength(name string) *Column {
	what, ok := strings.CutSuffix(foldHeader(name), "_mm")
	if !ok || what == "" {
		return nil
	}
	col := lengthColumn(name, strings.ReplaceAll(what, "_", " ")+", mm")
	return &col
}

var lowerBase32 = base32.NewEncoding("abcdefghijklmnopqrstuvwxyz234567").WithPadding(base32.NoPadding)

// digestID makes an id from content: a letter and 20 letters and digits (100 bits).
func digestID(letter string, sum [sha256.Size]byte) string {
	return letter + lowerBase32.EncodeToString(sum[:])[:20]
}

// specimenID makes an id from institution and catalog number: readable, with six letters that keep near ones apart.
func specimenID(institution, catalogNumber string) string {
	const most = 40 // characters of the readable part
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	var slug []byte
	for _, r := range norm.NFKD.String(fold(catalogNumber)) {
		switch {
		case r >= 'a' && r <= 'z' || r >= '0' && r <= '9':
			slug = append(slug, byte(r))
		case !unicode.Is(unicode.Mn, r) && len(slug) > 0 && slug[len(slug)-1] != '-':
			slug = append(slug, '-')
		}
		if len(slug) == most {
			break
		}
	}
	sum := sha256.Sum256([]byte(fold(institution) + "\n" + fold(catalogNumber)))
	tail := lowerBase32.EncodeToString(sum[:])[:6]
	return strings.TrimPrefix(strings.Trim(string(slug), "-")+"-"+tail, "-")
}
