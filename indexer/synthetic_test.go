package indexer

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"platarium/indexer/taxon"
	pb "platarium/proto/platarium/v1"
)

// synthetic makes archives of any size, the same for one number.
type synthetic struct {
	rng     *rand.Rand
	taxa    *taxon.Classification
	species []taxon.Taxon
	words   []string
}

var (
	synStructures = []string{
		"first dorsal fin", "second dorsal fin", "anal fin", "pectoral fin", "pelvic fin", "caudal fin", "opercle",
		"lateral line", "barbel", "gill rakers", "preopercular spines", "head", "scales", "teeth", "eye",
	}
	synTechniques = []string{"ink on scraperboard", "watercolor", "graphite on paper", "colored pencil", "digital painting", "carbon dust"}
	synCreators   = []string{"Ida Brandt", "Tomas Vell", "Jürgen Möhring", "Noor Adeyemi", "Petra Sand", "Lin Quoy", "Ovid Karr"}
)

// newSynthetic takes several hundred species of the base, a few of each genus.
func newSynthetic(tb testing.TB, s *studio, seed uint64) *synthetic {
	tb.Helper()
	y := &synthetic{rng: rand.New(rand.NewPCG(seed, 1)), taxa: s.taxa}
	for i := 1; i < 38000; i += 61 {
		t, ok := s.taxa.Taxon(fmt.Sprintf("T%06d", i))
		if ok && t.Rank == taxon.Species && t.Status == taxon.Accepted && !strings.HasPrefix(t.Name, "Thunnus") {
			y.species = append(y.species, t)
		}
	}
	syllables := []string{"ka", "lo", "mi", "ren", "dor", "vas", "tu", "pel", "sho", "gra", "fin", "bel", "ost", "ur", "nem", "qui"}
	for range 4000 {
		w := ""
		for range 2 + y.rng.IntN(3) {
			w += syllables[y.rng.IntN(len(syllables))]
		}
		y.words = append(y.words, w)
	}
	return y
}

// word favors the first words, as language does.
func (y *synthetic) word() string {
	f := y.rng.Float64()
	return y.words[int(f*f*f*float64(len(y.words)))]
}

func (y *synthetic) phrase(n int) string {
	out := make([]string, n)
	for i := range out {
		out[i] = y.word()
	}
	return strings.Join(out, " ")
}

func (y *synthetic) pick(from []string) string { return from[y.rng.IntN(len(from))] }

func (y *synthetic) count(c, e string, lo, spread int) *pb.Count {
	a := lo + y.rng.IntN(spread)
	return &pb.Count{Character: c, Element: e, Min: float64(a), Max: float64(a + y.rng.IntN(3))}
}

func (y *synthetic) picture(i int) *pb.Picture {
	f := y.rng.Float64()
	t := y.species[int(f*f*float64(len(y.species)))]
	p := &pb.Picture{
		Name: fmt.Sprintf("pictures/p%07d", i), CreateTime: day(i / 50),
		Kind: pb.Kind(1 + y.rng.IntN(3)), View: pb.View(1 + y.rng.IntN(8)), Stage: pb.Stage(1 + y.rng.IntN(5)),
		Title: t.Name + " " + y.phrase(3), Notes: y.phrase(25), Job: "job " + fmt.Sprint(y.rng.IntN(400)) + " " + y.word(),
		Keywords:       []string{y.word(), y.word(), y.word()},
		Identification: &pb.Identification{Taxon: taxaPrefix + t.ID, ScientificName: t.Name},
		Technique:      y.pick(synTechniques), Creators: []string{y.pick(synCreators)},
		Created:  fmt.Sprintf("%d-%02d", 1985+y.rng.IntN(40), 1+y.rng.IntN(12)),
		Original: &pb.Original{Width: int32(800 + 100*y.rng.IntN(90)), Height: 700},
		Counts: &pb.Counts{Parsed: []*pb.Count{
			y.count("D1", "spine", 6, 7), y.count("D2", "ray", 8, 8), y.count("A", "spine", 2, 2), y.count("A", "ray", 7, 8),
			y.count("P", "ray", 14, 6), y.count("LLp", "count", 40, 25), y.count("GR", "total", 18, 15),
		}},
	}
	for range 2 + y.rng.IntN(5) {
		p.Structures = append(p.Structures, &pb.Structure{Structure: y.pick(synStructures), Completeness: pb.Completeness(y.rng.IntN(6))})
	}
	return p
}

func (y *synthetic) pictures(n int) []*pb.Picture {
	out := make([]*pb.Picture, n)
	for i := range out {
		out[i] = y.picture(i)
	}
	return out
}
