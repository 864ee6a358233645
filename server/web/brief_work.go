package web

import (
	"net/http"
	"slices"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// briefStudy logs a study drawn for a brief, or takes it out.
func (s *Site) briefStudy(v *visit) error {
	f := v.sent()
	picture := in("pictures", f.Value("picture"))
	err := s.amendBrief(v, v.named("briefs"), "studies", func(b *pb.Brief) {
		b.Studies = slices.DeleteFunc(b.Studies, func(st *pb.BriefStudy) bool { return st.GetPicture() == picture })
		if f.Value("do") != "remove" {
			b.Studies = append(b.Studies, &pb.BriefStudy{Picture: picture, Structures: f.values("structure"), Note: f.Value("note")})
		}
	})
	if err := f.refused(err, map[string]string{"studies": "picture"}); err != nil {
		return err
	}
	if f.Faults() {
		return s.showBrief(v, http.StatusBadRequest, f, v.blank(nil), v.blank(nil))
	}
	return v.redirect("/" + v.named("briefs") + "#studies")
}

// briefCheck ticks a structure whose count was verified, or takes a tick back.
func (s *Site) briefCheck(v *visit) error {
	f := v.sent()
	on := f.Value("on")
	if on == "" {
		on = s.conf.Now().Format("2006-01-02")
	}
	tick := &pb.CheckedCount{Structure: f.Value("structure"), Formula: f.Value("formula"), CheckedBy: f.Value("by"), CheckedOn: on, Against: f.Value("against"), Note: f.Value("note")}
	n, kept := 0, 0
	err := s.amendBrief(v, v.named("briefs"), "checked", func(b *pb.Brief) {
		kept = len(b.GetChecked())
		if f.Value("do") == "remove" {
			b.Checked = slices.DeleteFunc(b.Checked, func(c *pb.CheckedCount) bool {
				return c.GetStructure() == tick.GetStructure() && c.GetFormula() == tick.GetFormula() && c.GetCheckedBy() == tick.GetCheckedBy() && c.GetCheckedOn() == tick.GetCheckedOn()
			})
			return
		}
		b.Checked = append(b.Checked, tick)
		n = kept
	})
	at := map[string]string{"checked": "structure"}
	for field, name := range map[string]string{"structure": "structure", "formula": "formula", "checked_by": "by", "checked_on": "on", "against": "against", "note": "note"} {
		at[pathOf("checked", n, field)] = name
	}
	at[pathOf("checked", n, "")] = "formula" // what a formula can't be read as
	if err := f.refused(err, at); err != nil {
		return err
	}
	if f.Faults() {
		return s.showBrief(v, http.StatusBadRequest, v.blank(nil), f, v.blank(nil))
	}
	return v.redirect("/" + v.named("briefs") + "#checked")
}

// briefDeliver records the plate delivered.
func (s *Site) briefDeliver(v *visit) error {
	f := v.sent()
	plate := in("pictures", f.Value("plate"))
	if plate == "" {
		f.blame("plate", "is empty; want the plate delivered")
	} else {
		_, err := s.services.commission.DeliverBrief(v.ctx(), &pb.DeliverBriefRequest{Name: v.named("briefs"), Plate: plate, Copied: f.values("copied"), RequestId: f.Value("once")})
		if err := f.refused(err, map[string]string{"plate": "plate", "copied": "copied"}); err != nil {
			return err
		}
	}
	if f.Faults() {
		return s.showBrief(v, http.StatusBadRequest, v.blank(nil), v.blank(nil), f)
	}
	return v.redirect("/" + v.named("briefs"))
}

// briefDelete deletes a brief that was not delivered.
func (s *Site) briefDelete(v *visit) error {
	if _, err := s.services.commission.DeleteBrief(v.ctx(), &pb.DeleteBriefRequest{Name: v.named("briefs"), Etag: v.sent().Value("etag")}); err != nil {
		return err
	}
	return v.redirect("/briefs")
}

// sameStructure compares names of structures as the server folds them.
func sameStructure(a, b string) bool {
	fold := func(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }
	return fold(a) == fold(b)
}
