package web

import (
	"cmp"
	"errors"
	"io"
	"net/http"
	"slices"
	"strconv"

	pb "platarium/proto/platarium/v1"
)

// planned is what the page of a plan shows.
type planned struct {
	*pb.Plan
	Token     string
	Brief     *pb.Brief
	Parts     []plannedPart
	Body      *candidate
	Composite *composite
	Maps      []rayDrawing
	Gaps      int
	Few       bool // fewer candidates than there may be are shown
	Delivered bool
}

// plannedPart is a structure with its candidates.
type plannedPart struct {
	*pb.PlanStructure
	Anchor     string
	Candidates []candidate
	Expected   []*pb.ExpectedCount
	LeftOut    []chosenFor // by hand
}

// candidate is a picture that can serve.
type candidate struct {
	*pb.PlanCandidate
	Structure string
	Crop      *crop
	ByHand    string // chosen or left out, if a person said so
}

// Cautions are the warnings about its scale and about it.
func (c candidate) Cautions() []string {
	return slices.Concat(c.GetScale().GetWarnings(), c.GetWarnings())
}

// candidatesShown and candidatesAll are how many candidates a structure is shown with, at first and when more are asked for.
const (
	candidatesShown = 4
	candidatesAll   = 12
)

// plan makes the plan of a brief and shows it.
func (s *Site) plan(v *visit) error {
	name := v.named("briefs")
	b, err := s.services.commission.GetBrief(v.ctx(), &pb.GetBriefRequest{Name: name})
	if err != nil {
		return err
	}
	most := int32(candidatesShown)
	if v.r.URL.Query().Get("candidates") == "all" {
		most = candidatesAll
	}
	p, err := s.services.commission.MakePlan(v.ctx(), &pb.MakePlanRequest{Brief: name, Candidates: most})
	if err != nil {
		return err
	}
	page := planned{Plan: p, Token: v.token, Brief: b, Few: most == candidatesShown, Delivered: b.GetPlate() != ""}
	for _, part := range p.GetStructures() {
		one := plannedPart{PlanStructure: part, Anchor: anchor(part.GetStructure())}
		for _, c := range part.GetCandidates() {
			one.Candidates = append(one.Candidates, newCandidate(b, part.GetStructure(), c))
		}
		for _, e := range p.GetExpected() {
			if e.GetStructure() == part.GetStructure() {
				one.Expected = append(one.Expected, e)
			}
		}
		if one.LeftOut, err = s.leftOut(v, b, part); err != nil {
			return err
		}
		if part.GetGap() != "" {
			page.Gaps++
		}
		page.Parts = append(page.Parts, one)
	}
	if p.GetBody() != nil {
		body := newCandidate(b, "", p.GetBody())
		page.Body = &body
	}
	page.Composite = compose(p)
	for _, m := range p.GetRayMaps() {
		page.Maps = append(page.Maps, drawRays(m))
	}
	return v.show(http.StatusOK, "plan.html", "Plan: "+p.GetTitle(), page)
}

// leftOut lists the pictures that a person left out for a structure and that therefore are no candidates.
func (s *Site) leftOut(v *visit, b *pb.Brief, part *pb.PlanStructure) ([]chosenFor, error) {
	var out []chosenFor
	for _, ch := range b.GetChoices() {
		listed := slices.ContainsFunc(part.GetCandidates(), func(c *pb.PlanCandidate) bool { return c.GetPicture().GetName() == ch.GetPicture() })
		if !ch.GetLeftOut() || listed || !sameStructure(ch.GetStructure(), part.GetStructure()) {
			continue
		}
		p, err := s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: ch.GetPicture()})
		if err := missing(err); err != nil {
			return nil, err
		}
		out = append(out, chosenFor{ch, p})
	}
	return out, nil
}

func newCandidate(b *pb.Brief, structure string, c *pb.PlanCandidate) candidate {
	out := candidate{PlanCandidate: c, Structure: structure, Crop: cropOf(c.GetPicture(), c.GetRegion(), c.GetMirror())}
	i := slices.IndexFunc(b.GetChoices(), func(ch *pb.Choice) bool {
		return ch.GetPicture() == c.GetPicture().GetName() && sameStructure(ch.GetStructure(), structure)
	})
	if i >= 0 {
		out.ByHand = "chosen"
		if b.GetChoices()[i].GetLeftOut() {
			out.ByHand = "left out"
		}
	}
	return out
}

// planChoose chooses a candidate, leaves it out or lets the plan decide again, and shows the plan made anew.
func (s *Site) planChoose(v *visit) error {
	f := v.sent()
	structure := f.Value("structure")
	err := s.amendBrief(v, v.named("briefs"), "choices", func(b *pb.Brief) {
		amendChoice(b, structure, f.Value("picture"), f.Value("do"), f.Value("note"))
	})
	if err != nil {
		return err
	}
	to := "/" + v.named("briefs")
	if f.Value("back") == "brief" {
		return v.redirect(to + "#choices")
	}
	to += "/plan"
	if f.Value("candidates") != "" {
		to += "?candidates=all"
	}
	return v.redirect(to + "#" + anchor(structure))
}

// planBody says whose proportions are true to life, and makes the plan anew.
func (s *Site) planBody(v *visit) error {
	body := in("pictures", v.sent().Value("body"))
	if err := s.amendBrief(v, v.named("briefs"), "body", func(b *pb.Brief) { b.Body = body }); err != nil {
		return err
	}
	return v.redirect("/" + v.named("briefs") + "/plan")
}

// planFile sends a plan as sheets to print or as crops.
func (s *Site) planFile(v *visit) error {
	q := v.r.URL.Query()
	req := &pb.ExportPlanRequest{Plan: &pb.MakePlanRequest{Brief: v.named("briefs")}, Format: pb.PlanFormat_PLAN_FORMAT_SHEETS, Paper: valueOf[pb.Paper](q.Get("paper"))}
	if v.r.PathValue("what") == "crops" {
		req.Format, req.CropType = pb.PlanFormat_PLAN_FORMAT_CROPS, q.Get("type")
		depth, err := strconv.ParseInt(cmp.Or(q.Get("depth"), "0"), 10, 32)
		if err != nil {
			return errNoPage
		}
		req.CropDepth = int32(depth)
	} else if v.r.PathValue("what") != "sheets" {
		return errNoPage
	}
	stream, err := s.services.commission.ExportPlan(v.ctx(), req)
	if err != nil {
		return err
	}
	return v.send(stream, "attachment")
}

// download is a file on its way: a header, then its bytes.
type download interface {
	Recv() (*pb.DownloadResponse, error)
}

// send passes a file on to the visitor.
func (v *visit) send(stream download, disposition string) error {
	first, err := stream.Recv()
	if err != nil {
		return err
	}
	head := first.GetHeader()
	h := v.w.Header()
	h.Set("Content-Type", head.GetMediaType())
	if head.GetSize() > 0 {
		h.Set("Content-Length", strconv.FormatInt(head.GetSize(), 10))
	}
	h.Set("Content-Disposition", disposition+"; filename="+strconv.Quote(safeName(head.GetFileName())))
	for part := first; ; {
		if _, err := v.w.Write(part.GetChunk()); err != nil {
			return nil //nolint:nilerr // the visitor has gone, and there is nobody to tell
		}
		if part, err = stream.Recv(); errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			v.site.conf.Log.Warn("a file broke off", "path", v.r.URL.Path, "error", err)
			panic(http.ErrAbortHandler) // half a file must not pass for a whole one
		}
	}
}
