package server

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights/statement"
)

// kept is a statement as it was written when its commit was the last.
type kept struct {
	who     string
	subject *pb.GetStatementRequest
	content []byte
}

// studio is a server on which much happens.
type studio struct {
	*running
	t      *testing.T
	r      *rand.Rand
	now    *time.Time
	plates []string
	scans  []string
	houses []string
	n      int // grants and uses so far
	grants []string
}

func (s *studio) patch(p *pb.Picture, paths ...string) {
	s.t.Helper()
	ok[*pb.Picture](s.t)(s.owner.Archive.UpdatePicture(s.t.Context(), &pb.UpdatePictureRequest{Picture: p, UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}}))
}

func (s *studio) change(g *pb.Grant, paths ...string) {
	s.t.Helper()
	ok[*pb.Grant](s.t)(s.owner.Licensing.UpdateGrant(s.t.Context(), &pb.UpdateGrantRequest{Grant: g, UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}}))
}

func (s *studio) one(list []string) string { return list[s.r.IntN(len(list))] }

func (s *studio) day() string { return s.now.Format("2006-01-02") }

// newGrant makes a grant that collides with nothing, executed or not.
func (s *studio) newGrant(amends string) {
	s.n++
	req := agreement(fmt.Sprintf("grant-%02d", s.n), s.one(s.houses), s.plates[s.r.IntN(2)])
	req.Grant.CopiesMax, req.Grant.Fee, req.Grant.SignedOn = 4000, &pb.Money{Amount: "450.00", Currency: "EUR"}, s.day()
	if s.r.IntN(3) == 0 {
		req.Grant.Status, req.Grant.SignedOn = pb.GrantStatus_GRANT_STATUS_OFFERED, ""
	}
	if s.r.IntN(4) == 0 {
		req.Grant.Scope.Works = []string{"*"}
	}
	if amends != "" {
		old := ok[*pb.Grant](s.t)(s.owner.Licensing.GetGrant(s.t.Context(), &pb.GetGrantRequest{Name: amends}))
		req.Grant.Amends, req.Grant.EffectiveOn, req.Grant.Licensee, req.Grant.Scope.Works = amends, s.day(), old.GetLicensee(), old.GetScope().GetWorks()
	}
	s.grants = append(s.grants, s.grant(s.t, req).GetName())
}

// acts are the things that happen to a studio's records.
func (s *studio) acts() []func() {
	return []func(){
		func() { s.newGrant("") },
		func() {
			if len(s.grants) > 0 {
				s.newGrant(s.one(s.grants))
			}
		},
		func() { // an end, or a later one
			if len(s.grants) > 0 {
				_, _ = s.owner.Licensing.EndGrant(s.t.Context(), &pb.EndGrantRequest{Name: s.one(s.grants), EndedOn: s.day(), Reason: "reversion"})
			}
		},
		func() { // what happens to a grant once it is made
			if len(s.grants) > 0 {
				s.change(&pb.Grant{Name: s.one(s.grants), PaidOn: s.day(), Disclosure: pb.Disclosure(1 + s.r.IntN(2)), Notes: fmt.Sprint(s.r.Int())}, "paid_on", "disclosure", "notes")
			}
		},
		func() {
			for _, name := range s.grants { // a draft that moves to another picture
				if g := ok[*pb.Grant](s.t)(s.owner.Licensing.GetGrant(s.t.Context(), &pb.GetGrantRequest{Name: name})); g.GetStatus() == pb.GrantStatus_GRANT_STATUS_OFFERED {
					g.Scope.Works = []string{s.one(s.plates[:2])}
					s.change(&pb.Grant{Name: name, Scope: g.GetScope()}, "scope")
					return
				}
			}
		},
		func() { // a use, under a grant or none
			s.n++
			grant := ""
			if len(s.grants) > 0 && s.r.IntN(3) > 0 {
				grant = s.one(s.grants)
			}
			s.use(s.t, printing(fmt.Sprintf("use-%02d", s.n), s.one(s.houses), grant, 1500, s.one(s.plates[:2])))
		},
		func() {
			p := &pb.Party{Name: s.one(s.houses), DisplayName: fmt.Sprintf("House no. %d", s.r.IntN(1000))}
			ok[*pb.Party](s.t)(s.owner.Licensing.UpdateParty(s.t.Context(), &pb.UpdatePartyRequest{Party: p, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"display_name"}}}))
		},
		func() {
			s.patch(&pb.Picture{Name: s.one(s.plates[:2]), Title: fmt.Sprintf("Perch no. %d", s.r.IntN(1000)), CreditParts: []string{"Ida Moor", s.day()}, RightsHolder: s.one(s.houses)}, "title", "credit_parts", "rights_holder")
		},
		func() {
			s.patch(&pb.Picture{Name: s.one(s.plates[:2]), Original: &pb.Original{Sha256: s.one(s.scans)}}, "original")
		},
		func() { // the taxon gets another name, or becomes a synonym of one that does
			t := &pb.Taxon{Name: "taxa/lake-perch", ScientificName: fmt.Sprintf("Perca lacustris%c", 'a'+rune(s.r.IntN(26))), Rank: "species"}
			if s.r.IntN(2) == 0 {
				t.Status, t.Accepted = pb.TaxonStatus_TAXON_STATUS_SYNONYM, "taxa/moor-perch"
			}
			ok[*pb.Taxon](s.t)(s.owner.Taxa.UpdateTaxon(s.t.Context(), &pb.UpdateTaxonRequest{Taxon: t, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"scientific_name", "status", "accepted"}}}))
		},
		func() {
			t := &pb.Taxon{Name: "taxa/moor-perch", ScientificName: fmt.Sprintf("Perca palustris%c", 'a'+rune(s.r.IntN(26)))}
			ok[*pb.Taxon](s.t)(s.owner.Taxa.UpdateTaxon(s.t.Context(), &pb.UpdateTaxonRequest{Taxon: t, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"scientific_name"}}}))
		},
		func() { // a picture that nothing names goes, and another comes under its id
			name := s.plates[2]
			if _, err := s.owner.Archive.DeletePicture(s.t.Context(), &pb.DeletePictureRequest{Name: name}); err == nil && s.r.IntN(2) == 0 {
				return
			}
			_, _ = s.owner.Archive.CreatePicture(s.t.Context(), &pb.CreatePictureRequest{PictureId: "carp-plate", Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: fmt.Sprintf("Carp no. %d", s.r.IntN(1000))}})
		},
	}
}

