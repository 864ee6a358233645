package archive

import (
	"math"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
)

// wrong is one thing wrong with a record, and the field that is to be named.
type wrong[T Record] struct {
	field string
	spoil func(T)
}

// refuses tries each wrong record by creation, and sees that nothing was stored.
func refuses[T Record](t *testing.T, s *studio, right func() T, create func(T) error, cases []wrong[T]) {
	t.Helper()
	if err := create(right()); err != nil {
		t.Fatalf("the right record: %v", err)
	}
	at := s.Journal().Position()
	for _, c := range cases {
		r := right()
		c.spoil(r)
		wantViolation(t, create(r), c.field)
	}
	if got := s.Journal().Position(); got != at {
		t.Errorf("refused records made commits up to %d", got.Seq)
	}
}

func long(n int) string { return strings.Repeat("x", n+1) }

func many(n int) []string {
	out := make([]string, n+1)
	for i := range out {
		out[i] = "x"
	}
	return out
}

var noDigest = strings.Repeat("0", 63)

func TestPictureRules(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	structure := func(spoil func(*pb.Structure)) func(*pb.Picture) {
		return func(p *pb.Picture) { spoil(p.Structures[0]) }
	}
	region := func(x, y, w, h float64) func(*pb.Picture) {
		return structure(func(st *pb.Structure) { st.Region = &pb.Region{X: x, Y: y, Width: w, Height: h} })
	}
	cal := func(spoil func(*pb.Calibration)) func(*pb.Picture) {
		return func(p *pb.Picture) { spoil(p.Calibration) }
	}
	from := func(d *pb.Derivation) func(*pb.Picture) {
		return func(p *pb.Picture) { p.DerivedFrom = []*pb.Derivation{{Source: "a print"}, d} }
	}
	mark := func(l *pb.Landmark) func(*pb.Picture) {
		return func(p *pb.Picture) { p.Landmarks = []*pb.Landmark{{Landmark: "snout tip"}, l} }
	}
	identify := func(id *pb.Identification) func(*pb.Picture) {
		return func(p *pb.Picture) { p.Identification = id }
	}
	nan := math.NaN()
	cases := []wrong[*pb.Picture]{
		{"kind", func(p *pb.Picture) { p.Kind = 0 }},
		{"kind", func(p *pb.Picture) { p.Kind = 99 }},
		{"view", func(p *pb.Picture) { p.View = -1 }},
		{"stage", func(p *pb.Picture) { p.Stage = 99 }},
		{"title", func(p *pb.Picture) { p.Title = " \t" }},
		{"title", func(p *pb.Picture) { p.Title = long(maxTitle) }},
		{"notes", func(p *pb.Picture) { p.Notes = long(maxText) }},
		{"technique", func(p *pb.Picture) { p.Technique = long(maxWord) }},
		{"job", func(p *pb.Picture) { p.Job = long(maxWord) }},
		{"rights_holder", func(p *pb.Picture) { p.RightsHolder = long(maxWord) }},
		{"rights_holder", func(p *pb.Picture) { p.RightsHolder = "parties/none-such" }},
		{"rights_statement", func(p *pb.Picture) { p.RightsStatement = "all rights reserved" }},
		{"rights_statement", func(p *pb.Picture) { p.RightsStatement = "https://rightsstatements.org.example/x" }},
		{"specimen", func(p *pb.Picture) { p.Specimen = "specimens/none-such" }},
		{"specimen", func(p *pb.Picture) { p.Specimen = "pictures/subject" }},
		{"identification.taxon", identify(&pb.Identification{Taxon: "taxa/none-such"})},
		{"identification.taxon", identify(&pb.Identification{Taxon: "T000001"})},
		{"identification.scientific_name", identify(&pb.Identification{ScientificName: "Perca fluviatiliss"})},
		{"identification.scientific_name", identify(&pb.Identification{ScientificName: "Nonsensia absurda"})},
		{"identification.qualifier", identify(&pb.Identification{Qualifier: long(maxWord)})},
		{"identification.identified_by", identify(&pb.Identification{IdentifiedBy: long(maxWord)})},
		{"identification.identified_on", identify(&pb.Identification{IdentifiedOn: "last week"})},
		{"created", func(p *pb.Picture) { p.Created = "2026-02-30" }},
		{"counts.formula", func(p *pb.Picture) { p.Counts.Formula = "D ((" }},
		{"counts.formula", func(p *pb.Picture) { p.Counts.Formula = long(1 << 16) }},
		{"creators", func(p *pb.Picture) { p.Creators = many(maxList) }},
		{"creators[1]", func(p *pb.Picture) { p.Creators = []string{"Ida Moor", " "} }},
		{"keywords[0]", func(p *pb.Picture) { p.Keywords = []string{long(maxWord)} }},
		{"credit_parts[0]", func(p *pb.Picture) { p.CreditParts = []string{""} }},
		{"structures", func(p *pb.Picture) { p.Structures = make([]*pb.Structure, maxStructures+1); fill(p.Structures) }},
		{"structures[0].structure", structure(func(st *pb.Structure) { st.Structure = " " })},
		{"structures[0].structure", structure(func(st *pb.Structure) { st.Structure = "fin=whole" })},
		{"structures[0].structure", structure(func(st *pb.Structure) { st.Structure = long(maxWord) })},
		{"structures[0].completeness", structure(func(st *pb.Structure) { st.Completeness = 77 })},
		{"structures[0].note", structure(func(st *pb.Structure) { st.Note = long(maxText) })},
		{"structures[0].region.x", region(-.1, 0, .5, .5)},
		{"structures[0].region.x", region(nan, 0, .5, .5)},
		{"structures[0].region.y", region(0, 1.1, .5, .5)},
		{"structures[0].region.width", region(0, 0, 0, .5)},
		{"structures[0].region.width", region(.6, 0, .5, .5)},
		{"structures[0].region.width", region(0, 0, nan, .5)},
		{"structures[0].region.height", region(0, .6, .5, .5)},
		{"structures[0].region.height", region(0, 0, .5, math.Inf(1))},
		{"landmarks", func(p *pb.Picture) { p.Landmarks = make([]*pb.Landmark, maxLandmarks+1) }},
		{"landmarks[1].landmark", mark(&pb.Landmark{})},
		{"landmarks[1].landmark", mark(&pb.Landmark{Landmark: long(maxWord)})},
		{"landmarks[1].x", mark(&pb.Landmark{Landmark: "hypural end", X: 1.5})},
		{"landmarks[1].y", mark(&pb.Landmark{Landmark: "hypural end", Y: nan})},
		{"calibration", cal(func(k *pb.Calibration) { k.X2, k.Y2 = k.X1, k.Y1 })},
		{"calibration.x1", cal(func(k *pb.Calibration) { k.X1 = -1 })},
		{"calibration.y2", cal(func(k *pb.Calibration) { k.Y2 = nan })},
		{"calibration.length_mm", cal(func(k *pb.Calibration) { k.LengthMm = 0 })},
		{"calibration.length_mm", cal(func(k *pb.Calibration) { k.LengthMm = math.Inf(1) })},
		{"calibration.basis", cal(func(k *pb.Calibration) { k.Basis = long(maxWord) })},
		{"derived_from", func(p *pb.Picture) {
			for range maxList + 1 {
				p.DerivedFrom = append(p.DerivedFrom, &pb.Derivation{Source: "a print"})
			}
		}},
		{"derived_from[1]", from(&pb.Derivation{})},
		{"derived_from[1]", from(&pb.Derivation{Picture: "pictures/subject", Source: "both"})},
		{"derived_from[1].picture", from(&pb.Derivation{Picture: "pictures/none-such"})},
		{"derived_from[1].picture", from(&pb.Derivation{Picture: "specimens/subject"})},
		{"derived_from[1].source", from(&pb.Derivation{Source: long(maxTitle)})},
		{"derived_from[1].role", from(&pb.Derivation{Source: "a print", Role: 9})},
		{"original.sha256", func(p *pb.Picture) { p.Original = &pb.Original{} }},
		{"original.sha256", func(p *pb.Picture) { p.Original = &pb.Original{Sha256: noDigest} }},
		{"original.sha256", func(p *pb.Picture) { p.Original = &pb.Original{Sha256: strings.Repeat("A", 64)} }},
		{"provenance.file_name", func(p *pb.Picture) { p.Provenance = &pb.Provenance{FileName: long(maxWord)} }},
		{"provenance.import_id", func(p *pb.Picture) { p.Provenance = &pb.Provenance{ImportId: long(maxWord)} }},
	}
	refuses(t, s, rich, func(p *pb.Picture) error { _, err := s.CreatePicture(t.Context(), owner, p, ""); return err }, cases)

	// Several at once are all named.
	p := &pb.Picture{Created: "once", Landmarks: []*pb.Landmark{{X: 2}}}
	_, err := s.CreatePicture(t.Context(), owner, p, "")
	for _, field := range []string{"kind", "title", "created", "landmarks[0].landmark", "landmarks[0].x"} {
		wantViolation(t, err, field)
	}
	missing := rich()
	missing.Original = &pb.Original{Sha256: strings.Repeat("0", 64)}
	_, err = s.CreatePicture(t.Context(), owner, missing, "")
	wantIs(t, err, ErrNoOriginal)
}

