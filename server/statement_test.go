package server

import (
	"bytes"
	"fmt"
	"testing"
	"time"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights/statement"
)

func stated(t *testing.T, c *client.Client, picture string) *pb.Statement {
	t.Helper()
	return ok[*pb.Statement](t)(c.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: picture}))
}

// TestAStatementRegeneratesByteForByte asks for a statement again years later, of another server over the same bucket, and by another key of the same party.
func TestAStatementRegeneratesByteForByte(t *testing.T) {
	conf := newConfig(t)
	now := june()
	conf.Clock = func() time.Time { return now }
	r := start(t, conf)
	sum := upload(t, r.owner, lineArt(t), "plate.png")
	plate := r.picture(t, "perch-plate", func(p *pb.Picture) {
		p.Original, p.Creators, p.Title = &pb.Original{Sha256: sum}, []string{"Ida Moor"}, "Perch, „left“ <lateral> & counts"
	})
	reed, lake := r.party(t, "reed-press"), r.party(t, "lake-museum")
	req := exclusively(agreement("book", reed, plate))
	req.Grant.Fee = &pb.Money{Amount: "450.00", Currency: "EUR"}
	r.grant(t, req)
	r.use(t, printing("first", reed, "grants/book", 3000, plate))
	waitPreviews(t, r.owner)
	reader, stranger := r.as(t, pb.Role_ROLE_PUBLISHER, reed), r.as(t, pb.Role_ROLE_PUBLISHER, lake)

	staff, own, other := stated(t, r.owner, plate), stated(t, reader, plate), stated(t, stranger, plate)
	for name, st := range map[string]*pb.Statement{"staff": staff, "licensee": own, "stranger": other} {
		mark, content, err := statement.Check(st.GetContent())
		if err != nil || mark.Sequence != st.GetSequence() || mark.Head != st.GetHead() || mark.Picture != plate {
			t.Errorf("%s: %+v, %v", name, mark, err)
		}
		if content["thumbnail_sha256"] == nil || content["commit_time"] == nil || content["title"] != "Perch, „left“ <lateral> & counts" {
			t.Errorf("%s: thumbnail %v, time %v, title %v", name, content["thumbnail_sha256"], content["commit_time"], content["title"])
		}
		if paid := bytes.Contains(st.GetContent(), []byte("450.00")); paid != (name != "stranger") {
			t.Errorf("%s: fee shown %v", name, paid)
		}
	}
	if !bytes.Contains(staff.GetContent(), []byte(`"verdict":"licensed"`)) || !bytes.Contains(staff.GetContent(), []byte(`"state":"in force"`)) {
		t.Errorf("the entries don't tell how they stand: %s", staff.GetContent())
	}
	if bytes.Contains(other.GetContent(), []byte("reed-press")) {
		t.Errorf("a stranger learns the licensee: %s", other.GetContent())
	}

	now = now.AddDate(5, 0, 0) // the grant has long expired
	if again := stated(t, r.owner, plate); !bytes.Equal(again.GetContent(), staff.GetContent()) {
		t.Errorf("five years later it reads\n%s\nnot\n%s", again.GetContent(), staff.GetContent())
	}
	r.stop()
	conf.Cache = t.TempDir()
	elsewhere := start(t, conf)
	waitPreviews(t, elsewhere.owner)
	if again := stated(t, elsewhere.owner, plate); !bytes.Equal(again.GetContent(), staff.GetContent()) {
		t.Errorf("another server writes\n%s\nnot\n%s", again.GetContent(), staff.GetContent())
	}
	past, err := elsewhere.owner.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: plate, Sequence: staff.GetSequence()})
	if err != nil || !bytes.Equal(past.GetContent(), staff.GetContent()) {
		t.Errorf("asked for by its number: %v", err)
	}
	_, err = elsewhere.owner.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: plate, Sequence: staff.GetSequence() + 1})
	wantReason(t, err, "COMMIT_AHEAD")
	_, err = elsewhere.owner.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: plate, Sequence: -1})
	wantReason(t, err, "INVALID_FIELD")
}