// TestStatementsOfEarlierCommits keeps statements along a way of random commits, and asks for them again at its end, of the same server and of one that has only the bucket.
func TestStatementsOfEarlierCommits(t *testing.T) {
	conf := newConfig(t)
	now := june()
	conf.Clock = func() time.Time { return now }
	s := &studio{running: start(t, conf), t: t, r: rand.New(rand.NewPCG(7, 11)), now: &now}
	s.houses = []string{s.party(t, "reed-press"), s.party(t, "lake-museum")}
	for _, id := range []string{"moor-perch", "lake-perch"} {
		ok[*pb.Taxon](t)(s.owner.Taxa.CreateTaxon(t.Context(), &pb.CreateTaxonRequest{TaxonId: id, Taxon: &pb.Taxon{ScientificName: "Perca " + id[:4], Rank: "species"}}))
	}
	s.scans = []string{upload(t, s.owner, lineArt(t), "one.png"), upload(t, s.owner, photo(t), "two.jpg")}
	for i, id := range []string{"perch-plate", "pike-plate", "carp-plate"} {
		s.plates = append(s.plates, s.picture(t, id, func(p *pb.Picture) {
			p.Original = &pb.Original{Sha256: s.scans[i%2]}
			p.Identification = &pb.Identification{Taxon: "taxa/lake-perch", ScientificName: "Perca sp."}
		}))
	}
	waitPreviews(t, s.owner)
	askers := map[string]*client.Client{"staff": s.owner, "reed": s.as(t, pb.Role_ROLE_PUBLISHER, s.houses[0]), "lake": s.as(t, pb.Role_ROLE_PUBLISHER, s.houses[1])}
	keys := map[string]string{"staff": s.secret}
	for i, who := range []string{"reed", "lake"} {
		keys[who] = ok[*pb.CreateKeyResponse](t)(s.owner.Admin.CreateKey(t.Context(), &pb.CreateKeyRequest{Key: &pb.Key{DisplayName: "later", Role: pb.Role_ROLE_PUBLISHER, Party: s.houses[i]}})).GetSecret()
	}
	var all []kept
	acts := s.acts()
	for step := range 72 {
		if step%len(acts) == 0 { // each once a round
			s.r.Shuffle(len(acts), func(i, j int) { acts[i], acts[j] = acts[j], acts[i] })
		}
		acts[step%len(acts)]()
		now = now.AddDate(0, 0, s.r.IntN(25)).Add(time.Minute)
		var subjects []*pb.GetStatementRequest
		for _, plate := range s.plates {
			subjects = append(subjects, &pb.GetStatementRequest{Picture: plate})
		}
		for _, g := range s.grants {
			subjects = append(subjects, &pb.GetStatementRequest{Grant: g})
		}
		subjects = append(subjects, &pb.GetStatementRequest{Party: s.houses[step%2]})
		for who, c := range askers {
			for _, req := range subjects {
				if who != "staff" && s.r.IntN(6) > 0 { // outsiders may not ask that often
					continue
				}
				if st, err := c.Licensing.GetStatement(t.Context(), req); err == nil {
					all = append(all, kept{who, &pb.GetStatementRequest{Picture: req.GetPicture(), Grant: req.GetGrant(), Party: req.GetParty(), Sequence: st.GetSequence()}, st.GetContent()})
				} else {
					denied(t, err)
				}
			}
		}
	}
	houses, own := 0, 0 // statements of parties, and those that a house asked for itself
	for _, k := range all {
		if k.subject.GetParty() != "" {
			houses++
			if k.who != "staff" {
				own++
			}
		}
	}
	if len(all) < 700 || len(s.grants) < 8 || houses < 72 || own < 4 {
		t.Fatalf("%d statements, %d of parties, %d of them for themselves, %d grants: too little happened", len(all), houses, own, len(s.grants))
	}
	for who, key := range keys { // another key of the same party
		askers[who] = dial(t, s.address, key)
	}
	again(t, askers, all, s.plates[2])
	s.stop()
	conf.Cache = t.TempDir()
	other := start(t, conf)
	for who, key := range keys {
		askers[who] = dial(t, other.address, key)
	}
	again(t, askers, all, s.plates[2])
}