func fill(list []*pb.Structure) {
	for i := range list {
		list[i] = &pb.Structure{Structure: "eye"}
	}
}

// Dates of making are EDTF; what is right is taken.
func TestDatesOfMaking(t *testing.T) {
	for s, ok := range map[string]bool{
		"": true, "1987": true, "1987-06": true, "1987-06-15": true, "198X": true, "19XX": true, "1987~": true, "1987-06?": true, "1987%": true, "1987/1990": true,
		"1987-06/..": true, "../1990": true, "1987-XX": true, "1987-06-XX": true, "1987-XX-XX": true, "1987/": true,
		"87": false, "1987-13": false, "1987-6": false, "1987-02-29": false, "2024-02-29": true, "1987/1990/2000": false, "../..": false, "/": false, "..": false,
		"1X87": false, "circa 1987": false, "1987 ": false, "1987-06-15T10:00": false, "-1987": false,
	} {
		var c checks
		c.edtf("created", s)
		if (c.err() == nil) != ok {
			t.Errorf("%q: %v; want right %v", s, c.err(), ok)
		}
	}
}

func TestSpecimenRules(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	right := func() *pb.Specimen {
		x := jar()
		x.Measurements = []*pb.Measurement{{Measurement: "SL", ValueMm: 120, UncertaintyMm: .5}}
		x.Counts, x.Sensitivity, x.CollectedOn = &pb.Counts{Formula: "D XIV, I,13"}, 2, "1902-05"
		return x
	}
	length := func(m *pb.Measurement) func(*pb.Specimen) {
		return func(x *pb.Specimen) { x.Measurements = append(x.Measurements, m) }
	}
	refuses(t, s, right, func(x *pb.Specimen) error { _, err := s.CreateSpecimen(t.Context(), owner, x, ""); return err }, []wrong[*pb.Specimen]{
		{"catalog_number", func(x *pb.Specimen) { x.CatalogNumber = " " }},
		{"catalog_number", func(x *pb.Specimen) { x.CatalogNumber = long(maxWord) }},
		{"institution", func(x *pb.Specimen) { x.Institution = long(maxWord) }},
		{"sex", func(x *pb.Specimen) { x.Sex = long(maxWord) }},
		{"life_stage", func(x *pb.Specimen) { x.LifeStage = long(maxWord) }},
		{"collected_by", func(x *pb.Specimen) { x.CollectedBy = long(maxWord) }},
		{"type_status", func(x *pb.Specimen) { x.TypeStatus = long(maxWord) }},
		{"notes", func(x *pb.Specimen) { x.Notes = long(maxText) }},
		{"preservation", func(x *pb.Specimen) { x.Preservation = long(maxText) }},
		{"damage", func(x *pb.Specimen) { x.Damage = long(maxText) }},
		{"locality", func(x *pb.Specimen) { x.Locality = long(maxText) }},
		{"permits", func(x *pb.Specimen) { x.Permits = long(maxText) }},
		{"collected_on", func(x *pb.Specimen) { x.CollectedOn = "spring" }},
		{"sensitivity", func(x *pb.Specimen) { x.Sensitivity = 5 }},
		{"sensitivity", func(x *pb.Specimen) { x.Sensitivity = -1 }},
		{"counts.formula", func(x *pb.Specimen) { x.Counts.Formula = "D ((" }},
		{"identification.taxon", func(x *pb.Specimen) { x.Identification = &pb.Identification{Taxon: "taxa/none-such"} }},
		{"identification.identified_by", func(x *pb.Specimen) { x.Identification = &pb.Identification{IdentifiedBy: long(maxWord)} }},
		{"measurements", func(x *pb.Specimen) {
			for range maxList + 1 {
				length(&pb.Measurement{Measurement: "SL", ValueMm: 1})(x)
			}
		}},
		{"measurements[1].measurement", length(&pb.Measurement{ValueMm: 1})},
		{"measurements[1].value_mm", length(&pb.Measurement{Measurement: "TL"})},
		{"measurements[1].value_mm", length(&pb.Measurement{Measurement: "TL", ValueMm: math.NaN()})},
		{"measurements[1].uncertainty_mm", length(&pb.Measurement{Measurement: "TL", ValueMm: 1, UncertaintyMm: -1})},
		{"measurements[1].uncertainty_mm", length(&pb.Measurement{Measurement: "TL", ValueMm: 1, UncertaintyMm: math.Inf(1)})},
	})
}

