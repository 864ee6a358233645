package archive

import (
	"context"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// kind is one collection with its methods in one form, so that what holds for all is tested for all.
type kind struct {
	collection string
	fresh      func(n int) Record // a right one, unlike those of other numbers
	create     func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error)
	get        func(ctx context.Context, a *Archive, name string) (Record, error)
	list       func(a *Archive, after string, limit int) ([]Record, bool, error)
	update     func(ctx context.Context, a *Archive, by Caller, r Record, mask []string) (Record, error) // nil if there is none
	remove     func(ctx context.Context, a *Archive, by Caller, name, etag string) error                 // nil if there is none
	mask       string                                                                                    // a field that change changes
	change     func(r Record)
}

func records[T Record](list []T, more bool, err error) ([]Record, bool, error) {
	out := make([]Record, len(list))
	for i, r := range list {
		out[i] = r
	}
	return out, more, err
}

// kinds are all collections. Grants and uses are about pictures/subject and parties/client, which prepare makes.
func kinds() []kind {
	return []kind{
		{
			collection: Pictures, mask: "title",
			fresh: func(n int) Record { p := plate(); p.Title = fmt.Sprint("plate ", n); return p },
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreatePicture(ctx, by, r.(*pb.Picture), id)
			},
			get: func(_ context.Context, a *Archive, name string) (Record, error) { return a.GetPicture(name) },
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListPictures(after, limit, nil))
			},
			update: func(ctx context.Context, a *Archive, by Caller, r Record, mask []string) (Record, error) {
				return a.UpdatePicture(ctx, by, r.(*pb.Picture), mask)
			},
			remove: func(ctx context.Context, a *Archive, by Caller, name, etag string) error {
				return a.DeletePicture(ctx, by, name, etag)
			},
			change: func(r Record) { r.(*pb.Picture).Title += " again" },
		},
		{
			collection: Specimens, mask: "notes",
			fresh: func(n int) Record { s := jar(); s.CatalogNumber = fmt.Sprint("LM ", n); return s },
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreateSpecimen(ctx, by, r.(*pb.Specimen), id)
			},
			get: func(_ context.Context, a *Archive, name string) (Record, error) { return a.GetSpecimen(name) },
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListSpecimens(after, limit))
			},
			update: func(ctx context.Context, a *Archive, by Caller, r Record, mask []string) (Record, error) {
				return a.UpdateSpecimen(ctx, by, r.(*pb.Specimen), mask)
			},
			remove: func(ctx context.Context, a *Archive, by Caller, name, etag string) error {
				return a.DeleteSpecimen(ctx, by, name, etag)
			},
			change: func(r Record) { r.(*pb.Specimen).Notes += "again" },
		},
		{
			collection: Briefs, mask: "notes",
			fresh: func(n int) Record { b := brief(); b.Title = fmt.Sprint("commission ", n); return b },
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreateBrief(ctx, by, r.(*pb.Brief), id)
			},
			get: func(_ context.Context, a *Archive, name string) (Record, error) { return a.GetBrief(name) },
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListBriefs(after, limit))
			},
			update: func(ctx context.Context, a *Archive, by Caller, r Record, mask []string) (Record, error) {
				return a.UpdateBrief(ctx, by, r.(*pb.Brief), mask)
			},
			remove: func(ctx context.Context, a *Archive, by Caller, name, etag string) error {
				return a.DeleteBrief(ctx, by, name, etag)
			},
			change: func(r Record) { r.(*pb.Brief).Notes += "again" },
		},
		{
			collection: Taxa, mask: "notes",
			fresh: func(n int) Record {
				x := ownSpecies()
				x.ScientificName = fmt.Sprintf("Perca imaginaria%s", strings.Repeat("a", n))
				return x
			},
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreateTaxon(ctx, by, r.(*pb.Taxon), id)
			},
			get: func(_ context.Context, a *Archive, name string) (Record, error) { return a.GetTaxon(name) },
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListOwnTaxa(after, limit))
			},
			update: func(ctx context.Context, a *Archive, by Caller, r Record, mask []string) (Record, error) {
				return a.UpdateTaxon(ctx, by, r.(*pb.Taxon), mask)
			},
			remove: func(ctx context.Context, a *Archive, by Caller, name, etag string) error {
				return a.DeleteTaxon(ctx, by, name, etag)
			},
			change: func(r Record) { r.(*pb.Taxon).Notes += "again" },
		},
		{
			collection: Parties, mask: "role",
			fresh: func(n int) Record { p := press(); p.DisplayName = fmt.Sprint("Press ", n); return p },
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreateParty(ctx, by, r.(*pb.Party), id)
			},
			get: func(ctx context.Context, a *Archive, name string) (Record, error) { return a.GetParty(ctx, name) },
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListParties(after, limit))
			},
			update: func(ctx context.Context, a *Archive, by Caller, r Record, mask []string) (Record, error) {
				return a.UpdateParty(ctx, by, r.(*pb.Party), mask)
			},
			remove: func(ctx context.Context, a *Archive, by Caller, name, etag string) error {
				return a.DeleteParty(ctx, by, name, etag)
			},
			change: func(r Record) { r.(*pb.Party).Role += " again" },
		},
		{
			collection: Grants, mask: "notes",
			fresh: func(n int) Record {
				g := licence("parties/client", "pictures/subject")
				g.Notes = fmt.Sprint("grant ", n)
				return g
			},
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreateGrant(ctx, by, r.(*pb.Grant), id)
			},
			get: func(_ context.Context, a *Archive, name string) (Record, error) { return a.GetGrant(name) },
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListGrants(after, limit, nil))
			},
			update: func(ctx context.Context, a *Archive, by Caller, r Record, mask []string) (Record, error) {
				return a.UpdateGrant(ctx, by, r.(*pb.Grant), mask)
			},
			change: func(r Record) { r.(*pb.Grant).Notes += " again" },
		},
		{
			collection: Uses,
			fresh: func(n int) Record {
				u := printed("parties/client", "", "pictures/subject")
				u.Title = fmt.Sprint("book ", n)
				return u
			},
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreateUse(ctx, by, r.(*pb.Use), id)
			},
			get: func(_ context.Context, a *Archive, name string) (Record, error) { return a.GetUse(name) },
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListUses(after, limit, nil))
			},
		},
		{
			collection: Keys,
			fresh:      func(n int) Record { return &pb.Key{DisplayName: fmt.Sprint("key ", n), Role: pb.Role_ROLE_ASSISTANT} },
			create: func(ctx context.Context, a *Archive, by Caller, r Record, id string) (Record, error) {
				return a.CreateKey(ctx, by, r.(*pb.Key), id, func(string) error { return nil })
			},
			get: func(_ context.Context, a *Archive, name string) (Record, error) {
				k, err := get[*pb.Key](a, name)
				if err == nil {
					k = withoutSecret(k)
				}
				return k, err
			},
			list: func(a *Archive, after string, limit int) ([]Record, bool, error) {
				return records(a.ListKeys(after, limit))
			},
		},
	}
}

