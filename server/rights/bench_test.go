package rights

import (
	"fmt"
	"math/rand/v2"
	"sync/atomic"
	"testing"
)

// studio makes the grants of an invented studio: many plates, most licensed a few
// times, a tenth of them often.
func studio(grants, works int) []Grant {
	r := random{rand.New(rand.NewPCG(5, 8))}
	out := make([]Grant, grants)
	for i := range out {
		work := r.IntN(works)
		if r.chance(3) {
			work = r.IntN(works/10 + 1)
		}
		year := 2010 + r.IntN(16)
		g := Grant{
			ID: fmt.Sprintf("grants/%06d", i), To: fmt.Sprintf("parties/%03d", r.IntN(400)), Status: Executed,
			Signed: Date{year, 1 + r.IntN(12), 1 + r.IntN(28)},
			Scope: Scope{
				Works:     []string{fmt.Sprintf("pictures/%05d", work)},
				Media:     []string{r.oneOf("print.book", "print.book.hardback", "print.magazine", "digital.web", "digital.ebook", "product", "*")},
				Territory: [][]string{{"WORLD"}, {"150"}, {"US", "CA"}, {"DE", "AT", "CH"}, {"EU"}, {"GB"}, {"WORLD", "-US"}, {"GB-SCT"}}[r.IntN(8)],
				Languages: []string{r.oneOf("*", "en", "de", "fr", "es")},
			},
		}
		g.Scope.From = g.Signed
		g.Scope.To = Date{year + 3 + r.IntN(15), 12, 31}
		switch r.IntN(10) {
		case 0, 1, 6, 7:
			g.Exclusivity = Exclusive
		case 2:
			g.Exclusivity = Sole
		case 3:
			g.Kind, g.To, g.URI, g.Scope.Purposes = Public, "PUBLIC", "https://creativecommons.org/licenses/by-nc/4.0/", []string{"noncommercial"}
		case 4:
			g.Kind, g.Mode = Holdback, ThirdParty
		case 5:
			if i > 0 && out[i-1].Kind == Licence {
				g.Amends, g.Scope.Works, g.Effective = out[i-1].ID, out[i-1].Scope.Works, g.Signed
			}
		}
		out[i] = g
	}
	return out
}

// questions are requests about those plates.
func questions(n, works int) []Request {
	r := random{rand.New(rand.NewPCG(9, 4))}
	out := make([]Request, n)
	for i := range out {
		year := 2024 + r.IntN(4)
		out[i] = Request{
			By: fmt.Sprintf("parties/%03d", r.IntN(400)), Exclusivity: []Exclusivity{NonExclusive, NonExclusive, Exclusive, Sole}[r.IntN(4)],
			Scope: Scope{
				Works: []string{fmt.Sprintf("pictures/%05d", r.IntN(works))}, Media: []string{r.oneOf("print.book", "print", "digital.web", "product.card")},
				Territory: []string{r.oneOf("WORLD", "DE", "US", "150", "GB")}, Languages: []string{r.oneOf("*", "en", "de")},
				From: Date{year, 1, 1}, To: Date{year + 2, 12, 31},
			},
		}
	}
	return out
}

const (
	benchGrants = 100_000
	benchWorks  = 20_000
)

func benchBook(b *testing.B) *Book {
	b.Helper()
	book, err := NewBook(studio(benchGrants, benchWorks))
	if err != nil {
		b.Fatal(err)
	}
	return book
}

// BenchmarkAvailable answers requests over 100,000 grants on all processors;
// run it with -benchtime=1000000x for a million answers.
func BenchmarkAvailable(b *testing.B) {
	book, asks := benchBook(b), questions(10_000, benchWorks)
	today := DayOf(2025, 6, 1)
	var next, yes atomic.Int64
	b.ReportAllocs()
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		for pb.Next() {
			a, err := book.Available(asks[int(next.Add(1))%len(asks)], Facts{}, today)
			if err != nil {
				b.Error(err)
				return
			}
			if a.Verdict == Yes {
				yes.Add(1)
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "answers/s")
	b.ReportMetric(100*float64(yes.Load())/float64(b.N), "%yes")
}

func BenchmarkBuild(b *testing.B) {
	grants := studio(benchGrants, benchWorks)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := NewBook(grants); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(benchGrants)*float64(b.N)/b.Elapsed().Seconds(), "grants/s")
}

func BenchmarkPut(b *testing.B) {
	book, more := benchBook(b), studio(benchGrants, benchWorks)
	i := 0
	for b.Loop() {
		if err := book.Put(more[i%len(more)]); err != nil {
			b.Fatal(err)
		}
		i++
	}
}

func BenchmarkStanding(b *testing.B) {
	book := benchBook(b)
	today, i := DayOf(2025, 6, 1), 0
	for b.Loop() {
		book.Standing(fmt.Sprintf("pictures/%05d", i%benchWorks), today)
		i++
	}
}

func BenchmarkAllConflicts(b *testing.B) {
	book := benchBook(b)
	for b.Loop() {
		if len(book.AllConflicts()) == 0 {
			b.Fatal("no conflicts")
		}
	}
}
