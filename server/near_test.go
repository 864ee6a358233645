package server

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// blot is a picture of some width; two with the same turn look alike, whatever their widths.
func blot(t *testing.T, width int, turn float64) []byte {
	t.Helper()
	height := width / 2
	img := image.NewGray(image.Rect(0, 0, width, height))
	for y := range height {
		for x := range width {
			u, v := float64(x)/float64(width), float64(y)/float64(height)
			shade := 0.5 + 0.5*math.Sin(7*u*math.Cos(turn)+9*v*math.Sin(turn)+turn)*math.Cos(5*v-3*turn*u)
			img.SetGray(x, y, color.Gray{Y: uint8(255 * shade)})
		}
	}
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// TestNearCopies: a redraw, what lies beyond it, and a scan that looks the same are asked about first; a study that only gave facts, and another plate, aren't.
func TestNearCopies(t *testing.T) {
	r := desk(t)
	reed, moor := r.party(t, "reed-press"), r.party(t, "moor-books")
	from := func(source string, role pb.DerivationRole) func(*pb.Picture) {
		return func(p *pb.Picture) { p.DerivedFrom = []*pb.Derivation{{Picture: source, Role: role}} }
	}
	scanned := func(width int, turn float64) func(*pb.Picture) {
		sum := upload(t, r.owner, blot(t, width, turn), "scan.png")
		return func(p *pb.Picture) { p.Original = &pb.Original{Sha256: sum} }
	}
	study := r.picture(t, "study", nil)
	plate := r.picture(t, "plate", func(p *pb.Picture) {
		from(study, 0)(p)
		scanned(600, 0.3)(p)
	})
	redraw := r.picture(t, "redraw", from(plate, pb.DerivationRole_DERIVATION_ROLE_COPIED))
	sister := r.picture(t, "sister", from(study, 0))
	twin := r.picture(t, "twin", scanned(440, 0.3))
	counted := r.picture(t, "counted", from(plate, pb.DerivationRole_DERIVATION_ROLE_FACT_SOURCE))
	other := r.picture(t, "other", scanned(600, 2.1))
	waitPreviews(t, r.owner)
	if res := ask(t, r.owner, twin, 0); res.GetAnswer() != "yes" {
		t.Errorf("before the grant the twin is %v; want yes", res)
	}
	r.grant(t, exclusively(agreement("whole", reed, plate)))
	outsider := r.as(t, pb.Role_ROLE_PUBLISHER, moor)
	for name, want := range map[string]string{plate: "no", study: "check", redraw: "check", sister: "check", twin: "check", counted: "yes", other: "yes"} {
		res := ask(t, r.owner, name, 0)
		text := strings.Join(res.GetExplanations(), "; ")
		if res.GetAnswer() != want || want == "check" && (res.GetCode() != "NEAR_COPY" || !strings.Contains(text, "grants/whole") || !strings.Contains(text, plate)) {
			t.Errorf("%s: %v; want %s", name, res, want)
		}
		if name != plate && want == "check" && name != study {
			if told := ask(t, outsider, name, 0); told.GetAnswer() != "check" || strings.Contains(told.String(), "whole") || strings.Contains(told.String(), plate) {
				t.Errorf("a publisher is told %v of %s; want check and no name", told, name)
			}
		}
	}
	if g := r.grant(t, agreement("beside", moor, twin)); len(g.GetWarnings()) != 1 || !strings.Contains(g.GetWarnings()[0], "grants/whole") {
		t.Errorf("a grant over the twin warns of %q; want grants/whole named", g.GetWarnings())
	}
	if g := ok[*pb.Grant](t)(r.owner.Licensing.GetGrant(t.Context(), &pb.GetGrantRequest{Name: "grants/beside"})); len(g.GetWarnings()) > 0 {
		t.Errorf("the warning was stored: %q", g.GetWarnings())
	}
	if g := r.grant(t, agreement("own-house", reed, twin)); len(g.GetWarnings()) > 0 {
		t.Errorf("the holder of the exclusive is warned of it: %q", g.GetWarnings())
	}
	r.stop()
	conf := r.conf
	conf.Cache = t.TempDir()
	again := start(t, conf)
	again.eventually(t, func() bool { return ask(t, again.owner, twin, 0).GetAnswer() == "check" }, "after a start the twin is known again")
}

// TestPublicLicences: what everybody may do makes exclusive grants hollow, so whoever records it is told which.
func TestPublicLicences(t *testing.T) {
	r := desk(t)
	plate, free := r.picture(t, "plate", nil), r.picture(t, "free", nil)
	r.grant(t, exclusively(agreement("whole", r.party(t, "reed-press"), plate)))
	state := func(name, uri string) *pb.Picture {
		return ok[*pb.Picture](t)(r.owner.Archive.UpdatePicture(t.Context(), &pb.UpdatePictureRequest{
			Picture: &pb.Picture{Name: name, RightsStatement: uri}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"rights_statement"}},
		}))
	}
	p := state(plate, "http://creativecommons.org/licenses/by/4.0/deed.de")
	if p.GetRightsStatement() != "https://creativecommons.org/licenses/by/4.0/" || len(p.GetWarnings()) != 1 || !strings.HasPrefix(p.GetWarnings()[0], "grants/whole ") {
		t.Errorf("got %q with %q; want the one form and a warning of grants/whole", p.GetRightsStatement(), p.GetWarnings())
	}
	if p := state(free, "http://creativecommons.org/licenses/by/4.0"); len(p.GetWarnings()) > 0 {
		t.Errorf("a free picture warns of %q", p.GetWarnings())
	}
	if p := state(plate, "http://rightsstatements.org/page/InC/1.0/"); p.GetRightsStatement() != "http://rightsstatements.org/vocab/InC/1.0/" || len(p.GetWarnings()) > 0 {
		t.Errorf("in copyright: got %q with %q", p.GetRightsStatement(), p.GetWarnings())
	}
	public := func(status pb.GrantStatus, works ...string) *pb.CreateGrantRequest {
		req := agreement("", "", works...)
		req.Grant.Kind, req.Grant.Status, req.Grant.PublicLicence = pb.GrantKind_GRANT_KIND_PUBLIC, status, "http://creativecommons.org/licenses/by/4.0"
		return req
	}
	draft := r.grant(t, public(pb.GrantStatus_GRANT_STATUS_DRAFT, plate, free))
	if len(draft.GetWarnings()) != 1 || draft.GetPublicLicence() != "https://creativecommons.org/licenses/by/4.0/" {
		t.Errorf("a draft for everybody: %v; want one warning and the one form", draft)
	}
	_, err := r.owner.Licensing.CreateGrant(t.Context(), public(pb.GrantStatus_GRANT_STATUS_EXECUTED, plate, free))
	wantReason(t, err, "GRANT_COLLISION")
}

