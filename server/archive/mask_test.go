package archive

import (
	"context"
	"slices"
	"testing"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
)

func rich() *pb.Picture {
	return &pb.Picture{
		Kind: pb.Kind_KIND_PLATE, Title: "Perch", Notes: "inked", Technique: "ink", View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_FINAL_ART,
		Identification: &pb.Identification{ScientificName: "Perca fluviatilis", IdentifiedBy: "Ida Moor", IdentifiedOn: "2025"},
		Counts:         &pb.Counts{Formula: "D XIV, I,13"},
		Structures:     []*pb.Structure{{Structure: "first dorsal fin", Region: &pb.Region{X: .1, Y: .1, Width: .2, Height: .2}}},
		Calibration:    &pb.Calibration{X1: .1, Y1: .5, X2: .9, Y2: .5, LengthMm: 200, Basis: "standard length"},
		Creators:       []string{"Ida Moor"}, Keywords: []string{"lake", "spring"}, Created: "2025-06",
	}
}

func TestMasks(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	flavescens := must[*pb.Picture](t)(s.CreatePicture(ctx, owner, &pb.Picture{Kind: pb.Kind_KIND_STUDY, Title: "x", Identification: &pb.Identification{ScientificName: "Perca flavescens"}}, "")).GetIdentification()
	for name, c := range map[string]struct {
		mask []string
		give func(*pb.Picture)
		want func(*pb.Picture) // applied to the record before
	}{
		"one field":       {[]string{"title"}, func(p *pb.Picture) { p.Title, p.Notes = "Pike", "not meant" }, func(p *pb.Picture) { p.Title = "Pike" }},
		"emptied":         {[]string{"notes", "keywords"}, func(*pb.Picture) {}, func(p *pb.Picture) { p.Notes, p.Keywords = "", nil }},
		"nested":          {[]string{"calibration.length_mm"}, func(p *pb.Picture) { p.Calibration = &pb.Calibration{LengthMm: 180} }, func(p *pb.Picture) { p.Calibration.LengthMm = 180 }},
		"nested and top":  {[]string{"calibration.basis", "view"}, func(p *pb.Picture) { p.Calibration = &pb.Calibration{Basis: "scale bar"} }, func(p *pb.Picture) { p.Calibration.Basis, p.View = "scale bar", 0 }},
		"list as a whole": {[]string{"creators"}, func(p *pb.Picture) { p.Creators = []string{"Ben Reed", "Ida Moor"} }, func(p *pb.Picture) { p.Creators = []string{"Ben Reed", "Ida Moor"} }},
		"message cleared": {[]string{"calibration"}, func(*pb.Picture) {}, func(p *pb.Picture) { p.Calibration = nil }},
		"what isn't masked isn't judged": {[]string{"title"}, func(p *pb.Picture) {
			p.Title = "Pike"
			p.Counts = &pb.Counts{Formula: "no formula ((("}
			p.Identification = &pb.Identification{ScientificName: "Nonsensia absurda"}
			p.Original = &pb.Original{Sha256: "no digest"}
		}, func(p *pb.Picture) { p.Title = "Pike" }},
		"formula is read again": {[]string{"counts.formula"}, func(p *pb.Picture) { p.Counts = &pb.Counts{Formula: "A II,8"} }, func(p *pb.Picture) {
			p.Counts = &pb.Counts{Formula: "A II,8"}
			readCounts(new(checks), "", p.Counts)
		}},
		"name finds its taxon": {[]string{"identification.scientific_name"}, func(p *pb.Picture) { p.Identification = &pb.Identification{ScientificName: "Perca flavescens"} }, func(p *pb.Picture) {
			p.Identification.ScientificName, p.Identification.Taxon = "Perca flavescens", flavescens.GetTaxon()
		}},
		"taxon finds its name": {[]string{"identification.taxon"}, func(p *pb.Picture) {
			p.Identification = &pb.Identification{Taxon: flavescens.GetTaxon(), ScientificName: "Perca fluviatilis"}
		}, func(p *pb.Picture) {
			p.Identification.ScientificName, p.Identification.Taxon = "Perca flavescens", flavescens.GetTaxon()
		}},
		"all": {[]string{"*"}, func(p *pb.Picture) { *p = pb.Picture{Name: p.Name}; p.Kind, p.Title = pb.Kind_KIND_STUDY, "bare" }, func(p *pb.Picture) {
			proto.Reset(p)
			p.Kind, p.Title = pb.Kind_KIND_STUDY, "bare"
		}},
	} {
		t.Run(name, func(t *testing.T) {
			before := must[*pb.Picture](t)(s.CreatePicture(ctx, owner, rich(), ""))
			given := &pb.Picture{Name: before.GetName(), Etag: before.GetEtag()}
			c.give(given)
			after := must[*pb.Picture](t)(s.UpdatePicture(ctx, owner, given, c.mask))
			want := bare(before).(*pb.Picture)
			c.want(want)
			same(t, "record", bare(after), want)
			if want.GetCounts().GetFormula() != "" && len(after.GetCounts().GetParsed()) == 0 {
				t.Error("the case proves nothing about counts: none were read")
			}
		})
	}
}

