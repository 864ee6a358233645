package archive

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

func from(names ...string) func(*pb.Picture) {
	return func(p *pb.Picture) {
		p.DerivedFrom = nil
		for _, n := range names {
			p.DerivedFrom = append(p.DerivedFrom, &pb.Derivation{Picture: n})
		}
	}
}

// No picture derives from itself by any way round, and who closes a circle is shown the way.
func TestDerivationCircles(t *testing.T) {
	s := newStudio(t)
	s.picture(t, "outline", nil)
	s.picture(t, "tonal", from("pictures/outline"))
	s.picture(t, "final", from("pictures/tonal"))
	s.picture(t, "other", from("pictures/outline"))
	for target, way := range map[string]string{
		"pictures/outline": "names the picture itself",
		"pictures/tonal":   "pictures/outline from pictures/tonal from pictures/outline",
		"pictures/final":   "pictures/outline from pictures/final from pictures/tonal from pictures/outline",
	} {
		p := &pb.Picture{Name: "pictures/outline"}
		from(target)(p)
		_, err := s.UpdatePicture(t.Context(), owner, p, []string{"derived_from"})
		wantViolation(t, err, "derived_from[0].picture")
		if err != nil && !strings.Contains(err.Error(), way) {
			t.Errorf("error %q doesn't show the way %q", err, way)
		}
	}
	p := &pb.Picture{Name: "pictures/final"}
	from("pictures/tonal", "pictures/other")(p) // two ways to one source are no circle
	must[*pb.Picture](t)(s.UpdatePicture(t.Context(), owner, p, []string{"derived_from"}))

	// Also within one batch, where the later sees the earlier.
	batch := []Creation[*pb.Picture]{{Record: plate(), ID: "early"}, {Record: plate(), ID: "late"}, {Record: plate(), ID: "self"}}
	from("pictures/early")(batch[1].Record)
	from("pictures/self")(batch[2].Record)
	out, _ := s.BatchCreatePictures(t.Context(), "owner-key", batch, false, false)
	if out[0].Err != nil || out[1].Err != nil {
		t.Error(out[0].Err, out[1].Err)
	}
	wantViolation(t, out[2].Err, "derived_from[0].picture")
}

// What others name isn't deleted, and the refusal says who they are.
func TestDeletionRefused(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	prepare(t, s)
	must[*pb.Specimen](t)(s.CreateSpecimen(ctx, owner, jar(), "jar-one"))
	must[*pb.Taxon](t)(s.CreateTaxon(ctx, owner, &pb.Taxon{ScientificName: "Imaginaria", Rank: "genus"}, "genus-one"))
	child := ownSpecies()
	child.Parent = "taxa/genus-one"
	must[*pb.Taxon](t)(s.CreateTaxon(ctx, owner, child, "child-one"))
	for i := range 8 {
		s.picture(t, fmt.Sprint("copy-", i), func(p *pb.Picture) {
			from("pictures/subject")(p)
			p.Specimen, p.Identification, p.RightsHolder = "specimens/jar-one", &pb.Identification{Taxon: "taxa/child-one"}, "parties/client"
		})
	}
	g := must[*pb.Grant](t)(s.CreateGrant(ctx, owner, licence("parties/client", "pictures/subject#tail"), "lent"))
	must[*pb.Use](t)(s.CreateUse(ctx, owner, printed("parties/client", g.GetName(), "pictures/copy-7"), "told"))

	for _, c := range []struct {
		remove func() error
		by     []string
		more   int
	}{
		{func() error { return s.DeletePicture(ctx, owner, "pictures/subject", "") }, []string{"grants/lent", "pictures/copy-0", "pictures/copy-1", "pictures/copy-2", "pictures/copy-3"}, 4},
		{func() error { return s.DeletePicture(ctx, owner, "pictures/copy-7", "") }, []string{"uses/told"}, 0},
		{func() error { return s.DeleteSpecimen(ctx, owner, "specimens/jar-one", "") }, []string{"pictures/copy-0", "pictures/copy-1", "pictures/copy-2", "pictures/copy-3", "pictures/copy-4"}, 3},
		{func() error { return s.DeleteTaxon(ctx, owner, "taxa/genus-one", "") }, []string{"taxa/child-one"}, 0},
		{func() error { return s.DeleteTaxon(ctx, owner, "taxa/child-one", "") }, []string{"pictures/copy-0", "pictures/copy-1", "pictures/copy-2", "pictures/copy-3", "pictures/copy-4"}, 3},
		{func() error { return s.DeleteParty(ctx, owner, "parties/client", "") }, []string{"grants/lent", "pictures/copy-0", "pictures/copy-1", "pictures/copy-2", "pictures/copy-3"}, 5},
	} {
		var use *InUseError
		if err := c.remove(); !errors.As(err, &use) || !slices.Equal(use.By, c.by) || use.More != c.more {
			t.Errorf("got %v; want it refused for %v and %d more", err, c.by, c.more)
		}
	}
	// Once nothing names it any more, it goes.
	p := &pb.Picture{Name: "pictures/copy-6"}
	must[*pb.Picture](t)(s.UpdatePicture(ctx, owner, p, []string{"derived_from", "specimen", "identification", "rights_holder"}))
	if err := s.DeletePicture(ctx, owner, "pictures/copy-6", ""); err != nil {
		t.Error(err)
	}
	s = s.reopen(t)
	var use *InUseError
	if err := s.DeletePicture(ctx, owner, "pictures/subject", ""); !errors.As(err, &use) || use.More != 3 {
		t.Errorf("after opening again: %v", err)
	}
}

