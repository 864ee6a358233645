package indexer

import (
	"context"
	"flag"
	"fmt"
	"iter"
	"maps"
	"runtime"
	"slices"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// benchSize is the number of pictures of the search benchmark.
var benchSize = flag.Int("pictures", 100_000, "pictures in BenchmarkSearch")

// BenchmarkSearch reports the times of single searches among 100,000 pictures.
func BenchmarkSearch(b *testing.B) {
	s := newStudio(b)
	y := newSynthetic(b, s, 7)
	s.put(y.pictures(*benchSize)...)
	src := packed(b, s)
	dir := b.TempDir()
	began := time.Now()
	x := openAsServed(b, src, dir)
	b.Logf("built in %v", time.Since(began))
	if err := x.Close(); err != nil {
		b.Fatal(err)
	}
	began = time.Now()
	x = openAsServed(b, src, dir)
	b.Logf("opened in %v", time.Since(began))
	standing := map[string]string{}
	for i := range *benchSize {
		standing[fmt.Sprintf("pictures/p%07d", i)] = []string{"free", "licensed", "exclusive"}[i%3]
	}
	today := NewStanding(standing, "free")
	for _, c := range []struct {
		name string
		with func(*pb.SearchPicturesRequest)
	}{
		{"everything", func(*pb.SearchPicturesRequest) {}},
		{"words", func(r *pb.SearchPicturesRequest) { r.Text = y.word() + " " + y.word() }},
		{"begun", func(r *pb.SearchPicturesRequest) { r.Text = y.word() + " " + y.word()[:3] }},
		{"misspelled", func(r *pb.SearchPicturesRequest) { r.Text = "x" + y.words[y.rng.IntN(900)] + " " + y.words[0] + " " }},
		{"row", func(r *pb.SearchPicturesRequest) {
			r.Text = `"` + y.words[y.rng.IntN(9)] + " " + y.words[y.rng.IntN(9)] + `"`
		}},
		{"filters", func(r *pb.SearchPicturesRequest) { y.filter(r) }},
		{"wanted", func(r *pb.SearchPicturesRequest) { y.want(r) }},
		{"whole", func(r *pb.SearchPicturesRequest) { r.Text = y.words[y.rng.IntN(60)]; y.filter(r); y.want(r) }},
	} {
		for _, facets := range [][]string{nil, {"family", "genus", "stage", "creator", "rights"}} {
			b.Run(fmt.Sprintf("%s/facets=%d", c.name, len(facets)), func(b *testing.B) {
				runtime.LockOSThread()
				defer runtime.UnlockOSThread()
				var times, cpu []time.Duration
				for b.Loop() {
					r := &pb.SearchPicturesRequest{Facets: facets}
					c.with(r)
					began, used := time.Now(), cpuTime()
					if _, err := x.Search(context.Background(), Query{Request: r, Standing: today}); err != nil {
						b.Fatal(err)
					}
					times, cpu = append(times, time.Since(began)), append(cpu, cpuTime()-used)
				}
				report(b, times, "")
				report(b, cpu, "cpu-")
			})
		}
	}
}

// packedStudio keeps its pictures as bytes, as an archive on disk does: live
// messages by the hundred thousand would keep the garbage collector busy.
type packedStudio struct {
	*studio
	bytes map[string][]byte
}

func packed(b *testing.B, s *studio) *packedStudio {
	b.Helper()
	p := &packedStudio{studio: s, bytes: map[string][]byte{}}
	for name, picture := range s.pictures {
		text, err := proto.Marshal(picture)
		if err != nil {
			b.Fatal(err)
		}
		p.bytes[name] = text
	}
	s.pictures = nil
	return p
}

func (p *packedStudio) Picture(name string) (*pb.Picture, bool) {
	picture := &pb.Picture{}
	text, ok := p.bytes[name]
	return picture, ok && proto.Unmarshal(text, picture) == nil
}

func (p *packedStudio) Pictures(context.Context) (int64, iter.Seq2[*pb.Picture, error]) {
	return p.Applied(), func(yield func(*pb.Picture, error) bool) {
		for _, name := range slices.Sorted(maps.Keys(p.bytes)) {
			if picture, _ := p.Picture(name); !yield(picture, nil) {
				return
			}
		}
	}
}

// openAsServed opens with the defaults.
func openAsServed(b *testing.B, s Source, dir string) *Index {
	b.Helper()
	x, err := Open(context.Background(), dir, s, Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.Cleanup(func() {
		if err := x.Close(); err != nil {
			b.Error(err)
		}
	})
	return x
}

// report gives the middle and the 95th in a hundred of some times.
func report(b *testing.B, times []time.Duration, what string) {
	slices.Sort(times)
	b.ReportMetric(ms(times[len(times)/2]), what+"p50-ms")
	b.ReportMetric(ms(times[len(times)*95/100]), what+"p95-ms")
}

func ms(d time.Duration) float64 { return float64(d.Microseconds()) / 1000 }

// filter asks for conditions that a good part of the pictures fit.
func (y *synthetic) filter(r *pb.SearchPicturesRequest) {
	r.Filter = &pb.PictureFilter{
		Kinds: []pb.Kind{pb.Kind_KIND_PLATE, pb.Kind_KIND_STUDY}, Views: []pb.View{1, 2, 3, 4}, YearFrom: 1990,
		Rights: []string{"free", "licensed"},
	}
}

func (y *synthetic) want(r *pb.SearchPicturesRequest) {
	r.Wanted = &pb.Wanted{
		Near: taxaPrefix + y.species[y.rng.IntN(len(y.species))].ID, Counts: "D VIII-IX,10-12; A III,8-9; P 15-16",
		Structures: []string{y.pick(synStructures), y.pick(synStructures)}, View: pb.View_VIEW_LEFT_LATERAL,
	}
}

// BenchmarkApply reports pictures a second in batches, and the time of single changes.
func BenchmarkApply(b *testing.B) {
	for _, size := range []int{1, 100, 1000, 10000} {
		b.Run(fmt.Sprintf("pictures=%d", size), func(b *testing.B) {
			s := newStudio(b)
			y := newSynthetic(b, s, 8)
			s.put(y.pictures(20_000)...)
			x := openAsServed(b, s, b.TempDir())
			var times []time.Duration
			for i := 0; b.Loop(); i++ {
				b.StopTimer()
				batch := make([]*pb.Picture, size)
				for k := range batch {
					batch[k] = y.picture(20_000 + i*size + k)
				}
				seq, names := s.put(batch...)
				b.StartTimer()
				began := time.Now()
				apply(b, x, seq, names)
				times = append(times, time.Since(began))
			}
			total := time.Duration(0)
			for _, t := range times {
				total += t
			}
			b.ReportMetric(float64(size*len(times))/total.Seconds(), "pictures/s")
			report(b, times, "")
		})
	}
}