func TestMasksRefused(t *testing.T) {
	s := newStudio(t)
	prepare(t, s)
	ctx := t.Context()
	for _, k := range kinds() {
		if k.update == nil {
			continue
		}
		made := must[Record](t)(k.create(ctx, s.Archive, owner, k.fresh(1), "masked"))
		masks := [][]string{nil, {}, {""}, {"no_such_field"}, {k.mask, "no_such_field"}, {k.mask + ".deeper"}, {".", "a.b"}, {"notes."}}
		for owned := range serverOwned {
			masks = append(masks, []string{owned}, []string{k.mask, owned})
		}
		for _, mask := range append(masks, []string{"create_time.seconds"}) {
			_, err := k.update(ctx, s.Archive, owner, made, mask)
			wantViolation(t, err, "update_mask")
		}
		same(t, "record after refused masks", must[Record](t)(k.get(ctx, s.Archive, made.GetName())), made)
	}
	refused := func(update func(mask string) error, masks ...string) {
		t.Helper()
		for _, mask := range masks {
			wantViolation(t, update(mask), "update_mask")
		}
	}
	pic := must[*pb.Picture](t)(s.CreatePicture(ctx, owner, rich(), ""))
	refused(func(mask string) error { _, err := s.UpdatePicture(ctx, owner, pic, []string{mask}); return err },
		"counts.parsed", "counts.warnings", "counts.canonical", "original.width", "original.size", "original.remarks", "structures.note", "structures.0", "creators.0")
	refused(func(mask string) error {
		_, err := s.UpdateParty(ctx, owner, &pb.Party{Name: "parties/client"}, []string{mask})
		return err
	}, "sealed_contact", "forgotten", "contact.email")
	refused(func(mask string) error {
		_, err := s.UpdateTaxon(ctx, owner, &pb.Taxon{Name: "taxa/masked"}, []string{mask})
		return err
	}, "former_names")
	refused(func(mask string) error {
		_, err := s.UpdateGrant(ctx, owner, &pb.Grant{Name: "grants/masked"}, []string{mask})
		return err
	}, "scope.tables", "scope.expanded_territories", "scope.expanded_media")
}

// Every field of every record that has an update is either the server's or can be set by the mask alone and by "*".
func TestMaskReachesEveryField(t *testing.T) {
	for _, r := range []Record{&pb.Picture{}, &pb.Specimen{}, &pb.Taxon{}, &pb.Grant{}} {
		fields := r.ProtoReflect().Descriptor().Fields()
		for i := range fields.Len() {
			f := fields.Get(i)
			given := r.ProtoReflect().New()
			filled(given, f)
			for _, mask := range []string{string(f.Name()), "*"} {
				next, err := overlay(r, given.Interface().(Record), []string{mask}, nil)
				switch owned := serverOwned[string(f.Name())]; {
				case owned && mask != "*":
					wantViolation(t, err, "update_mask")
				case err != nil:
					t.Errorf("%s by %q: %v", f.FullName(), mask, err)
				case owned == next.ProtoReflect().Has(f):
					t.Errorf("%s by %q: set %v; the server's own %v", f.FullName(), mask, !owned, owned)
				}
			}
		}
	}
}

// filled sets a field to something.
func filled(m protoreflect.Message, f protoreflect.FieldDescriptor) {
	switch {
	case f.IsList() && f.Kind() == protoreflect.MessageKind:
		m.Mutable(f).List().AppendMutable()
	case f.IsList():
		m.Mutable(f).List().Append(protoreflect.ValueOfString("x"))
	case f.Kind() == protoreflect.MessageKind:
		m.Mutable(f)
	case f.Kind() == protoreflect.StringKind:
		m.Set(f, protoreflect.ValueOfString("x"))
	case f.Kind() == protoreflect.BoolKind:
		m.Set(f, protoreflect.ValueOfBool(true))
	case f.Kind() == protoreflect.EnumKind:
		m.Set(f, protoreflect.ValueOfEnum(1))
	case f.Kind() == protoreflect.Int32Kind:
		m.Set(f, protoreflect.ValueOfInt32(1))
	case f.Kind() == protoreflect.Int64Kind:
		m.Set(f, protoreflect.ValueOfInt64(1))
	}
}

// A party's contact is replaced whole, kept while others change, and removed by an empty one.
func TestContactMask(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	p := press()
	p.Contact = &pb.Contact{Person: "R. Reed", Email: "reed@example.org"}
	p = must[*pb.Party](t)(s.CreateParty(ctx, owner, p, "reed-press"))
	change := func(mask []string, next *pb.Party) *pb.Party {
		t.Helper()
		next.Name = p.GetName()
		must[*pb.Party](t)(s.UpdateParty(ctx, owner, next, mask))
		return must[*pb.Party](t)(s.GetParty(context.Background(), p.GetName()))
	}
	if got := change([]string{"role"}, &pb.Party{Role: "magazine", Contact: &pb.Contact{Email: "ignored@example.org"}}); got.GetContact().GetEmail() != "reed@example.org" || got.GetRole() != "magazine" {
		t.Errorf("contact not kept: %v", got)
	}
	if got := change([]string{"contact"}, &pb.Party{Contact: &pb.Contact{Telephone: "0"}}); !proto.Equal(got.GetContact(), &pb.Contact{Telephone: "0"}) || got.GetRole() != "magazine" {
		t.Errorf("contact not replaced whole: %v", got)
	}
	if got := change([]string{"*"}, &pb.Party{DisplayName: "Reed", Contact: &pb.Contact{Person: "S. Reed"}}); got.GetContact().GetPerson() != "S. Reed" || got.GetRole() != "" || got.GetDisplayName() != "Reed" {
		t.Errorf("all: %v", got)
	}
	if got := change([]string{"contact"}, &pb.Party{}); got.GetContact() != nil || got.GetForgotten() {
		t.Errorf("contact not removed: %v", got)
	}
	_, err := s.UpdateParty(ctx, owner, &pb.Party{Name: p.GetName(), Contact: &pb.Contact{Email: string(slices.Repeat([]byte("x"), maxWord+1))}}, []string{"contact"})
	wantViolation(t, err, "contact.email")
}