func (s *studio) found(t testing.TB, name string) string {
	t.Helper()
	p, err := s.CreatePicture(t.Context(), owner, &pb.Picture{Kind: pb.Kind_KIND_STUDY, Title: "x", Identification: &pb.Identification{ScientificName: name}}, "")
	if err != nil {
		return err.Error()
	}
	return p.GetIdentification().GetTaxon()
}

// A renamed taxon is found under both names at once, be it the base's or the studio's own, here and on other servers, and after opening again.
func TestRenamedTaxonKeepsBothNames(t *testing.T) {
	s := newStudio(t)
	other := s.join(t, nil)
	ctx := t.Context()
	own := must[*pb.Taxon](t)(s.CreateTaxon(ctx, owner, ownSpecies(), "own-perch")).GetName()
	base := s.found(t, "Perca fluviatilis")
	rename := func(name, to string, former ...string) {
		t.Helper()
		made := must[*pb.Taxon](t)(s.UpdateTaxon(ctx, owner, &pb.Taxon{Name: name, ScientificName: to}, []string{"scientific_name"}))
		if !slices.Equal(made.GetFormerNames(), former) {
			t.Errorf("%s called %s has the former names %q; want %q", name, to, made.GetFormerNames(), former)
		}
	}
	rename(own, "Perca somniosa", "Perca imaginaria")
	rename(base, "Perca europaea", "Perca fluviatilis")
	check := func(t *testing.T, s *studio, names map[string]string) {
		t.Helper()
		for name, want := range names {
			if got := s.found(t, name); got != want {
				t.Errorf("%s means %s; want %s", name, got, want)
			}
		}
	}
	both := map[string]string{"Perca imaginaria": own, "Perca somniosa": own, "Perca fluviatilis": base, "Perca europaea": base}
	check(t, s, both)
	other.sync(t)
	check(t, other, both)
	s = s.reopen(t)
	check(t, s, both)
	check(t, s.join(t, nil), both)
	rename(own, "Perca imaginaria", "Perca somniosa") // back: the name in use isn't a former one
	rename(base, "Perca fluviatilis", "Perca europaea")
	check(t, s, both)
	if err := s.DeleteTaxon(ctx, owner, base, ""); err != nil {
		t.Fatal(err)
	}
	delete(both, "Perca europaea")
	check(t, s, both)
	if got := s.found(t, "Perca europaea"); strings.HasPrefix(got, "taxa/") {
		t.Errorf("a name that only the deleted entry had still means %s", got)
	}
}