func TestTaxonRules(t *testing.T) {
	s := newStudio(t)
	right := func() *pb.Taxon {
		x := ownSpecies()
		x.Vernaculars = []*pb.Vernacular{{Vernacular: "dream perch", Language: "en"}}
		x.Diagnoses = []*pb.Diagnosis{{Citation: "Moor 2020", Counts: &pb.Counts{Formula: "D XIV, I,13"}, Proportions: []*pb.Proportion{{Length: "head length", Over: "standard length", Min: 3, Max: 3.4}}}}
		return x
	}
	proportion := func(p *pb.Proportion) func(*pb.Taxon) {
		return func(x *pb.Taxon) { x.Diagnoses[0].Proportions[0] = p }
	}
	refuses(t, s, right, func(x *pb.Taxon) error { _, err := s.CreateTaxon(t.Context(), owner, x, ""); return err }, []wrong[*pb.Taxon]{
		{"scientific_name", func(x *pb.Taxon) { x.ScientificName = "" }},
		{"scientific_name", func(x *pb.Taxon) { x.ScientificName = long(maxWord) }},
		{"authorship", func(x *pb.Taxon) { x.Authorship = long(maxWord) }},
		{"notes", func(x *pb.Taxon) { x.Notes = long(maxText) }},
		{"source", func(x *pb.Taxon) { x.Source = long(maxText) }},
		{"protection", func(x *pb.Taxon) { x.Protection = long(maxText) }},
		{"rank", func(x *pb.Taxon) { x.Rank = "" }},
		{"rank", func(x *pb.Taxon) { x.Rank = "sort of" }},
		{"status", func(x *pb.Taxon) { x.Status = 9 }},
		{"parent", func(x *pb.Taxon) { x.Parent = "taxa/none-such" }},
		{"parent", func(x *pb.Taxon) { x.Parent = "pictures/none-such" }},
		{"accepted", func(x *pb.Taxon) { x.Status = pb.TaxonStatus_TAXON_STATUS_SYNONYM }},
		{"accepted", func(x *pb.Taxon) { x.Status, x.Accepted = pb.TaxonStatus_TAXON_STATUS_SYNONYM, "taxa/none-such" }},
		{"diagnoses", func(x *pb.Taxon) { x.Diagnoses = make([]*pb.Diagnosis, maxList+1) }},
		{"diagnoses[0].citation", func(x *pb.Taxon) { x.Diagnoses[0].Citation = "" }},
		{"diagnoses[0].citation", func(x *pb.Taxon) { x.Diagnoses[0].Citation = long(maxText) }},
		{"diagnoses[0].provenance", func(x *pb.Taxon) { x.Diagnoses[0].Provenance = long(maxText) }},
		{"diagnoses[0].counts.formula", func(x *pb.Taxon) { x.Diagnoses[0].Counts.Formula = "D ((" }},
		{"diagnoses[0].proportions", func(x *pb.Taxon) { x.Diagnoses[0].Proportions = make([]*pb.Proportion, maxList+1) }},
		{"diagnoses[0].proportions[0].length", proportion(&pb.Proportion{Over: "standard length", Min: 1, Max: 1})},
		{"diagnoses[0].proportions[0].over", proportion(&pb.Proportion{Length: "head length", Min: 1, Max: 1})},
		{"diagnoses[0].proportions[0].min", proportion(&pb.Proportion{Length: "head length", Over: "standard length", Max: 1})},
		{"diagnoses[0].proportions[0].min", proportion(&pb.Proportion{Length: "head length", Over: "standard length", Min: math.NaN(), Max: 1})},
		{"diagnoses[0].proportions[0].max", proportion(&pb.Proportion{Length: "head length", Over: "standard length", Min: 2, Max: 1})},
		{"diagnoses[0].proportions[0].max", proportion(&pb.Proportion{Length: "head length", Over: "standard length", Min: 2, Max: math.Inf(1)})},
		{"vernaculars", func(x *pb.Taxon) { x.Vernaculars = make([]*pb.Vernacular, maxStructures+1) }},
		{"vernaculars[0].vernacular", func(x *pb.Taxon) { x.Vernaculars[0].Vernacular = " " }},
		{"vernaculars[0].vernacular", func(x *pb.Taxon) { x.Vernaculars[0].Vernacular = long(maxWord) }},
		{"vernaculars[0].language", func(x *pb.Taxon) { x.Vernaculars[0].Language = "no language" }},
	})
}

