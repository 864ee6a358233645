package api

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

func TestBatchLimits(t *testing.T) {
	d := newDesk(t)
	ctx := d.as(t, "desk-key")
	many := make([]*pb.CreatePictureRequest, mostInBatch+1)
	for i := range many {
		many[i] = &pb.CreatePictureRequest{Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "x"}}
	}
	_, err := d.records().BatchCreatePictures(ctx, &pb.BatchCreatePicturesRequest{Requests: many, ValidateOnly: true})
	wantField(t, err, "requests")
	res := must[*pb.BatchCreatePicturesResponse](t)(d.records().BatchCreatePictures(ctx, &pb.BatchCreatePicturesRequest{Requests: many[:mostInBatch], ValidateOnly: true}))
	if len(res.GetOutcomes()) != mostInBatch {
		t.Errorf("%d outcomes", len(res.GetOutcomes()))
	}
	_, err = d.records().BatchCreatePictures(ctx, &pb.BatchCreatePicturesRequest{Requests: []*pb.CreatePictureRequest{many[0], {}}})
	wantField(t, err, "requests[1].picture")
	_, err = d.taxa().BatchCreateTaxa(ctx, &pb.BatchCreateTaxaRequest{Requests: make([]*pb.CreateTaxonRequest, mostInBatch+1)})
	wantField(t, err, "requests")
	_, err = d.taxa().MatchNames(ctx, &pb.MatchNamesRequest{Names: make([]string, mostNames+1)})
	wantField(t, err, "names")
	_, err = d.taxa().MatchNames(ctx, &pb.MatchNamesRequest{Names: []string{"Perca"}, Limit: 51})
	wantField(t, err, "limit")
	_, err = d.taxa().ParseCounts(ctx, &pb.ParseCountsRequest{Formulae: make([]string, mostNames+1)})
	wantField(t, err, "formulae")
	_, err = d.records().CreatePicture(ctx, &pb.CreatePictureRequest{Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: strings.Repeat("x", MaxMessage)}})
	if status.Code(err) != codes.ResourceExhausted {
		t.Errorf("a message that is too large gave %v", err)
	}
}

// One batch tells of each item what became of it, in order.
func TestBatchOutcomes(t *testing.T) {
	d := newDesk(t)
	item := func(title string, id string) *pb.CreatePictureRequest {
		return &pb.CreatePictureRequest{Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: title}, PictureId: id}
	}
	res := must[*pb.BatchCreatePicturesResponse](t)(d.records().BatchCreatePictures(d.as(t, "desk-key"), &pb.BatchCreatePicturesRequest{Requests: []*pb.CreatePictureRequest{item("one", "item-one"), item("", ""), item("two", "item-one")}}))
	got := res.GetOutcomes()
	if got[0].GetPicture().GetName() != "pictures/item-one" || got[1].GetError().GetReason() != "INVALID_FIELD" || got[1].GetError().GetViolations()[0].GetField() != "title" || got[2].GetError().GetReason() != "ALREADY_EXISTS" {
		t.Errorf("outcomes %v", got)
	}
	if res.GetSequence() != d.archive.Journal().Position().Seq {
		t.Errorf("sequence %d", res.GetSequence())
	}
}

// A search for a commit that isn't there yet ends with the caller's patience, and finds what came in time.
func TestSearchWaits(t *testing.T) {
	d := newDesk(t)
	ctx := d.as(t, "desk-key")
	next := d.archive.Journal().Position().Seq + 1
	found := make(chan error, 1)
	go func() {
		res, err := d.search().SearchPictures(ctx, &pb.SearchPicturesRequest{MinSequence: next})
		if err == nil && res.GetTotal() != 1 {
			err = fmt.Errorf("found %d pictures", res.GetTotal())
		}
		found <- err
	}()
	time.Sleep(20 * time.Millisecond)
	must[*pb.Picture](t)(d.records().CreatePicture(ctx, &pb.CreatePictureRequest{Picture: &pb.Picture{Kind: pb.Kind_KIND_PLATE, Title: "awaited"}}))
	if err := <-found; err != nil {
		t.Error(err)
	}
}

// secretsOf are the forms in which a key's secret could show: as presented, and its random part.
func secretsOf(secret string) []string {
	_, random, _ := strings.Cut(secret, ".")
	return []string{secret, random, random[4:36]}
}