// No taxon stands below itself: not by parents, not by synonyms, not by what the base has.
func TestTaxonCircles(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	add := func(id, parent string) {
		t.Helper()
		must[*pb.Taxon](t)(s.CreateTaxon(ctx, owner, &pb.Taxon{ScientificName: "Imaginaria " + id, Rank: "species", Parent: parent}, id))
	}
	add("first", "")
	add("second", "taxa/first")
	add("third", "taxa/second")
	refused := func(x *pb.Taxon, mask string, way string) {
		t.Helper()
		_, err := s.UpdateTaxon(ctx, owner, x, strings.Split(mask, ","))
		wantViolation(t, err, "parent")
		if err != nil && !strings.Contains(err.Error(), way) {
			t.Errorf("error %q doesn't show the way %q", err, way)
		}
	}
	refused(&pb.Taxon{Name: "taxa/first", Parent: "taxa/first"}, "parent", "taxa/first under taxa/first")
	refused(&pb.Taxon{Name: "taxa/first", Parent: "taxa/third"}, "parent", "taxa/first under taxa/third under taxa/second under taxa/first")
	refused(&pb.Taxon{Name: "taxa/first", Accepted: "taxa/third", Status: pb.TaxonStatus_TAXON_STATUS_SYNONYM}, "accepted,status", "taxa/first under taxa/third")

	species := s.found(t, "Perca fluviatilis")
	genus := must[*pb.Taxon](t)(s.GetTaxon(species)).GetParent()
	if genus == "" {
		t.Fatal("the base has the species without its genus: the case proves nothing")
	}
	refused(&pb.Taxon{Name: genus, Parent: species}, "parent", genus+" under "+species+" under "+genus)
	must[*pb.Taxon](t)(s.UpdateTaxon(ctx, owner, &pb.Taxon{Name: species, Parent: "taxa/first"}, []string{"parent"})) // now the genus may go below its former species
	must[*pb.Taxon](t)(s.UpdateTaxon(ctx, owner, &pb.Taxon{Name: genus, Parent: species}, []string{"parent"}))
	// Deleting the studio's entry would bring back the base's, and with it the circle.
	wantViolation(t, s.DeleteTaxon(ctx, owner, species, ""), "name")
	// Whatever the order of names, the archive opens again.
	s = s.reopen(t)
	if got := s.Taxa().Lineage(strings.TrimPrefix(genus, "taxa/")); len(got) != 3 || got[0] != "first" {
		t.Errorf("lineage after opening again is %v", got)
	}
	if err := s.DeleteTaxon(ctx, owner, genus, ""); err != nil {
		t.Fatal(err)
	}
	if err := s.DeleteTaxon(ctx, owner, species, ""); err != nil {
		t.Fatal(err)
	}
}

// The same, where the entry that comes first by name needs the one that comes last.
func TestTaxaLoadInAnyOrder(t *testing.T) {
	s := newStudio(t)
	species := s.found(t, "Perca fluviatilis")
	genus := must[*pb.Taxon](t)(s.GetTaxon(species)).GetParent()
	high, low := max(species, genus), min(species, genus)
	must[*pb.Taxon](t)(s.UpdateTaxon(t.Context(), owner, &pb.Taxon{Name: high}, []string{"parent"}))
	must[*pb.Taxon](t)(s.UpdateTaxon(t.Context(), owner, &pb.Taxon{Name: low, Parent: high}, []string{"parent"}))
	if low == species {
		must[*pb.Taxon](t)(s.UpdateTaxon(t.Context(), owner, &pb.Taxon{Name: low}, []string{"parent"}))
		must[*pb.Taxon](t)(s.UpdateTaxon(t.Context(), owner, &pb.Taxon{Name: high, Parent: low}, []string{"parent"}))
	}
	s = s.reopen(t)
	s.join(t, nil)
}

