package meristic

import "testing"

// typical are formulae as a studio's forms and tables hold them.
var typical = [...]string{
	"D XI,15-18; A III,10-12",
	"D X-XI,11-13",
	"VI, I,9–13",
	"Anal-fin rays iii+19*(12), iii+20(19), iii+21(5) or iii+22(2)",
	"GR 7-9+13-15",
	"vertebrae 10 + 14 = 24",
	"i,9,8,i",
	"P 16-17",
}

// BenchmarkParse reports the time for one formula.
func BenchmarkParse(b *testing.B) {
	b.ReportAllocs()
	opt := Options{Character: Dorsal}
	for i := 0; b.Loop(); i++ {
		if _, err := Parse(typical[i%len(typical)], opt); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkTokens(b *testing.B) {
	res, err := Parse("D XI,15-18; A III,10-12; P 16-17; LL 48-52; GR 7-9+13-15", Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		Tokens(res.Statements)
	}
}

func BenchmarkPrint(b *testing.B) {
	res, err := Parse("D XI,15-18; A III,10-12; P 16-17; LL 48-52; GR 7-9+13-15", Options{})
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		Print(res.Statements)
	}
}