// prepare makes what grants and uses are about.
func prepare(t *testing.T, s *studio) {
	t.Helper()
	s.picture(t, "subject", nil)
	s.party(t, "client")
}

// bare is a record without what the server sets.
func bare(r Record) Record {
	r = proto.Clone(r).(Record)
	clearOwned(r, nil)
	return r
}

func TestEveryCollection(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	for _, k := range kinds() {
		t.Run(k.collection, func(t *testing.T) {
			ctx := t.Context()
			before := s.clock.read()
			given := k.fresh(1)
			made := must[Record](t)(k.create(ctx, s.Archive, owner, given, "number-one"))
			name := k.collection + "/number-one"
			if made.GetName() != name || made.GetRevision() != 1 || made.GetEtag() != "1" || !made.GetCreateTime().AsTime().Equal(before) || !made.GetUpdateTime().AsTime().Equal(before) {
				t.Errorf("made %v; want %s at revision 1 of %v", made, name, before)
			}
			same(t, "what Get returns", must[Record](t)(k.get(ctx, s.Archive, name)), made)
			_, err := k.create(ctx, s.Archive, owner, k.fresh(2), "number-one")
			wantIs(t, err, ErrExists)
			_, err = k.get(ctx, s.Archive, k.collection+"/none-such")
			wantIs(t, err, ErrNotFound)
			for _, id := range []string{"x", "Upper", "under_score", "-edge", "edge-", strings.Repeat("a", 64), "a/b", "ä-uml", "", "two words"} {
				if id == "" {
					continue // asks for one made here
				}
				_, err := k.create(ctx, s.Archive, owner, k.fresh(3), id)
				wantViolation(t, err, "id")
			}
			if k.update != nil {
				testUpdate(t, s, k, made)
			}
			if k.remove != nil {
				testRemove(t, s, k, name)
			}
		})
	}
}

