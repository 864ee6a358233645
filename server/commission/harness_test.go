package commission

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/png"
	"math"
	"testing"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/scale"
	"platarium/storage/dir"
)

var owner = archive.Caller{Actor: "owner-key"}

// studio is an archive under test with its planner.
type studio struct {
	*archive.Archive
	*Planner
	sheets map[[2]int]*pb.Original
}

func newStudio(t testing.TB) *studio {
	t.Helper()
	b, err := dir.Open(t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	clock := func() time.Time { return time.Date(2026, 5, 4, 10, 0, 0, 0, time.UTC) }
	a, err := archive.Open(context.WithoutCancel(t.Context()), archive.Config{Bucket: b, Cache: t.TempDir(), Clock: clock, CheckpointMin: -1})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := a.Close(); err != nil {
			t.Error(err)
		}
	})
	return &studio{Archive: a, Planner: New(a, a.Index()), sheets: map[[2]int]*pb.Original{}}
}

func must[T any](t testing.TB) func(T, error) T {
	t.Helper()
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// scan stores a blank sheet of so many pixels at a resolution, once for all pictures of the size.
func (s *studio) scan(t testing.TB, width, height int, ppi float64) *pb.Original {
	t.Helper()
	if o, ok := s.sheets[[2]int{width, height}]; ok {
		return o
	}
	m := image.NewPaletted(image.Rect(0, 0, width, height), color.Palette{color.White, color.Black})
	var b bytes.Buffer
	if err := (&png.Encoder{CompressionLevel: png.BestSpeed}).Encode(&b, m); err != nil {
		t.Fatal(err)
	}
	const afterHeader = 8 + 25
	meter := uint32(math.Round(ppi / 0.0254))
	body := append([]byte("pHYs"), append(binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, meter), meter), 1)...)
	chunk := binary.BigEndian.AppendUint32(append([]byte{0, 0, 0, 9}, body...), crc32.ChecksumIEEE(body))
	all := append(append(bytes.Clone(b.Bytes()[:afterHeader]), chunk...), b.Bytes()[afterHeader:]...)
	sum := sha256.Sum256(all)
	if _, err := s.StoreOriginal(t.Context(), bytes.NewReader(all), int64(len(all)), sum); err != nil {
		t.Fatal(err)
	}
	o := &pb.Original{Sha256: hex.EncodeToString(sum[:])}
	s.sheets[[2]int{width, height}] = o
	return o
}

// picture makes a left lateral study; change says what else it is.
func (s *studio) picture(t testing.TB, id, species string, change func(*pb.Picture)) {
	t.Helper()
	p := &pb.Picture{
		Kind: pb.Kind_KIND_STUDY, Title: species + ", " + id, Identification: &pb.Identification{ScientificName: species}, View: pb.View_VIEW_LEFT_LATERAL,
		Stage: pb.Stage_STAGE_OUTLINE, RightsHolder: "Studio Ebbvik", Original: s.scan(t, 3000, 1200, 600),
	}
	if change != nil {
		change(p)
	}
	must[*pb.Picture](t)(s.CreatePicture(t.Context(), owner, p, id))
}

// shows adds structures, shown so.
func shows(p *pb.Picture, c pb.Completeness, names ...string) {
	for _, n := range names {
		p.Structures = append(p.Structures, &pb.Structure{Structure: n, Completeness: c, Region: &pb.Region{X: 0.3, Y: 0.1, Width: 0.4, Height: 0.3}})
	}
}

