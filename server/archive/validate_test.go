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

func TestGrantRules(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	right := func() *pb.Grant {
		g := licence("parties/client", "pictures/subject", "-pictures/subject#tail")
		g.Fee = &pb.Money{Amount: "450.00", Currency: "EUR"}
		return g
	}
	scope := func(spoil func(*pb.Scope)) func(*pb.Grant) { return func(g *pb.Grant) { spoil(g.Scope) } }
	fee := func(amount, currency string) func(*pb.Grant) {
		return func(g *pb.Grant) { g.Fee = &pb.Money{Amount: amount, Currency: currency} }
	}
	cases := []wrong[*pb.Grant]{
		{"licensee", func(g *pb.Grant) { g.Licensee = "" }},
		{"licensee", func(g *pb.Grant) { g.Licensee = "parties/none-such" }},
		{"licensee", func(g *pb.Grant) { g.Licensee = "pictures/subject" }},
		{"affiliates[0]", func(g *pb.Grant) { g.Affiliates = []string{"parties/none-such"} }},
		{"amends", func(g *pb.Grant) { g.Amends = "grants/none-such" }},
		{"supersedes", func(g *pb.Grant) { g.Supersedes = "grants/none-such" }},
		{"subject_to[0]", func(g *pb.Grant) { g.SubjectTo = []string{"grants/none-such"} }},
		{"head", func(g *pb.Grant) { g.Kind = pb.GrantKind_GRANT_KIND_SUBLICENCE }},
		{"kind", func(g *pb.Grant) { g.Kind = 44 }},
		{"exclusivity", func(g *pb.Grant) { g.Exclusivity = 44 }},
		{"status", func(g *pb.Grant) { g.Status = 44 }},
		{"disclosure", func(g *pb.Grant) { g.Disclosure = 44 }},
		{"scope.works", func(g *pb.Grant) { g.Scope = nil }},
		{"scope.works", scope(func(sc *pb.Scope) { sc.Works = nil })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works[0] = "pictures/none-such" })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works[0] = "pictures/subject#" })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works[0] = "specimens/subject" })},
		{"scope.media", scope(func(sc *pb.Scope) { sc.Media = nil })},
		{"scope.media[0]", scope(func(sc *pb.Scope) { sc.Media = []string{"print.bok"} })},
		{"scope.territories", scope(func(sc *pb.Scope) { sc.Territories = nil })},
		{"scope.territories[1]", scope(func(sc *pb.Scope) { sc.Territories = []string{"DE", "QQ"} })},
		{"scope.languages", scope(func(sc *pb.Scope) { sc.Languages = nil })},
		{"scope.languages[0]", scope(func(sc *pb.Scope) { sc.Languages = []string{"not a tag"} })},
		{"scope.purposes[0]", scope(func(sc *pb.Scope) { sc.Purposes = []string{"charity"} })},
		{"scope.from", scope(func(sc *pb.Scope) { sc.From = "soon" })},
		{"scope.to", scope(func(sc *pb.Scope) { sc.To = "2026-02-30" })},
		{"scope.to", scope(func(sc *pb.Scope) { sc.To = "2025-01-01" })},
		{"reserved_media", func(g *pb.Grant) { g.ReservedMedia = []string{"digital.web"} }},
		{"reserved_media[0]", func(g *pb.Grant) {
			g.Exclusivity, g.ReservedMedia = pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, []string{"print.bok"}
		}},
		{"signed_on", func(g *pb.Grant) { g.SignedOn = "" }},
		{"signed_on", func(g *pb.Grant) { g.SignedOn = "10.1.2026" }},
		{"exclusive_to", func(g *pb.Grant) { g.ExclusiveTo = "later" }},
		{"ended_on", func(g *pb.Grant) { g.EndedOn = "later" }},
		{"paid_on", func(g *pb.Grant) { g.PaidOn = "yes" }},
		{"embargo_until", func(g *pb.Grant) { g.EmbargoUntil = "x" }},
		{"first_published_on", func(g *pb.Grant) { g.FirstPublishedOn = "x" }},
		{"first_publication_deadline", func(g *pb.Grant) { g.FirstPublicationDeadline = "x" }},
		{"effective_on", func(g *pb.Grant) { g.EffectiveOn = "x" }},
		{"selloff_to", func(g *pb.Grant) { g.SelloffTo = "x" }},
		{"option_until", func(g *pb.Grant) { g.OptionUntil = "x" }},
		{"evidence_due_on", func(g *pb.Grant) { g.EvidenceDueOn = "x" }},
		{"evidence_received_on", func(g *pb.Grant) { g.EvidenceReceivedOn = "x" }},
		{"holdback_mode", func(g *pb.Grant) { g.HoldbackMode = "some" }},
		{"term_event.happened_on", func(g *pb.Grant) { g.TermEvent = &pb.TermEvent{HappenedOn: "x"} }},
		{"term_event.months", func(g *pb.Grant) { g.TermEvent = &pb.TermEvent{Anchor: "publication", Months: -1} }},
		{"term_event.months", func(g *pb.Grant) { g.TermEvent = &pb.TermEvent{Anchor: "publication", Months: math.MaxInt32} }},
		{"fee", fee("NaN", "EUR")},
		{"fee", fee("1e3", "EUR")},
		{"fee", fee("450.00", "GOLD")},
		{"fee", fee("450.001", "EUR")},
		{"copies_max", func(g *pb.Grant) { g.CopiesMax = -1 }},
		{"uses_max", func(g *pb.Grant) { g.UsesMax = -1 }},
		{"document_sha256", func(g *pb.Grant) { g.DocumentSha256 = noDigest }},
		{"public_licence", func(g *pb.Grant) { g.Kind, g.Licensee = pb.GrantKind_GRANT_KIND_PUBLIC, "" }},
		{"public_licence", func(g *pb.Grant) {
			g.Kind, g.Licensee, g.PublicLicence = pb.GrantKind_GRANT_KIND_PUBLIC, "", "https://example.org/licence"
		}},
		{"credit_line", func(g *pb.Grant) { g.CreditLine = long(maxTitle) }},
		{"product", func(g *pb.Grant) { g.Product = long(maxTitle) }},
		{"ended_reason", func(g *pb.Grant) { g.EndedReason = long(maxTitle) }},
		{"notes", func(g *pb.Grant) { g.Notes = long(maxText) }},
	}
	refuses(t, s, right, func(g *pb.Grant) error { _, err := s.CreateGrant(t.Context(), owner, g, ""); return err }, cases)
	for _, c := range cases { // a trial says the same
		g := right()
		c.spoil(g)
		_, err := s.TryGrant(t.Context(), g, "")
		wantViolation(t, err, c.field)
	}
	g := right()
	g.DocumentSha256 = strings.Repeat("0", 64)
	_, err := s.CreateGrant(t.Context(), owner, g, "")
	wantIs(t, err, ErrNoOriginal)
}