func TestAHeadIsHeldAgainstTheJournal(t *testing.T) {
	r := desk(t)
	plate := r.picture(t, "perch-plate", nil)
	study := r.picture(t, "perch-study", func(p *pb.Picture) { p.Kind = pb.Kind_KIND_STUDY })
	reed := r.party(t, "reed-press")
	st := stated(t, r.owner, plate)
	outsider := r.as(t, pb.Role_ROLE_PUBLISHER, reed) // a commit of its own
	for i, c := range []struct {
		seq   int64
		head  string
		agree bool
	}{{st.GetSequence(), st.GetHead(), true}, {st.GetSequence() - 1, st.GetHead(), false}, {st.GetSequence() + 100, st.GetHead(), false}, {0, st.GetHead(), false}, {st.GetSequence(), fmt.Sprintf("%064d", 0), false}} {
		res := ok[*pb.CheckHeadResponse](t)(outsider.Licensing.CheckHead(t.Context(), &pb.CheckHeadRequest{Sequence: c.seq, Head: c.head}))
		if res.GetAgrees() != c.agree || res.GetSequence() <= st.GetSequence() || res.GetArchiveId() == "" {
			t.Errorf("%d: got %v; want agrees %v", i, res, c.agree)
		}
	}
	_, err := outsider.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Picture: study})
	wantReason(t, err, "NOT_FOUND")
	_, err = outsider.Licensing.CheckHead(t.Context(), &pb.CheckHeadRequest{Sequence: 1, Head: "abc"})
	wantReason(t, err, "INVALID_FIELD")
}

// TestAGrantIsStatedInFull: to each what GetGrant shows it, the fee to the studio and the licensee alone.
func TestAGrantIsStatedInFull(t *testing.T) {
	r := desk(t)
	plate := r.picture(t, "perch-plate", nil)
	reed, lake := r.party(t, "reed-press"), r.party(t, "lake-museum")
	req := exclusively(agreement("book", reed, plate))
	req.Grant.Fee, req.Grant.Affiliates, req.Grant.CopiesMax, req.Grant.Notes = &pb.Money{Amount: "450.00", Currency: "EUR"}, []string{lake}, 4000, "between us"
	r.grant(t, req)
	r.use(t, printing("first", reed, "grants/book", 3000, plate))
	later := agreement("more", reed, plate)
	later.Grant.Amends, later.Grant.EffectiveOn = "grants/book", "2026-05-01"
	r.grant(t, later)
	for who, c := range map[string]*client.Client{"studio": r.owner, "licensee": r.as(t, pb.Role_ROLE_PUBLISHER, reed), "affiliate": r.as(t, pb.Role_ROLE_PUBLISHER, lake)} {
		st := ok[*pb.Statement](t)(c.Licensing.GetStatement(t.Context(), &pb.GetStatementRequest{Grant: "grants/book"}))
		mark, _, err := statement.Check(st.GetContent())
		if err != nil || mark.Subject() != "grants/book" || mark.Sequence != st.GetSequence() {
			t.Errorf("%s: %+v, %v", who, mark, err)
		}
		for text, want := range map[string]bool{
			`"fee":"450.00"`: who != "affiliate", "between us": false, `"copies_max":"4000"`: true, `"terms":"exclusive"`: true, `"copies_used":"3000"`: who != "affiliate",
			`"bond":"amended by","effective_on":"2026-05-01","grant":"grants/more"`: who != "affiliate", `"title":"Plate perch-plate"`: true,
		} {
			if got := bytes.Contains(st.GetContent(), []byte(text)); got != want {
				t.Errorf("%s: %s is there: %v; want %v in %s", who, text, got, want, st.GetContent())
			}
		}
	}
}