// profile sets the landmarks of a body seen from the left: standard length from 0.1 to 0.8 of the width, head and depth as shares of it.
func profile(p *pb.Picture, width, height int, head, depth float64) {
	along := func(share float64) float64 { return 0.1 + 0.7*share }
	sl := 0.7 * float64(width)
	half := depth * sl / float64(height) / 2
	for name, at := range map[string][2]float64{
		scale.SnoutTip: {along(0), 0.5}, scale.HypuralEnd: {along(1), 0.5}, scale.TailTip: {along(1.2), 0.5}, scale.OpercleEdge: {along(head), 0.5},
		scale.Back: {along(0.4), 0.5 - half}, scale.Belly: {along(0.4), 0.5 + half}, scale.DorsalOrigin: {along(0.36), 0.5 - half}, scale.AnalOrigin: {along(0.66), 0.5 + half},
	} {
		p.Landmarks = append(p.Landmarks, &pb.Landmark{Landmark: name, X: at[0], Y: at[1]})
	}
}

// bases marks the spines and rays of a fin along the back, evenly.
func bases(p *pb.Picture, fin string, spines, rays int) {
	n := spines + rays
	for i := range n {
		name := scale.BaseName(fin, true, i+1)
		if i >= spines {
			name = scale.BaseName(fin, false, i-spines+1)
		}
		x := 0.1 + 0.7*(0.36+0.5*float64(i)/float64(n-1))
		p.Landmarks = append(p.Landmarks, &pb.Landmark{Landmark: name, X: x, Y: 0.2})
	}
}

// bar is a scale bar below the animal.
func bar(share, mm float64) *pb.Calibration {
	return &pb.Calibration{X1: 0.1, Y1: 0.95, X2: 0.1 + share, Y2: 0.95, LengthMm: mm, Basis: "scale bar"}
}

func (s *studio) specimen(t testing.TB, id, species string, sl, tl float64, change func(*pb.Specimen)) {
	t.Helper()
	sp := &pb.Specimen{Institution: "Lakeside Museum", CatalogNumber: "LM " + id, Identification: &pb.Identification{ScientificName: species}}
	for code, mm := range map[string]float64{"SL": sl, "TL": tl} {
		if mm > 0 {
			sp.Measurements = append(sp.Measurements, &pb.Measurement{Measurement: code, ValueMm: mm})
		}
	}
	if change != nil {
		change(sp)
	}
	must[*pb.Specimen](t)(s.CreateSpecimen(t.Context(), owner, sp, id))
}

// diagnose enters invented counts and proportions of a species of the base.
func (s *studio) diagnose(t testing.TB, species, formula string, proportions ...*pb.Proportion) {
	t.Helper()
	found := s.Taxa().Match(species, 1)
	if len(found) == 0 || found[0].Name != species {
		t.Fatalf("%s isn't in the base", species)
	}
	rec := must[*pb.Taxon](t)(s.GetTaxon(taxaPrefix + found[0].ID))
	rec.Diagnoses = []*pb.Diagnosis{{Counts: &pb.Counts{Formula: formula}, Proportions: proportions, Citation: "Key of the tests", Provenance: "invented"}}
	must[*pb.Taxon](t)(s.UpdateTaxon(t.Context(), owner, rec, []string{"diagnoses"}))
}

func (s *studio) plan(t testing.TB, b *pb.Brief, candidates int32) *pb.Plan {
	t.Helper()
	return must[*pb.Plan](t)(s.MakePlan(t.Context(), &pb.MakePlanRequest{Draft: b, Candidates: candidates}))
}

// structureOf finds a structure of a plan.
func structureOf(t testing.TB, p *pb.Plan, name string) *pb.PlanStructure {
	t.Helper()
	for _, s := range p.GetStructures() {
		if s.GetStructure() == name {
			return s
		}
	}
	t.Fatalf("the plan has no %s", name)
	return nil
}

// candidateOf finds a candidate of a structure; nil if it isn't among them.
func candidateOf(s *pb.PlanStructure, id string) *pb.PlanCandidate {
	for _, c := range s.GetCandidates() {
		if c.GetPicture().GetName() == "pictures/"+id {
			return c
		}
	}
	return nil
}

func chosenOf(s *pb.PlanStructure) string {
	out := ""
	for _, c := range s.GetCandidates() {
		if c.GetChosen() {
			out += fmt.Sprint(c.GetPicture().GetName(), " ")
		}
	}
	return out
}