// A key's secret is in no log, no error, no object of the bucket and no file of the cache.
func TestSecretsAreNowhere(t *testing.T) {
	d := newDesk(t)
	s := newStock(t, d)
	made := must[*pb.CreateKeyResponse](t)(d.admin().CreateKey(d.as(t, "owner-key"), &pb.CreateKeyRequest{Key: &pb.Key{Role: pb.Role_ROLE_ASSISTANT, DisplayName: "planted"}, KeyId: "planted-key"}))
	secret := made.GetSecret()
	d.keys["planted-key"] = secret
	garbled := secret[:len(secret)-8] + "AAAAAAAA"
	var errs []string
	note := func(err error) {
		if err != nil {
			errs = append(errs, status.Convert(err).Proto().String())
		}
	}
	for _, m := range contract() {
		for _, base := range append(questions(s)[short(m.full)], message(m.desc.Input())) {
			_, err := d.call(d.as(t, "planted-key"), m, base, 3)
			note(err)
			_, err = d.call(presenting(t, "Bearer "+garbled), m, base, 3)
			note(err)
		}
	}
	must[*pb.Key](t)(d.admin().RevokeKey(d.as(t, "owner-key"), &pb.RevokeKeyRequest{Name: "keys/planted-key"}))
	_, err := d.admin().GetStatus(d.as(t, "planted-key"), &pb.GetStatusRequest{})
	note(err)
	must[*pb.ListKeysResponse](t)(d.admin().ListKeys(d.as(t, "owner-key"), &pb.ListKeysRequest{}))
	if _, err := d.archive.Journal().Checkpoint(t.Context()); err != nil {
		t.Fatal(err)
	}
	look := func(where, text string) {
		for _, form := range append(secretsOf(secret), secretsOf(d.keys["owner-key"])...) {
			if strings.Contains(text, form) {
				t.Errorf("%s holds %q", where, form)
			}
		}
		if strings.Contains(text, garbled[12:40]) {
			t.Errorf("%s holds the garbled secret", where)
		}
	}
	look("an error", strings.Join(errs, "\n"))
	look("the log", d.log.text())
	if len(errs) < 50 || !strings.Contains(d.log.text(), "planted-key") {
		t.Errorf("%d errors, log of %d bytes: this proves little", len(errs), len(d.log.text()))
	}
	files := 0
	for _, folder := range []string{d.folder, d.cache} {
		err := filepath.WalkDir(folder, func(path string, e fs.DirEntry, err error) error {
			if err != nil || e.IsDir() {
				return err
			}
			b, err := os.ReadFile(path)
			files++
			look(path, string(b))
			return err
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if files < 20 {
		t.Errorf("looked into %d files", files)
	}
	// Nor do answers tell the hash.
	for _, req := range []string{"keys/planted-key", "keys/owner-key"} {
		res := must[*pb.ListRevisionsResponse](t)(d.records().ListRevisions(d.as(t, "owner-key"), revisionsOf(req)))
		for _, r := range res.GetRevisions() {
			if r.GetChange().GetKey().GetSecretSha256() != "" {
				t.Errorf("the past of %s shows the hash", req)
			}
		}
	}
}

// Of others' grants an availability tells nothing but whether the wanted use is free: two archives that differ only in who holds a grant, on which conditions and
// why, answer alike.
func TestAvailabilityTellsNothingOfOthers(t *testing.T) {
	ask := func(change func(*pb.Grant)) []string {
		d := newDesk(t)
		s := newStock(t, d)
		g := markedGrant("hidden-one", s.plate)
		g.Exclusivity, g.Scope.Territories, g.Affiliates = pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE, []string{"FR"}, nil
		change(g)
		must[*pb.Grant](t)(d.archive.CreateGrant(t.Context(), system, g, ""))
		var answers []string
		for _, sc := range []*pb.Scope{scope(s.plate), scope(s.secretPlate)} {
			for _, where := range [][]string{{"FR"}, {"FR", "ES"}, {"ES"}, {"WORLD"}} {
				sc.Territories = where
				for _, excl := range []pb.Exclusivity{0, pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE} {
					res := must[*pb.CheckAvailabilityResponse](t)(d.licensing().CheckAvailability(d.as(t, "stranger-key"), &pb.CheckAvailabilityRequest{Scope: sc, Exclusivity: excl}))
					if len(res.GetGrants()) > 0 || res.GetCode() != "" {
						t.Errorf("names %v with code %q", res.GetGrants(), res.GetCode())
					}
					answers = append(answers, fmt.Sprint(res.GetAnswer(), res.GetExplanations(), res.GetFree()))
				}
			}
		}
		return answers
	}
	one := ask(func(*pb.Grant) {})
	two := ask(func(g *pb.Grant) {
		g.Licensee, g.Affiliates = "parties/licensee", []string{"parties/affiliate"}
		g.Fee.Amount, g.CreditLine, g.Product, g.SignedOn, g.Notes = "1.00", "x", "y", "2026-01-02", "z"
	})
	if fmt.Sprint(one) != fmt.Sprint(two) {
		t.Errorf("answers differ:\n%v\n%v", one, two)
	}
	secret := ask(func(g *pb.Grant) { g.Disclosure = pb.Disclosure_DISCLOSURE_CONFIDENTIAL })
	for _, a := range secret {
		if strings.Contains(a, "FR") || strings.HasPrefix(a, "part") || strings.HasPrefix(a, "no") {
			t.Errorf("a confidential grant shows in %q", a)
		}
	}
	if !strings.HasPrefix(one[0], "no") || !strings.HasPrefix(secret[0], "check") || !strings.HasPrefix(one[4], "yes") {
		t.Errorf("answers %q and %q prove little", one, secret)
	}
}