func testUpdate(t *testing.T, s *studio, k kind, made Record) {
	ctx := t.Context()
	s.clock.forward(time.Hour)
	next := proto.Clone(made).(Record)
	k.change(next)
	changed := must[Record](t)(k.update(ctx, s.Archive, owner, next, []string{k.mask}))
	if changed.GetRevision() != 2 || changed.GetEtag() != "2" || !changed.GetCreateTime().AsTime().Equal(made.GetCreateTime().AsTime()) || !changed.GetUpdateTime().AsTime().Equal(s.clock.read()) {
		t.Errorf("changed %v; want revision 2, made as before, changed at %v", changed, s.clock.read())
	}
	same(t, "the changed record", bare(changed), bare(next))
	same(t, "what Get returns after a change", must[Record](t)(k.get(ctx, s.Archive, made.GetName())), changed)

	_, err := k.update(ctx, s.Archive, owner, next, []string{k.mask}) // still at etag 1
	wantIs(t, err, ErrStale)
	same(t, "the record after a stale change", must[Record](t)(k.get(ctx, s.Archive, made.GetName())), changed)
	blind := proto.Clone(next).(Record)
	clearField(blind, "etag")
	if again := must[Record](t)(k.update(ctx, s.Archive, owner, blind, []string{k.mask})); again.GetRevision() != 3 {
		t.Errorf("a change without etag gave revision %d; want 3", again.GetRevision())
	}
	lost := proto.Clone(next).(Record)
	setName(lost, k.collection+"/none-such")
	_, err = k.update(ctx, s.Archive, owner, lost, []string{k.mask})
	wantIs(t, err, ErrNotFound)
}

func testRemove(t *testing.T, s *studio, k kind, name string) {
	ctx := t.Context()
	last := must[Record](t)(k.get(ctx, s.Archive, name))
	wantIs(t, k.remove(ctx, s.Archive, owner, name, "999"), ErrStale)
	count := must[int64](t)(s.Count(k.collection))
	if err := k.remove(ctx, s.Archive, owner, name, last.GetEtag()); err != nil {
		t.Fatal(err)
	}
	_, err := k.get(ctx, s.Archive, name)
	wantIs(t, err, ErrNotFound)
	wantIs(t, k.remove(ctx, s.Archive, owner, name, ""), ErrNotFound)
	if n := must[int64](t)(s.Count(k.collection)); n != count-1 {
		t.Errorf("%d records after deletion; want %d", n, count-1)
	}
	// An id used again goes on counting: whoever still holds an old etag must not hit the new record.
	again := must[Record](t)(k.create(ctx, s.Archive, owner, k.fresh(9), strings.TrimPrefix(name, k.collection+"/")))
	if again.GetRevision() <= last.GetRevision() {
		t.Errorf("made again at revision %d; want more than %d", again.GetRevision(), last.GetRevision())
	}
	for n := range last.GetRevision() + 1 {
		old := proto.Clone(again).(Record)
		setField(old, "etag", fmt.Sprint(n+1))
		if old.GetEtag() == again.GetEtag() {
			continue
		}
		_, err := k.update(ctx, s.Archive, owner, old, []string{k.mask})
		wantIs(t, err, ErrStale)
		wantIs(t, k.remove(ctx, s.Archive, owner, name, old.GetEtag()), ErrStale)
	}
}

