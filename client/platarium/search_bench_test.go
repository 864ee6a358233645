package main

import (
	"fmt"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"testing"
	"time"

	"platarium/client"
	"platarium/indexer/taxon"
	"platarium/indexer/taxon/backbone"
	pb "platarium/proto/platarium/v1"
)

// BenchmarkSearchOverGRPC asks an archive of 100,000 pictures (or PICTURES) what a commission asks: words, conditions, a relative and its counts, with and without
// facets; each question differs. It reports the 95th percentile as the caller sees it.
func BenchmarkSearchOverGRPC(b *testing.B) {
	n := 100_000
	if s := os.Getenv("PICTURES"); s != "" {
		n, _ = strconv.Atoi(s)
	}
	r := start(b, newConfig(b))
	species := someSpecies(b, 600)
	began := time.Now()
	fillArchive(b, r.owner, n, species)
	b.Logf("%d records made in %v (%.0f a second)", n, time.Since(began).Round(time.Second), float64(n)/time.Since(began).Seconds())
	for _, facets := range [][]string{nil, {"family", "kind", "stage", "creator", "year"}} {
		b.Run(fmt.Sprintf("facets=%d", len(facets)), func(b *testing.B) {
			rnd := rand.New(rand.NewPCG(3, 4))
			var took []time.Duration
			for b.Loop() {
				req := question(rnd, species, facets)
				start := time.Now()
				if _, err := r.owner.Search.SearchPictures(b.Context(), req); err != nil {
					b.Fatal(err)
				}
				took = append(took, time.Since(start))
			}
			slices.Sort(took)
			b.ReportMetric(float64(took[len(took)/2].Microseconds())/1000, "p50-ms")
			b.ReportMetric(float64(took[len(took)*95/100].Microseconds())/1000, "p95-ms")
		})
	}
}

func question(r *rand.Rand, species []taxon.Taxon, facets []string) *pb.SearchPicturesRequest {
	words := []string{"dorsal", "sheet", "ink", "fresh", "reed lake", "stipple study"}
	return &pb.SearchPicturesRequest{
		Text: words[r.IntN(len(words))], Facets: facets,
		Filter: &pb.PictureFilter{
			Kinds: []pb.Kind{pb.Kind(1 + r.IntN(3)), pb.Kind_KIND_PLATE}, Stages: []pb.Stage{pb.Stage_STAGE_FINAL_ART, pb.Stage_STAGE_OUTLINE}, YearFrom: int32(1950 + r.IntN(30)),
		},
		Wanted: &pb.Wanted{
			Near: species[r.IntN(len(species))].Name, Counts: fmt.Sprintf("D %s,%d; A III,%d", []string{"VIII", "IX", "X", "XI", "XII"}[r.IntN(5)], 9+r.IntN(6), 7+r.IntN(4)),
			Structures: []string{"first dorsal fin", "pectoral fin"}, View: pb.View_VIEW_LEFT_LATERAL,
		},
	}
}

// someSpecies takes species of the base, spread over it, without the group that examples leave out.
func someSpecies(b *testing.B, n int) []taxon.Taxon {
	b.Helper()
	tree, err := backbone.Load()
	if err != nil {
		b.Fatal(err)
	}
	taxa := taxon.NewClassification(tree)
	var all []taxon.Taxon
	for t := range tree.All() {
		family, _ := taxa.Ancestor(t.ID, taxon.Family)
		if t.Rank == taxon.Species && family.Name != "Scombridae" {
			all = append(all, t)
		}
	}
	var out []taxon.Taxon
	for i := range n {
		out = append(out, all[i*len(all)/n])
	}
	return out
}

func fillArchive(b *testing.B, c *client.Client, n int, species []taxon.Taxon) {
	b.Helper()
	r := rand.New(rand.NewPCG(1, 2))
	titles := []string{"sheet in ink", "dorsal study", "fresh specimen from Reed Lake", "stipple study of the head", "plate for a guide"}
	for made := 0; made < n; {
		req := &pb.BatchCreatePicturesRequest{}
		for range min(1000, n-made) {
			t := species[r.IntN(len(species))]
			req.Requests = append(req.Requests, &pb.CreatePictureRequest{RequestId: fmt.Sprintf("bench-%d", made), Picture: &pb.Picture{
				Kind: pb.Kind(1 + r.IntN(3)), Title: fmt.Sprintf("%s, %s %d", t.Name, titles[r.IntN(len(titles))], made), Stage: pb.Stage(1 + r.IntN(5)), View: pb.View(1 + r.IntN(4)),
				Identification: &pb.Identification{Taxon: "taxa/" + t.ID}, Creators: []string{"Maker " + strconv.Itoa(r.IntN(12))}, Created: strconv.Itoa(1950 + r.IntN(75)),
				Counts:     &pb.Counts{Formula: fmt.Sprintf("D %s,%d; A III,%d; P %d", []string{"VIII", "IX", "X", "XI", "XII"}[r.IntN(5)], 9+r.IntN(6), 7+r.IntN(4), 14+r.IntN(5))},
				Structures: []*pb.Structure{{Structure: "first dorsal fin", Completeness: pb.Completeness(1 + r.IntN(5))}, {Structure: "pectoral fin", Completeness: pb.Completeness(1 + r.IntN(5))}},
			}})
			made++
		}
		res, err := c.Archive.BatchCreatePictures(b.Context(), req)
		if err != nil {
			b.Fatal(err)
		}
		for _, o := range res.GetOutcomes() {
			if p := o.GetError(); p != nil {
				b.Fatal(p)
			}
		}
	}
}
