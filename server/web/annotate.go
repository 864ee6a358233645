package web

import (
	"cmp"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
	"platarium/server/scale"
)

// markedUp is what the page for marking a picture shows.
type markedUp struct {
	Picture *pb.Picture // as stored
	Name    string
	Token   string
	Entry   entry
	Wrong   map[string]string // by field
	Other   string            // what is wrong beside the fields
	Stale   bool              // somebody else changed the picture meanwhile
	Saved   bool
	Looked  bool   // the formula was asked for before saving
	Formula string // that would be saved
	Tallies []tally
	Verdict []*pb.CountVerdict
	Scale   *pb.PictureScale
	Fins    []string
	Usual   []string // landmarks
	Parts   []string // structures
	States  []string // of completeness
}

// entry is the form as it is typed or was sent.
type entry struct {
	Etag                          string
	Landmarks, Structures         string
	X1, Y1, X2, Y2, Length, Basis string
	Formula                       string
	Counted                       string // fins whose counts go into the formula
}

// usualLandmarks are those from which the usual lengths are measured, in the order in which they are placed.
var usualLandmarks = []string{
	scale.SnoutTip, scale.HypuralEnd, scale.Fork, scale.TailTip, scale.DorsalOrigin, scale.AnalOrigin, scale.OpercleEdge, scale.EyeFront, scale.EyeRear, scale.Back, scale.Belly,
}

// usualParts are structures that plates usually show; a picture's taxon may want more.
var usualParts = []string{
	"head", "mouth", "eye", "opercle", "preopercle", "gill rakers", "first dorsal fin", "second dorsal fin", "dorsal fin", "adipose fin", "anal fin", "caudal fin", "pectoral fin", "pelvic fin", "body", "lateral line", "scales", "barbel",
}

func (s *Site) annotate(v *visit) error {
	p, err := s.markable(v)
	if err != nil {
		return err
	}
	page := markedUp{Picture: p, Entry: entryOf(p), Saved: v.r.URL.Query().Has("saved")}
	return s.showMarks(v, http.StatusOK, &page)
}

// markable reads a picture for those who may change it; to others the page isn't there.
func (s *Site) markable(v *visit) (*pb.Picture, error) {
	if !v.staff() {
		return nil, errNoPage
	}
	return s.services.archive.GetPicture(v.ctx(), &pb.GetPictureRequest{Name: v.named("pictures")})
}

func entryOf(p *pb.Picture) entry {
	s := paperOf(p)
	e := entry{Etag: p.GetEtag(), Landmarks: s.landmarkText(p.GetLandmarks()), Structures: s.structureText(p.GetStructures()), Formula: p.GetCounts().GetFormula()}
	if c := p.GetCalibration(); c != nil {
		e.X1, e.Y1, e.X2, e.Y2 = pixels(c.GetX1(), s.width), pixels(c.GetY1(), s.height), pixels(c.GetX2(), s.width), pixels(c.GetY2(), s.height)
		e.Length, e.Basis = strconv.FormatFloat(c.GetLengthMm(), 'f', -1, 64), c.GetBasis()
	}
	return e
}

// showMarks shows the page with a form.
func (s *Site) showMarks(v *visit, code int, page *markedUp) (err error) {
	p := page.Picture
	page.Token, page.Usual, page.Parts, page.States = v.token, usualLandmarks, usualParts, words[pb.Completeness]()
	for _, c := range countable {
		page.Fins = append(page.Fins, c.Fin)
	}
	if page.Name, err = s.accepted(v, p.GetIdentification().GetTaxon(), p.GetIdentification().GetScientificName()); err != nil {
		return err
	}
	check, err := s.services.commission.CheckPicture(v.ctx(), &pb.CheckPictureRequest{Name: p.GetName()})
	if err := missing(err); err != nil {
		return err
	}
	page.Scale = check.GetScale()
	return v.show(code, "annotate.html", "Mark "+p.GetTitle(), page)
}

// saveMarks stores what was marked, or shows what the formula would be.
func (s *Site) saveMarks(v *visit) error {
	p, err := s.markable(v)
	if err != nil {
		return err
	}
	f := func(name string) string { return strings.TrimSpace(v.r.PostFormValue(name)) }
	page := markedUp{Picture: p, Wrong: map[string]string{}, Entry: entry{
		Etag: f("etag"), Landmarks: f("landmarks"), Structures: f("structures"), X1: f("x1"), Y1: f("y1"), X2: f("x2"), Y2: f("y2"), Length: f("mm"), Basis: f("basis"), Formula: f("formula"), Counted: f("counted"),
	}}
	base, err := s.markedFrom(v, p, page.Entry.Etag)
	if err != nil {
		return err
	}
	mine := page.read(base)
	if mine != nil && f("do") == "look" {
		return s.look(v, &page)
	}
	if mine == nil {
		return s.refuse(v, http.StatusBadRequest, &page)
	}
	if page.Entry.Etag != p.GetEtag() {
		if f("do") != "merge" {
			page.Stale = true
			return s.refuse(v, http.StatusConflict, &page)
		}
		mine = merge(base, mine, p)
		base = p
	}
	return s.store(v, &page, base, mine)
}