func TestPartyAndKeyRules(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	contact := func(c *pb.Contact) func(*pb.Party) { return func(p *pb.Party) { p.Contact = c } }
	refuses(t, s, press, func(p *pb.Party) error { _, err := s.CreateParty(t.Context(), owner, p, ""); return err }, []wrong[*pb.Party]{
		{"display_name", func(p *pb.Party) { p.DisplayName = "  " }},
		{"display_name", func(p *pb.Party) { p.DisplayName = long(maxTitle) }},
		{"role", func(p *pb.Party) { p.Role = long(maxWord) }},
		{"notes", func(p *pb.Party) { p.Notes = long(maxText) }},
		{"contact.person", contact(&pb.Contact{Person: long(maxWord)})},
		{"contact.email", contact(&pb.Contact{Email: long(maxWord)})},
		{"contact.telephone", contact(&pb.Contact{Telephone: long(maxWord)})},
		{"contact.address", contact(&pb.Contact{Address: long(2000)})},
	})
	right := func() *pb.Key {
		return &pb.Key{DisplayName: "press", Role: pb.Role_ROLE_PUBLISHER, Party: "parties/client", ExpireTime: timestamppb.New(s.clock.read().Add(time.Hour))}
	}
	refuses(t, s, right, func(k *pb.Key) error {
		_, err := s.CreateKey(t.Context(), owner, k, "", func(string) error { return nil })
		return err
	}, []wrong[*pb.Key]{
		{"display_name", func(k *pb.Key) { k.DisplayName = long(maxTitle) }},
		{"role", func(k *pb.Key) { k.Role = 0 }},
		{"role", func(k *pb.Key) { k.Role, k.Party = 17, "" }},
		{"party", func(k *pb.Key) { k.Party = "" }},
		{"party", func(k *pb.Key) { k.Party = "parties/none-such" }},
		{"party", func(k *pb.Key) { k.Role = pb.Role_ROLE_OWNER }},
		{"expire_time", func(k *pb.Key) { k.ExpireTime = timestamppb.New(s.clock.read()) }},
	})
}
