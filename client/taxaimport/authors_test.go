package taxaimport

import "testing"

func TestSameAuthors(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want agreement
	}{
		{"Linnaeus, 1758", "Linnaeus, 1758", agrees},
		{"L., 1758", "Linnaeus, 1758", agrees},
		{"(Bloch & Schneider, 1801)", "Bloch in Schneider, 1801", agrees},
		{"(Cuvier, 1829)", "Cuvier & Valenciennes, 1830", agrees}, // parts of one work
		{"Günther, 1862", "Guenther, 1862", agrees},
		{"Linnaeus", "Linnaeus, 1758", agrees},
		{"Cuvier, 1829", "Linnaeus, 1758", differs},
		{"Cuvier, 1829", "Cuvier, 1849", differs},
		{"Cuvier, 1829", "Risso, 1829", differs},
		{"", "Linnaeus, 1758", unknown},
		{"1758", "Linnaeus, 1758", unknown},
	} {
		if got := sameAuthors(c.a, c.b); got != c.want {
			t.Errorf("%q and %q: %v, want %v", c.a, c.b, got, c.want)
		}
		if got := sameAuthors(c.b, c.a); got != c.want {
			t.Errorf("%q and %q turned round: %v, want %v", c.b, c.a, got, c.want)
		}
	}
}