// TestOldContractsThatCollide are recorded by the owner alone, with what they collide with, and can be paid and ended.
func TestOldContractsThatCollide(t *testing.T) {
	r := desk(t)
	reed, moor := r.party(t, "reed-press"), r.party(t, "moor-books")
	plate := r.picture(t, "plate", nil)
	r.grant(t, exclusively(agreement("first", reed, plate)))
	second := exclusively(agreement("second", moor, plate))
	second.Grant.CollidesWith = []string{"grants/invented"}
	_, err := r.owner.Licensing.CreateGrant(t.Context(), second)
	wantReason(t, err, "GRANT_COLLISION")
	second.AllowCollision = true
	_, err = r.as(t, pb.Role_ROLE_ASSISTANT, "").Licensing.CreateGrant(t.Context(), second)
	wantReason(t, err, "ROLE")
	if g := r.grant(t, second); len(g.GetCollidesWith()) != 1 || g.GetCollidesWith()[0] != "grants/first" {
		t.Errorf("collides with %q; want grants/first", g.GetCollidesWith())
	}
	for _, name := range []string{"grants/first", "grants/second"} {
		ok[*pb.Grant](t)(r.owner.Licensing.UpdateGrant(t.Context(), &pb.UpdateGrantRequest{
			Grant: &pb.Grant{Name: name, PaidOn: "2026-05-01"}, UpdateMask: &fieldmaskpb.FieldMask{Paths: []string{"paid_on"}},
		}))
	}
	_, err = r.owner.Licensing.CreateGrant(t.Context(), exclusively(agreement("third", r.party(t, "third-house"), plate)))
	wantReason(t, err, "GRANT_COLLISION")
	h := ok[*pb.History](t)(r.owner.Licensing.GetHistory(t.Context(), &pb.GetHistoryRequest{Picture: plate}))
	if !strings.Contains(h.String(), "recorded although it collides with grants/first") {
		t.Errorf("history is silent about the collision: %v", h)
	}
	mine := ok[*pb.Grant](t)(r.as(t, pb.Role_ROLE_PUBLISHER, moor).Licensing.GetGrant(t.Context(), &pb.GetGrantRequest{Name: "grants/second"}))
	if len(mine.GetCollidesWith()) > 0 {
		t.Errorf("a publisher sees %q", mine.GetCollidesWith())
	}
}
