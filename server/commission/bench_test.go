package commission

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/scale"
)

// BenchmarkPlan plans commissions of the usual checklist over an archive of 100,000 pictures (or PICTURES), each of another species. It reports median and
// 95th percentile.
func BenchmarkPlan(b *testing.B) {
	n := 100_000
	if s := os.Getenv("PICTURES"); s != "" {
		n, _ = strconv.Atoi(s)
	}
	s := newStudio(b)
	species := speciesOf(s, 600)
	began := time.Now()
	fill(b, s, n, species)
	b.Logf("%d records made in %v", n, time.Since(began).Round(time.Second))
	rnd := rand.New(rand.NewPCG(3, 4))
	var took []time.Duration
	structures := 0
	for b.Loop() {
		brief := &pb.Brief{
			Identification: &pb.Identification{Taxon: taxaPrefix + species[rnd.IntN(len(species))].ID}, Counts: &pb.Counts{Formula: "D X,12; A III,8; P 15; LL 48"},
			Printed: &pb.PrintedSize{Measurement: "SL", LengthMm: 180}, Rendering: pb.Rendering_RENDERING_LINE, Use: &pb.Scope{Media: []string{"print.book"}, Territories: []string{"DE"}},
		}
		start := time.Now()
		structures += len(s.plan(b, brief, 0).GetStructures())
		took = append(took, time.Since(start))
	}
	slices.Sort(took)
	b.ReportMetric(float64(structures)/float64(len(took)), "structures")
	b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
	b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
}

// speciesOf takes species of the base, spread over it, without the group that examples leave out.
func speciesOf(s *studio, n int) []taxon.Taxon {
	var all []taxon.Taxon
	for t := range s.Taxa().Base().All() {
		if family, _ := s.Taxa().Ancestor(t.ID, taxon.Family); t.Rank == taxon.Species && family.Name != "Scombridae" {
			all = append(all, t)
		}
	}
	var out []taxon.Taxon
	for i := range n {
		out = append(out, all[i*len(all)/n])
	}
	return out
}

func fill(b *testing.B, s *studio, n int, species []taxon.Taxon) {
	b.Helper()
	r := rand.New(rand.NewPCG(1, 2))
	parts := []string{"dorsal fin", "first dorsal fin", "second dorsal fin", "anal fin", "pectoral fin", "pelvic fin", "caudal fin", "head", "opercle", "jaws", "eye", "lateral line", "scales", "gill rakers"}
	sheet := s.scan(b, 3000, 1200, 600)
	for made := 0; made < n; {
		var list []archive.Creation[*pb.Picture]
		for range min(1000, n-made) {
			t := species[r.IntN(len(species))]
			p := &pb.Picture{
				Kind: pb.Kind(1 + r.IntN(3)), Title: fmt.Sprintf("%s, sheet %d", t.Name, made), Stage: pb.Stage(1 + r.IntN(5)), View: pb.View(1 + r.IntN(4)), Original: sheet,
				Identification: &pb.Identification{Taxon: taxaPrefix + t.ID}, RightsHolder: "Studio Ebbvik",
				Counts: &pb.Counts{Formula: fmt.Sprintf("D %s,%d; A III,%d; P %d", []string{"VIII", "IX", "X", "XI", "XII"}[r.IntN(5)], 9+r.IntN(6), 7+r.IntN(4), 14+r.IntN(5))},
			}
			for _, k := range r.Perm(len(parts))[:3+r.IntN(5)] {
				shows(p, pb.Completeness(1+r.IntN(5)), parts[k])
			}
			if r.IntN(2) == 0 {
				profile(p, 3000, 1200, 0.3+r.Float64()/10, 0.3+r.Float64()/10)
				bases(p, "dorsal fin", 10, 12)
				p.Calibration = bar(0.2, 10+r.Float64()*40)
				p.Landmarks = append(p.Landmarks, &pb.Landmark{Landmark: scale.EyeFront, X: 0.15, Y: 0.48})
			}
			list = append(list, archive.Creation[*pb.Picture]{Record: p, RequestID: fmt.Sprintf("bench-%d", made)})
			made++
		}
		outcomes, _ := s.BatchCreatePictures(b.Context(), "owner-key", list, false, false)
		for _, o := range outcomes {
			if o.Err != nil {
				b.Fatal(o.Err)
			}
		}
	}
}