func TestBatches(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	wrong := plate()
	wrong.Title = ""
	list := func() []Creation[*pb.Picture] {
		return []Creation[*pb.Picture]{{Record: plate(), ID: "one-a", RequestID: "b-1"}, {Record: wrong, ID: "one-b"}, {Record: plate(), ID: "one-c"}, {Record: plate(), ID: "x"}}
	}
	out, seq := s.BatchCreatePictures(ctx, "owner-key", list(), false, true)
	if seq != 0 || out[0].Err != nil || out[0].Record.GetName() != "pictures/one-a" || out[2].Err != nil {
		t.Errorf("trial: %v %v, sequence %d", out[0], out[2], seq)
	}
	wantViolation(t, out[1].Err, "title")
	wantViolation(t, out[3].Err, "id")
	if n := must[int64](t)(s.Count(Pictures)); n != 0 {
		t.Fatalf("a trial stored %d pictures", n)
	}
	out, seq = s.BatchCreatePictures(ctx, "owner-key", list(), true, false)
	if seq != 0 {
		t.Errorf("a refused batch has the sequence %d", seq)
	}
	wantIs(t, out[0].Err, ErrTogether)
	wantIs(t, out[2].Err, ErrTogether)
	wantViolation(t, out[3].Err, "id")
	out, _ = s.BatchCreatePictures(ctx, "owner-key", list()[:3], true, false)
	wantIs(t, out[0].Err, ErrTogether)
	wantViolation(t, out[1].Err, "title")
	if n := must[int64](t)(s.Count(Pictures)); n != 0 {
		t.Fatalf("a refused batch stored %d pictures", n)
	}
	out, seq = s.BatchCreatePictures(ctx, "owner-key", list(), false, false)
	wantViolation(t, out[1].Err, "title")
	wantViolation(t, out[3].Err, "id")
	if out[0].Err != nil || out[2].Err != nil || seq != s.Journal().Position().Seq {
		t.Errorf("%v %v, sequence %d", out[0].Err, out[2].Err, seq)
	}
	together := []Creation[*pb.Picture]{{Record: plate(), ID: "two-a", RequestID: "b-2"}, {Record: plate(), ID: "two-b"}}
	before := s.Journal().Position().Seq
	first, seq := s.BatchCreatePictures(ctx, "owner-key", together, true, false)
	if first[0].Err != nil || first[1].Err != nil || seq != before+1 {
		t.Fatalf("%v %v, sequence %d after %d", first[0].Err, first[1].Err, seq, before)
	}
	again, seq2 := s.BatchCreatePictures(ctx, "owner-key", together, true, false)
	if again[1].Err != nil || seq2 != seq {
		t.Fatalf("replay: %v, sequence %d; want %d", again[1].Err, seq2, seq)
	}
	same(t, "replayed batch", again[1].Record, first[1].Record)
	if out, seq := s.BatchCreatePictures(ctx, "owner-key", nil, true, false); len(out) != 0 || seq != 0 || s.Journal().Position().Seq != before+1 {
		t.Error("an empty batch was committed")
	}
	taxa, _ := s.BatchCreateTaxa(ctx, "owner-key", []Creation[*pb.Taxon]{{Record: &pb.Taxon{ScientificName: "Imaginaria", Rank: "genus"}, ID: "gen-1"},
		{Record: &pb.Taxon{ScientificName: "Imaginaria prima", Rank: "species", Parent: "taxa/gen-1"}}, {Record: &pb.Taxon{}}, {Record: ownSpecies(), ID: "?"}})
	if taxa[0].Err != nil || taxa[1].Err != nil {
		t.Error(taxa[0].Err, taxa[1].Err)
	}
	wantViolation(t, taxa[2].Err, "scientific_name")
	wantViolation(t, taxa[3].Err, "id")
}
