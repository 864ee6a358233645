package api

import (
	"context"
	"testing"

	"google.golang.org/grpc/metadata"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
)

func appendKey(ctx context.Context, value string) context.Context {
	return metadata.AppendToOutgoingContext(ctx, "authorization", value)
}

// stock is what an archive under test holds: things that publishers may see, and things of each kind that they may not.
type stock struct {
	plate       string // a plate licensed to parties/licensee, with parties/affiliate
	secretPlate string // a plate under a confidential grant to parties/other
	study       string // a study, which publishers don't see
}

func scope(works ...string) *pb.Scope {
	return &pb.Scope{Works: works, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2026-06-01", To: "2027-05-31"}
}

var system = archive.Caller{Actor: "system"}

// newStock fills an archive. Every record is right, and every text that may be written freely is a mark of its own, "mark-" and where it stands.
func newStock(t *testing.T, d *desk) stock {
	t.Helper()
	ctx := t.Context()
	for _, id := range []string{"licensee", "affiliate", "stranger", "hidden-one"} {
		p := &pb.Party{DisplayName: "mark-party-name-" + id, Role: "mark-party-role", Notes: "mark-party-notes",
			Contact:      &pb.Contact{Person: "mark-contact-person", Email: "mark-contact@example.org", Telephone: "mark-contact-telephone", Address: "mark-contact-address"},
			LenderPolicy: &pb.LenderPolicy{Terms: "mark-policy-terms", Version: "mark-policy-version", NotedOn: "2025-01-05"},
		}
		must[*pb.Party](t)(d.archive.CreateParty(ctx, system, p, id))
	}
	for _, id := range []string{"licensee", "affiliate", "stranger"} {
		d.key(t, id+"-key", &pb.Key{DisplayName: "mark-key-name", Role: pb.Role_ROLE_PUBLISHER, Party: "parties/" + id})
	}
	must[*pb.Specimen](t)(d.archive.CreateSpecimen(ctx, system, markedSpecimen(), "hidden-one"))
	s := stock{plate: "pictures/plate-one", secretPlate: "pictures/plate-two", study: "pictures/hidden-one"}
	study := markedPicture(d.file(t, "bytes of the study"))
	study.Kind = pb.Kind_KIND_STUDY
	study.DerivedFrom[0] = &pb.Derivation{Source: "mark-study-source"}
	must[*pb.Picture](t)(d.archive.CreatePicture(ctx, system, study, "hidden-one"))
	for _, id := range []string{"plate-one", "plate-two"} {
		must[*pb.Picture](t)(d.archive.CreatePicture(ctx, system, markedPicture(d.file(t, "bytes of "+id)), id))
	}
	must[*pb.Taxon](t)(d.archive.CreateTaxon(ctx, system, markedTaxon(), "own-perch"))
	must[*pb.Grant](t)(d.archive.CreateGrant(ctx, system, markedGrant("licensee", s.plate), "own-grant"))
	other := markedGrant("hidden-one", s.plate)
	other.Scope.Territories = []string{"JP"}
	must[*pb.Grant](t)(d.archive.CreateGrant(ctx, system, other, "hidden-one"))
	secret := markedGrant("hidden-one", s.secretPlate)
	secret.Exclusivity, secret.Disclosure = pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, pb.Disclosure_DISCLOSURE_CONFIDENTIAL
	must[*pb.Grant](t)(d.archive.CreateGrant(ctx, system, secret, "secret-one"))
	must[*pb.Use](t)(d.archive.CreateUse(ctx, system, markedUse("licensee", "grants/own-grant", s.plate), "own-use"))
	must[*pb.Use](t)(d.archive.CreateUse(ctx, system, markedUse("hidden-one", "grants/hidden-one", s.plate), "hidden-one"))
	return s
}

func markedPicture(sum string) *pb.Picture {
	return &pb.Picture{
		Kind: pb.Kind_KIND_PLATE, Title: "mark-picture-title", Notes: "mark-picture-notes", Specimen: "specimens/hidden-one", View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_FINAL_ART,
		Identification: &pb.Identification{ScientificName: "Perca fluviatilis", Qualifier: "mark-qualifier", IdentifiedBy: "mark-identifier", IdentifiedOn: "2024-01"},
		Technique:      "mark-technique", Structures: []*pb.Structure{{Structure: "mark-structure", Note: "mark-structure-note", Completeness: pb.Completeness_COMPLETENESS_COMPLETE}},
		Counts:    &pb.Counts{Formula: "D XIV, I,13"},
		Landmarks: []*pb.Landmark{{Landmark: "mark-landmark", X: .1, Y: .1}}, Calibration: &pb.Calibration{X2: 1, LengthMm: 200, Basis: "mark-basis"},
		DerivedFrom: []*pb.Derivation{{Picture: "pictures/hidden-one", Role: pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE}, {
			Source: "mark-source", Role: pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE, Holder: "parties/hidden-one", Permission: &pb.SourcePermission{Free: true, Reference: "mark-permission"},
		}},
		CoOwners:    []*pb.CoOwner{{Party: "parties/hidden-one", Role: "mark-owner-role", ConsentedOn: "2025-01-01"}},
		Approvals:   []*pb.LenderApproval{{Lender: "parties/hidden-one", ApprovedOn: "2025-01-02", Reference: "mark-approval"}},
		RivalClaims: []*pb.RivalClaim{{Claimant: "mark-claimant", Note: "mark-claim", RaisedOn: "2025-01-03", ClosedOn: "2025-01-04", Outcome: "mark-outcome"}},
		Creators:    []string{"mark-creator"}, Created: "2024-06", CreditParts: []string{"mark-credit"}, RightsHolder: "mark-holder",
		RightsStatement: "http://rightsstatements.org/vocab/InC/1.0/", Job: "mark-job", Keywords: []string{"mark-keyword"},
		Original: &pb.Original{Sha256: sum}, Provenance: &pb.Provenance{FileName: "mark-file.png", ImportId: "mark-import", Row: 7},
	}
}

func markedSpecimen() *pb.Specimen {
	return &pb.Specimen{
		Identification: &pb.Identification{ScientificName: "Perca fluviatilis", Qualifier: "mark-s-qualifier", IdentifiedBy: "mark-s-identifier", IdentifiedOn: "1950"},
		Institution:    "mark-institution", CatalogNumber: "mark-catalog", Measurements: []*pb.Measurement{{Measurement: "mark-measurement", ValueMm: 12}},
		Counts: &pb.Counts{Formula: "D XV, I,13"}, Sex: "mark-sex", LifeStage: "mark-life", Preservation: "mark-preservation", Damage: "mark-damage",
		Locality: "mark-locality", CollectedOn: "1949", CollectedBy: "mark-collector", Permits: "mark-permits", TypeStatus: "mark-type", Notes: "mark-specimen-notes", Lender: "parties/hidden-one",
	}
}

func markedTaxon() *pb.Taxon {
	return &pb.Taxon{
		ScientificName: "Perca markeria", Authorship: "mark-author", Rank: "species", Status: pb.TaxonStatus_TAXON_STATUS_ACCEPTED, Source: "mark-taxon-source",
		Protection: "mark-protection", Notes: "mark-taxon-notes", Vernaculars: []*pb.Vernacular{{Vernacular: "mark-vernacular", Language: "en"}},
		Diagnoses: []*pb.Diagnosis{{Counts: &pb.Counts{Formula: "D XIV"}, Citation: "mark-citation", Provenance: "mark-provenance", Proportions: []*pb.Proportion{{Length: "mark-length", Over: "mark-over", Min: 1, Max: 2}}}},
	}
}

// fee is an amount that stands nowhere else.
const fee = "73519.37"

func markedGrant(to string, works ...string) *pb.Grant {
	return &pb.Grant{
		Licensee: "parties/" + to, Affiliates: []string{"parties/affiliate"}, Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, SignedOn: "2026-01-10",
		Scope:      &pb.Scope{Works: works, Media: []string{"print.book"}, Territories: []string{"DE", "AT"}, Languages: []string{"*"}, From: "2026-01-15", To: "2028-01-14"},
		CreditLine: "mark-credit-line-" + to, Fee: &pb.Money{Amount: fee, Currency: "EUR"}, PaymentIsCondition: true, PaidOn: "2026-01-20", Product: "mark-product-" + to,
		EndedReason: "mark-ended", Notes: "mark-grant-notes", TermEvent: &pb.TermEvent{Anchor: "mark-anchor-" + to, Months: 90},
		EvidenceDueOn: "2026-12-01",
	}
}

func markedUse(by, grant string, works ...string) *pb.Use {
	return &pb.Use{
		User: "parties/" + by, Grant: grant, Scope: &pb.Scope{Works: works, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"}, From: "2026-03-01"},
		Title: "mark-use-title-" + by, Identifier: "mark:use-identifier-" + by, Edition: "mark-edition-" + by, Copies: 1234, CreditAsPrinted: "mark-printed-" + by, Locator: "mark-locator-" + by,
		Notes: "mark-use-notes",
	}
}