func TestPagesOfEveryCollection(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	for _, k := range kinds() {
		t.Run(k.collection, func(t *testing.T) {
			for n := range 7 {
				must[Record](t)(k.create(t.Context(), s.Archive, owner, k.fresh(n+1), fmt.Sprintf("page-%02d", n)))
			}
			all, more, err := k.list(s.Archive, "", 100)
			if err != nil || more {
				t.Fatalf("all at once: more %v, error %v", more, err)
			}
			if n := must[int64](t)(s.Count(k.collection)); int64(len(all)) != n || n < 7 {
				t.Errorf("listed %d; the archive counts %d", len(all), n)
			}
			if !slices.IsSortedFunc(all, func(a, b Record) int { return strings.Compare(a.GetName(), b.GetName()) }) {
				t.Error("not in order of name")
			}
			for size := 1; size <= len(all)+1; size++ {
				var paged []Record
				for after, more := "", true; more; {
					var page []Record
					page, more, err = k.list(s.Archive, after, size)
					if err != nil || len(page) > size || more && len(page) < size {
						t.Fatalf("page of %d after %q: %d records, more %v, error %v", size, after, len(page), more, err)
					}
					paged = append(paged, page...)
					if len(page) > 0 {
						after = page[len(page)-1].GetName()
					}
				}
				if !slices.EqualFunc(paged, all, func(a, b Record) bool { return proto.Equal(a, b) }) {
					t.Errorf("pages of %d together are %d records; want the %d", size, len(paged), len(all))
				}
			}
		})
	}
}

// The server's own fields are its own on creation, whatever is sent.
func TestOwnedFieldsAreIgnoredOnCreation(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	for _, k := range kinds() {
		forged := k.fresh(1)
		stamp(forged, k.collection+"/forged-name", 77, nil, s.clock.read().Add(-time.Hour))
		made := must[Record](t)(k.create(t.Context(), s.Archive, owner, forged, "true-name"))
		if made.GetName() != k.collection+"/true-name" || made.GetRevision() != 1 || made.GetEtag() != "1" || !made.GetUpdateTime().AsTime().Equal(s.clock.read()) {
			t.Errorf("%s: made %v", k.collection, made)
		}
	}
	x := ownSpecies()
	x.FormerNames = []string{"Perca forged"}
	if made := must[*pb.Taxon](t)(s.CreateTaxon(t.Context(), owner, x, "own-two")); len(made.GetFormerNames()) > 0 {
		t.Errorf("former names %v were taken from the client", made.GetFormerNames())
	}
	p := press()
	p.SealedContact, p.Forgotten = []byte("forged"), true
	if made := must[*pb.Party](t)(s.CreateParty(t.Context(), owner, p, "own-party")); made.GetForgotten() || len(made.GetSealedContact()) > 0 {
		t.Errorf("party made as %v", made)
	}
	key := &pb.Key{Role: pb.Role_ROLE_ASSISTANT, SecretSha256: "forged", RevokeTime: made(s)}
	if k := must[*pb.Key](t)(s.CreateKey(t.Context(), owner, key, "own-key", func(string) error { return nil })); k.GetRevokeTime() != nil {
		t.Errorf("key made as %v", k)
	}
	if k := must[*pb.Key](t)(get[*pb.Key](s.Archive, "keys/own-key")); len(k.GetSecretSha256()) != 64 {
		t.Errorf("hash of the secret is %q", k.GetSecretSha256())
	}
}