// markedFrom is the picture as it was when the form was made.
func (s *Site) markedFrom(v *visit, now *pb.Picture, etag string) (*pb.Picture, error) {
	if etag == now.GetEtag() {
		return now, nil
	}
	req := &pb.ListRevisionsRequest{Name: now.GetName()}
	for {
		res, err := s.services.archive.ListRevisions(v.ctx(), req)
		if err != nil {
			return nil, err
		}
		for _, r := range res.GetRevisions() {
			if was := r.GetChange().GetPicture(); was.GetEtag() == etag || strconv.FormatInt(was.GetRevision(), 10) == etag {
				return was, nil
			}
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
			return now, nil // from nowhere: what is typed counts as it stands
		}
	}
}

// read turns the form into a picture; nil if something is wrong with it.
func (m *markedUp) read(base *pb.Picture) *pb.Picture {
	e, s := m.Entry, paperOf(base)
	out := &pb.Picture{Name: base.GetName(), Etag: base.GetEtag(), Counts: base.GetCounts()}
	var err error
	if out.Landmarks, err = s.readLandmarks(e.Landmarks, base.GetLandmarks()); err != nil {
		m.Wrong["landmarks"] = err.Error()
	}
	if out.Structures, err = s.readStructures(e.Structures, base.GetStructures()); err != nil {
		m.Wrong["structures"] = err.Error()
	}
	if out.Calibration, err = e.calibration(base, s); err != nil {
		m.Wrong["scale"] = err.Error()
	}
	m.Formula = e.Formula
	for _, fin := range listed(e.Counted) {
		m.Tallies = append(m.Tallies, tallied(strings.ToLower(fin), out.GetLandmarks()))
	}
	if m.Formula, err = counted(e.Formula, m.Tallies); err != nil {
		m.Wrong["counted"] = err.Error()
	}
	if m.Formula != base.GetCounts().GetFormula() {
		out.Counts = &pb.Counts{Formula: m.Formula}
	}
	if len(m.Wrong) > 0 {
		return nil
	}
	return out
}

var errScale = errors.New("want both ends within the scan and the length between them in mm, or nothing at all")

func (e entry) calibration(base *pb.Picture, s paper) (*pb.Calibration, error) {
	if e.X1+e.Y1+e.X2+e.Y2+e.Length == "" {
		return nil, nil
	}
	if old := entryOf(base); old.X1 == e.X1 && old.Y1 == e.Y1 && old.X2 == e.X2 && old.Y2 == e.Y2 && old.Length == e.Length && old.Basis == e.Basis {
		return base.GetCalibration(), nil
	}
	at, err := s.points(strings.Join([]string{e.X1, e.Y1, e.X2, e.Y2}, ","), 4)
	mm, bad := strconv.ParseFloat(strings.Replace(e.Length, ",", ".", 1), 64)
	if err != nil || bad != nil || !(mm > 0) || at[0] == at[2] && at[1] == at[3] {
		return nil, errScale
	}
	return &pb.Calibration{X1: at[0], Y1: at[1], X2: at[2], Y2: at[3], LengthMm: mm, Basis: e.Basis}, nil
}

func wantsJSON(r *http.Request) bool {
	return strings.HasPrefix(r.Header.Get("Accept"), "application/json")
}

// refuse shows the form again as it was typed.
func (s *Site) refuse(v *visit, code int, page *markedUp) error {
	if wantsJSON(v.r) {
		text := page.Other
		for _, name := range []string{"landmarks", "structures", "scale", "counted", "formula"} {
			text = cmp.Or(text, page.Wrong[name])
		}
		writeJSON(v.w, code, map[string]any{"error": text, "stale": page.Stale})
		return nil
	}
	return s.showMarks(v, code, page)
}

// store writes those fields that changed.
func (s *Site) store(v *visit, page *markedUp, base, mine *pb.Picture) error {
	var paths []string
	if !slices.EqualFunc(base.GetLandmarks(), mine.GetLandmarks(), func(a, b *pb.Landmark) bool { return proto.Equal(a, b) }) {
		paths = append(paths, "landmarks")
	}
	if !slices.EqualFunc(base.GetStructures(), mine.GetStructures(), func(a, b *pb.Structure) bool { return proto.Equal(a, b) }) {
		paths = append(paths, "structures")
	}
	if !proto.Equal(base.GetCalibration(), mine.GetCalibration()) {
		paths = append(paths, "calibration")
	}
	if base.GetCounts().GetFormula() != mine.GetCounts().GetFormula() {
		paths = append(paths, "counts")
	}
	if len(paths) > 0 {
		_, err := s.services.archive.UpdatePicture(v.ctx(), &pb.UpdatePictureRequest{Picture: mine, UpdateMask: &fieldmaskpb.FieldMask{Paths: paths}})
		switch status.Code(err) {
		case codes.OK:
		case codes.Aborted: // changed between our reading and our writing
			page.Stale = true
			return s.refuse(v, http.StatusConflict, page)
		case codes.InvalidArgument, codes.FailedPrecondition:
			page.blame(err)
			return s.refuse(v, http.StatusBadRequest, page)
		default:
			return err
		}
	}
	return v.redirect(v.r.URL.Path + "?saved")
}

// blame puts what the archive found wrong beside the field that it belongs to.
func (m *markedUp) blame(err error) {
	m.Other = status.Convert(err).Message()
	for _, d := range status.Convert(err).Details() {
		bad, _ := d.(*errdetails.BadRequest)
		for _, f := range bad.GetFieldViolations() {
			for part, field := range map[string]string{"landmarks": "landmarks", "structures": "structures", "calibration": "scale", "counts": "formula"} {
				if strings.Contains(f.GetField(), part) {
					m.Wrong[field] = f.GetDescription()
				}
			}
		}
	}
}
