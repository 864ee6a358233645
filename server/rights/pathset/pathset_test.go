package pathset

import (
	"math/rand/v2"
	"testing"
)

func TestOf(t *testing.T) {
	tests := []struct {
		h        Hierarchy
		in, out  []string
		has, not []string
	}{
		{Dotted, []string{"print.book"}, nil, []string{"print.book", "print.book.hardback"}, []string{"print", "print.bookmark"}},
		{Dotted, []string{"*"}, []string{"product"}, []string{"print", "digital.web"}, []string{"product", "product.mug"}},
		{Dotted, []string{"*", "product.card"}, []string{"product"}, []string{"print"}, []string{"product.card"}},
		{Tags, []string{"en"}, nil, []string{"en", "en-GB"}, []string{"enm", "de"}},
		{Tags, []string{"zh-Hant"}, nil, []string{"zh-Hant-TW"}, []string{"zh", "zh-TW"}},
		{Tags, []string{"*"}, nil, []string{"zxx"}, nil},
		{Parts, []string{"P12#fig3"}, nil, []string{"P12#fig3"}, []string{"P12", "P12#fig4", "P12#fig31"}},
		{Parts, []string{"P12"}, []string{"P12#fig3"}, []string{"P12", "P12#fig4"}, []string{"P12#fig3", "P13"}},
		{Dotted, nil, []string{"print"}, nil, []string{"print"}},
	}
	for _, tt := range tests {
		s := tt.h.Of(tt.in, tt.out)
		for _, n := range tt.has {
			if !s.HasName(tt.h, n) {
				t.Errorf("Of(%v, %v) lacks %q", tt.in, tt.out, n)
			}
		}
		for _, n := range tt.not {
			if s.HasName(tt.h, n) {
				t.Errorf("Of(%v, %v) has %q", tt.in, tt.out, n)
			}
		}
	}
}

// universe lists every name of three levels over two letters; the third letter,
// which no set mentions, stands for the names that nobody listed.
func universe() []string {
	var names []string
	for _, a := range []string{"a", "b", "c"} {
		names = append(names, a)
		for _, b := range []string{"a", "b", "c"} {
			names = append(names, a+"."+b)
			for _, c := range []string{"a", "b", "c"} {
				names = append(names, a+"."+b+"."+c)
			}
		}
	}
	return names
}

func randomSet(r *rand.Rand) Set {
	pick := func(n int) []string {
		var out []string
		for range r.IntN(n) {
			if r.IntN(10) == 0 {
				out = append(out, "*")
				continue
			}
			name := string(rune('a' + r.IntN(2)))
			for range r.IntN(3) {
				name += "." + string(rune('a'+r.IntN(2)))
			}
			out = append(out, name)
		}
		return out
	}
	s := Dotted.Of(pick(4), pick(3))
	if r.IntN(3) == 0 {
		s = s.Or(Dotted.Of(pick(4), pick(3)))
	}
	return s
}

func TestAlgebraAgainstEnumeration(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 2))
	names := universe()
	for range 3000 {
		a, b := randomSet(r), randomSet(r)
		and, or, minus := a.And(b), a.Or(b), a.Minus(b)
		meets, covers, empty := false, true, true
		for _, n := range names {
			ina, inb := a.HasName(Dotted, n), b.HasName(Dotted, n)
			if and.HasName(Dotted, n) != (ina && inb) || or.HasName(Dotted, n) != (ina || inb) ||
				minus.HasName(Dotted, n) != (ina && !inb) {
				t.Fatalf("at %q: a=%v b=%v and=%v or=%v minus=%v", n, a, b, and, or, minus)
			}
			meets = meets || ina && inb
			covers = covers && (ina || !inb)
			empty = empty && !ina
		}
		if a.Meets(b) != meets || a.Covers(b) != covers || a.Empty() != empty {
			t.Fatalf("a=%v b=%v: Meets %v, Covers %v, Empty %v; want %v %v %v",
				a, b, a.Meets(b), a.Covers(b), a.Empty(), meets, covers, empty)
		}
		if !minus.Or(and).Equal(a) {
			t.Fatalf("not canonical: (a-b)+(a*b) = %v, a = %v", minus.Or(and), a)
		}
	}
}

func TestFirstAndNames(t *testing.T) {
	s := Dotted.Of([]string{"print.book", "digital"}, []string{"print.book.hardback"})
	if n, ok := s.First(Dotted); !ok || n != "digital" {
		t.Errorf("First = %q, %v", n, ok)
	}
	in, out, ok := s.Names(Dotted)
	if !ok || !Dotted.Of(in, out).Equal(s) {
		t.Errorf("Names = %v, %v, %v do not read back", in, out, ok)
	}
	hole := Dotted.Of([]string{"print"}, []string{"print.book"}).Or(Dotted.Of([]string{"print.book.hardback"}, nil))
	if _, _, ok := hole.Names(Dotted); ok {
		t.Error("an inclusion beneath a removal must be reported")
	}
	if _, ok := (Set{}).First(Dotted); ok {
		t.Error("the empty set has no first name")
	}
}

func TestDeepPaths(t *testing.T) {
	s := All()
	path := "a"
	for i := range 12 {
		step := Dotted.Of([]string{path}, nil)
		if i%2 == 0 {
			s = s.Minus(step)
		} else {
			s = s.Or(step)
		}
		if s.HasName(Dotted, path) != (i%2 == 1) {
			t.Fatalf("at depth %d wrong state", i)
		}
		path += ".a"
	}
	if s.Minus(s).Empty() != true || !s.Covers(s) {
		t.Error("deep set: s-s not empty or s does not cover itself")
	}
}

func TestLayersReadBack(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	deep := 0
	for range 2000 {
		s := randomSet(r).Minus(randomSet(r))
		var again Set
		layers := s.Layers()
		for _, l := range layers {
			in, out, ok := l.Names(Dotted)
			if !ok {
				t.Fatalf("layer %v cannot be written", l)
			}
			again = again.Or(Dotted.Of(in, out))
		}
		if !again.Equal(s) {
			t.Fatalf("%v written in layers reads back as %v", s, again)
		}
		if len(layers) > 1 {
			deep++
		}
	}
	if deep == 0 {
		t.Error("no set had more than one layer")
	}
}

func TestAtKnowsWhatLiesBeneath(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	names := universe()
	for range 1000 {
		s := randomSet(r)
		for _, n := range names {
			in, uniform := s.At(Dotted, n)
			for _, m := range names {
				if len(m) > len(n) && m[:len(n)+1] == n+"." && uniform && s.HasName(Dotted, m) != in {
					t.Fatalf("%v: all beneath %q said to be %v, but not %q", s, n, in, m)
				}
			}
		}
	}
}