func TestUseRules(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	right := func() *pb.Use {
		u := printed("parties/client", "", "pictures/subject")
		u.Identifier = "978-3-16-148410-0" // the example of the ISBN manual
		return u
	}
	scope := func(spoil func(*pb.Scope)) func(*pb.Use) { return func(u *pb.Use) { spoil(u.Scope) } }
	refuses(t, s, right, func(u *pb.Use) error { _, err := s.CreateUse(t.Context(), owner, u, ""); return err }, []wrong[*pb.Use]{
		{"user", func(u *pb.Use) { u.User = "" }},
		{"user", func(u *pb.Use) { u.User = "parties/none-such" }},
		{"grant", func(u *pb.Use) { u.Grant = "grants/none-such" }},
		{"title", func(u *pb.Use) { u.Title = "" }},
		{"title", func(u *pb.Use) { u.Title = long(maxTitle) }},
		{"edition", func(u *pb.Use) { u.Edition = long(maxTitle) }},
		{"credit_as_printed", func(u *pb.Use) { u.CreditAsPrinted = long(maxTitle) }},
		{"locator", func(u *pb.Use) { u.Locator = long(maxTitle) }},
		{"notes", func(u *pb.Use) { u.Notes = long(maxText) }},
		{"copies", func(u *pb.Use) { u.Copies = -1 }},
		{"identifier", func(u *pb.Use) { u.Identifier = "978-3-16-148410-1" }},
		{"identifier", func(u *pb.Use) { u.Identifier = "page 12" }},
		{"evidence_sha256", func(u *pb.Use) { u.EvidenceSha256 = noDigest }},
		{"scope.from", scope(func(sc *pb.Scope) { sc.From = "" })},
		{"scope.from", scope(func(sc *pb.Scope) { sc.From = "soon" })},
		{"scope.to", scope(func(sc *pb.Scope) { sc.To = "2026-01-01" })},
		{"scope.works", scope(func(sc *pb.Scope) { sc.Works = nil })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works = []string{"pictures/none-such"} })},
		{"scope.works[0]", scope(func(sc *pb.Scope) { sc.Works = []string{"*"} })},
		{"scope.media[0]", scope(func(sc *pb.Scope) { sc.Media = []string{"print.bok"} })},
		{"scope.territories[0]", scope(func(sc *pb.Scope) { sc.Territories = []string{"QQ"} })},
		{"scope.languages[0]", scope(func(sc *pb.Scope) { sc.Languages = []string{"not a tag"} })},
		{"scope.purposes[0]", scope(func(sc *pb.Scope) { sc.Purposes = []string{"charity"} })},
	})
	// Whatever is stored can be judged, with and without its sides.
	for _, spoil := range []func(*pb.Scope){func(*pb.Scope) {}, func(sc *pb.Scope) { sc.Media, sc.Territories, sc.Languages = nil, nil, nil }, func(sc *pb.Scope) { sc.From = "2026" }} {
		u := right()
		spoil(u.Scope)
		made := must[*pb.Use](t)(s.CreateUse(t.Context(), owner, u, ""))
		if _, err := s.Verdict(made); err != nil {
			t.Errorf("stored, but not to be judged: %v", err)
		}
	}
}

// Check digits: published examples of the ISBN users' manual and of ISO 3297 (ISSN), and slips of them.
func TestIdentifiers(t *testing.T) {
	for id, ok := range map[string]bool{
		"978-3-16-148410-0": true, "9783161484100": true, "0-306-40615-2": true, "0317-8471": true, "2434-561X": true, "2434-561x": true,
		"978-3-16-148401-0": false, "0-306-40615-3": false, "0317-8472": false, "2434-5610": false, "X434-5610": false, "97831614841": false,
		"doi:10.1000/182": true, "": true, "12345678901234": false,
	} {
		var c checks
		c.identifier("identifier", id)
		if (c.err() == nil) != ok {
			t.Errorf("%q: %v; want right %v", id, c.err(), ok)
		}
	}
}
