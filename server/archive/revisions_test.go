package archive

import (
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/timestamppb"

	pb "platarium/proto/platarium/v1"
)

func setField(r Record, field, value string) {
	m := r.ProtoReflect()
	m.Set(m.Descriptor().Fields().ByName(protoreflect.Name(field)), protoreflect.ValueOfString(value))
}

func clearField(r Record, field string) {
	m := r.ProtoReflect()
	m.Clear(m.Descriptor().Fields().ByName(protoreflect.Name(field)))
}

func setName(r Record, name string) { setField(r, "name", name) }

func made(s *studio) *timestamppb.Timestamp { return timestamppb.New(s.clock.read()) }

// The past of a record tells who changed what and when, newest first, through deletion and beyond.
func TestRevisions(t *testing.T) {
	s := newStudio(t)
	ctx := t.Context()
	p := must[*pb.Picture](t)(s.CreatePicture(ctx, Caller{Actor: "ada"}, plate(), "told"))
	s.clock.forward(time.Hour)
	p.Title, p.Notes = "Perch, right lateral", "redrawn"
	p = must[*pb.Picture](t)(s.UpdatePicture(ctx, Caller{Actor: "ben"}, p, []string{"title", "notes"}))
	p.Notes = ""
	must[*pb.Picture](t)(s.UpdatePicture(ctx, Caller{Actor: "ada"}, p, []string{"notes"}))
	if err := s.DeletePicture(ctx, Caller{Actor: "ben"}, p.GetName(), ""); err != nil {
		t.Fatal(err)
	}
	must[*pb.Picture](t)(s.CreatePicture(ctx, Caller{Actor: "ada"}, plate(), "told"))

	all, more, err := s.Revisions(ctx, p.GetName(), 0, 10)
	if err != nil || more {
		t.Fatalf("more %v, error %v", more, err)
	}
	want := []struct {
		actor   string
		fields  []string
		deleted bool
	}{
		{"ada", []string{"kind", "title"}, false},
		{"ben", []string{"kind", "title"}, true},
		{"ada", []string{"notes"}, false},
		{"ben", []string{"notes", "title"}, false},
		{"ada", []string{"kind", "title"}, false},
	}
	if len(all) != len(want) {
		t.Fatalf("%d revisions; want %d", len(all), len(want))
	}
	for i, w := range want {
		r := all[i]
		if r.GetActor() != w.actor || !slices.Equal(r.GetChangedFields(), w.fields) || r.GetChange().GetDeleted() != w.deleted {
			t.Errorf("revision %d is by %s, of %q, deleted %v; want %v", i, r.GetActor(), r.GetChangedFields(), r.GetChange().GetDeleted(), w)
		}
		if i > 0 && (r.GetSequence() >= all[i-1].GetSequence() || r.GetTime().AsTime().After(all[i-1].GetTime().AsTime())) {
			t.Errorf("revision %d isn't older than the one before", i)
		}
	}
	if got := all[4].GetTime().AsTime(); !got.Equal(s.clock.read().Add(-time.Hour)) {
		t.Errorf("first revision at %v", got)
	}
	var paged []*pb.Revision
	for before, more := int64(0), true; more; {
		var page []*pb.Revision
		if page, more, err = s.Revisions(ctx, p.GetName(), before, 2); err != nil {
			t.Fatal(err)
		}
		paged = append(paged, page...)
		before = page[len(page)-1].GetSequence()
	}
	if !slices.EqualFunc(paged, all, func(a, b *pb.Revision) bool { return proto.Equal(a, b) }) {
		t.Error("pages together aren't the whole")
	}
	_, _, err = s.Revisions(ctx, "pictures/none-such", 0, 10)
	wantIs(t, err, ErrNotFound)
}
