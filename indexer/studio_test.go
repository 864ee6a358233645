package indexer

import (
	"context"
	"iter"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"platarium/indexer/meristic"
	"platarium/indexer/taxon"
	"platarium/indexer/taxon/backbone"
	pb "platarium/proto/platarium/v1"
)

// base is the embedded classification, read once for all tests.
var base = sync.OnceValues(backbone.Load)

// studio is an archive in memory: a Source whose records the tests change.
type studio struct {
	id        string
	taxa      *taxon.Classification
	mu        sync.RWMutex
	seq       int64
	pictures  map[string]*pb.Picture
	specimens map[string]*pb.Specimen
}

func newStudio(tb testing.TB) *studio {
	tb.Helper()
	tree, err := base()
	if err != nil {
		tb.Fatal(err)
	}
	return &studio{
		id: "studio", taxa: taxon.NewClassification(tree),
		pictures: map[string]*pb.Picture{}, specimens: map[string]*pb.Specimen{},
	}
}

func (s *studio) ArchiveID() string           { return s.id }
func (s *studio) Taxa() *taxon.Classification { return s.taxa }

func (s *studio) Applied() int64 {
	s.mu.RLock()
	defer s.mu.RUnlock()
	return s.seq
}

func (s *studio) Pictures(context.Context) (int64, iter.Seq2[*pb.Picture, error]) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	all := make([]*pb.Picture, 0, len(s.pictures))
	for _, p := range s.pictures {
		all = append(all, p)
	}
	slices.SortFunc(all, func(a, b *pb.Picture) int { return strings.Compare(a.GetName(), b.GetName()) })
	return s.seq, func(yield func(*pb.Picture, error) bool) {
		for _, p := range all {
			if !yield(p, nil) {
				return
			}
		}
	}
}

func (s *studio) Picture(name string) (*pb.Picture, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	p, ok := s.pictures[name]
	return p, ok
}

func (s *studio) Specimen(name string) (*pb.Specimen, bool) {
	s.mu.RLock()
	defer s.mu.RUnlock()
	p, ok := s.specimens[name]
	return p, ok
}

func (s *studio) PicturesOf(name string) []string {
	s.mu.RLock()
	defer s.mu.RUnlock()
	var out []string
	id, isTaxon := strings.CutPrefix(name, taxaPrefix)
	accepted, _ := s.taxa.Accepted(id)
	for _, p := range s.pictures {
		of := strings.TrimPrefix(p.GetIdentification().GetTaxon(), taxaPrefix)
		if p.GetSpecimen() == name || isTaxon && slices.Contains(s.taxa.Lineage(of), accepted.ID) {
			out = append(out, p.GetName())
		}
	}
	return out
}

// put writes pictures in one commit and returns it with what changed.
func (s *studio) put(pictures ...*pb.Picture) (int64, []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.seq++
	var names []string
	for _, p := range pictures {
		s.pictures[p.GetName()] = p
		names = append(names, p.GetName())
	}
	return s.seq, names
}

// edit changes a copy of a picture in one commit.
func (s *studio) edit(name string, f func(*pb.Picture)) (int64, []string) {
	p, _ := s.Picture(name)
	next, _ := proto.Clone(p).(*pb.Picture)
	f(next)
	return s.put(next)
}

func (s *studio) remove(names ...string) (int64, []string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.seq++
	for _, n := range names {
		delete(s.pictures, n)
		delete(s.specimens, n)
	}
	return s.seq, names
}

// name puts a taxon into the overlay in one commit.
func (s *studio) name(tb testing.TB, t taxon.Taxon) (int64, []string) {
	tb.Helper()
	if err := s.taxa.Put(t); err != nil {
		tb.Fatal(err)
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.seq++
	return s.seq, []string{taxaPrefix + t.ID}
}

// taxonOf finds the resource name of a scientific name that must exist.
func (s *studio) taxonOf(tb testing.TB, name string) string {
	tb.Helper()
	for _, c := range s.taxa.Match(name, 1) {
		if c.Score > 0.95 {
			return taxaPrefix + c.ID
		}
	}
	tb.Fatalf("no taxon %q", name)
	return ""
}

func readFormula(tb testing.TB, formula string) *pb.Counts {
	tb.Helper()
	if formula == "" {
		return nil
	}
	res, err := meristic.Parse(formula, meristic.Options{})
	if err != nil {
		tb.Fatalf("%s: %v", formula, err)
	}
	out := &pb.Counts{Formula: formula}
	for _, st := range res.Statements {
		for _, c := range st.Counts {
			out.Parsed = append(out.Parsed, &pb.Count{Character: st.Character.String(), Element: c.Element.String(), Min: c.Min, Max: c.Max})
		}
	}
	return out
}

// day is the n-th day of the test's calendar.
func day(n int) *timestamppb.Timestamp {
	return timestamppb.New(time.Date(2020, 1, 1, 9, 0, 0, 0, time.UTC).AddDate(0, 0, n))
}

// open opens an index over the studio in a new folder.
func (s *studio) open(tb testing.TB) *Index {
	tb.Helper()
	return s.openIn(tb, tb.TempDir())
}

func (s *studio) openIn(tb testing.TB, dir string) *Index {
	tb.Helper()
	x, err := Open(context.Background(), dir, s, Options{batch: 100}) // several batches even for few pictures
	if err != nil {
		tb.Fatal(err)
	}
	tb.Cleanup(func() {
		if err := x.Close(); err != nil {
			tb.Error(err)
		}
	})
	return x
}

func apply(tb testing.TB, x *Index, seq int64, changed []string) {
	tb.Helper()
	if err := x.Apply(context.Background(), seq, changed); err != nil {
		tb.Fatal(err)
	}
}

// ask searches and expects an answer.
func ask(tb testing.TB, x *Index, r *pb.SearchPicturesRequest) *Answer {
	tb.Helper()
	return askAs(tb, x, Query{Request: r})
}

func askAs(tb testing.TB, x *Index, q Query) *Answer {
	tb.Helper()
	a, err := x.Search(context.Background(), q)
	if err != nil {
		tb.Fatalf("%v: %v", q.Request, err)
	}
	return a
}

func namesOf(a *Answer) []string {
	out := make([]string, len(a.Hits))
	for i, h := range a.Hits {
		out[i] = h.Name
	}
	return out
}