// denied fails unless an error is that of a publisher who is no party, or of a picture that isn't there.
func denied(t *testing.T, err error) {
	t.Helper()
	wantReason(t, err, "NOT_FOUND")
}

// again asks for every statement once more. Of a picture that is gone today, publishers learn nothing any more.
func again(t *testing.T, askers map[string]*client.Client, all []kept, fleeting string) {
	t.Helper()
	_, err := askers["staff"].Archive.GetPicture(t.Context(), &pb.GetPictureRequest{Name: fleeting})
	gone := err != nil
	for _, k := range all {
		st, err := askers[k.who].Licensing.GetStatement(t.Context(), k.subject)
		if gone && k.who != "staff" && k.subject.GetPicture() == fleeting {
			denied(t, err)
			continue
		}
		if err != nil {
			t.Errorf("%s, %v: %v", k.who, k.subject, err)
			continue
		}
		if !bytes.Equal(st.GetContent(), k.content) {
			t.Errorf("%s, %v reads\n%s\nnot\n%s", k.who, k.subject, st.GetContent(), k.content)
		}
		if mark, _, err := statement.Check(st.GetContent()); err != nil || mark.Subject() == "" || mark.Sequence != k.subject.GetSequence() {
			t.Errorf("%s, %v: %+v, %v", k.who, k.subject, mark, err)
		}
	}
}

// TestWhatHasBeenMadeConfidentialIsNotToldOfThePast: a stranger's earlier statement would tell of a grant that it may not know of any more.
func TestWhatHasBeenMadeConfidentialIsNotToldOfThePast(t *testing.T) {
	r := desk(t)
	plate, study := r.picture(t, "perch-plate", nil), r.picture(t, "perch-study", nil)
	reed, lake := r.party(t, "reed-press"), r.party(t, "lake-museum")
	licensee, stranger := r.as(t, pb.Role_ROLE_PUBLISHER, reed), r.as(t, pb.Role_ROLE_PUBLISHER, lake)
	r.grant(t, agreement("book", reed, plate))
	seq := stated(t, stranger, plate).GetSequence()
	own := stated(t, licensee, plate)
	change := func(g *pb.Grant, path string) {
		ok[*pb.Grant](t)(r.owner.Licensing.UpdateGrant(t.Context(), &pb.UpdateGrantRequest{Grant: g, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{path}}}))
	}
	change(&pb.Grant{Name: "grants/book", Disclosure: pb.Disclosure_DISCLOSURE_CONFIDENTIAL}, "disclosure")
	_, err := stranger.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: plate, Sequence: seq})
	wantReason(t, err, "WITHHELD")
	if now := stated(t, stranger, plate); bytes.Contains(now.GetContent(), []byte("print.book")) {
		t.Errorf("the last statement tells it: %s", now.GetContent())
	}
	again := ok[*pb.Statement](t)(licensee.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: plate, Sequence: seq}))
	if !bytes.Equal(again.GetContent(), own.GetContent()) {
		t.Errorf("the licensee reads\n%s\nnot\n%s", again.GetContent(), own.GetContent())
	}
	before := stated(t, stranger, study).GetSequence()
	ok[*pb.Picture](t)(r.owner.Archive.UpdatePicture(t.Context(), &pb.UpdatePictureRequest{Picture: &pb.Picture{Name: study, Kind: pb.Kind_KIND_STUDY}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"kind"}}}))
	_, err = stranger.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: study, Sequence: before})
	wantReason(t, err, "NOT_FOUND")
	_, err = stranger.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Grant: "grants/book"})
	wantReason(t, err, "NOT_FOUND")
	_, err = licensee.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Grant: "grants/book", Picture: plate})
	wantReason(t, err, "INVALID_FIELD")
}
