package rights

import (
	"testing"
)

func TestDates(t *testing.T) {
	for _, tt := range []struct{ in, first, last string }{
		{"2024", "2024-01-01", "2024-12-31"},
		{"2024-02", "2024-02-01", "2024-02-29"},
		{"2023-02", "2023-02-01", "2023-02-28"},
		{"2024-12", "2024-12-01", "2024-12-31"},
		{"2024-02-29", "2024-02-29", "2024-02-29"},
		{"1884-07-15", "1884-07-15", "1884-07-15"},
	} {
		d, err := ParseDate(tt.in)
		if err != nil || d.First().String() != tt.first || d.Last().String() != tt.last || d.String() != tt.in {
			t.Errorf("%s: %v to %v, %v", tt.in, d.First(), d.Last(), err)
		}
	}
	for _, bad := range []string{"2024-13", "2024-00", "2024-02-30", "2023-02-29", "24-01-01", "2024-1-1", "2024/01/01", "0000", "2024-01-01T00", "abcd", "-204", "20２4"} {
		if d, err := ParseDate(bad); err == nil {
			t.Errorf("%q read as %v", bad, d)
		}
	}
}

func TestAddMonths(t *testing.T) {
	for _, tt := range []struct {
		from   string
		months int
		want   string
	}{
		{"2024-03-01", 12, "2025-03-01"}, {"2024-01-31", 1, "2024-02-29"}, {"2023-01-31", 1, "2023-02-28"},
		{"2024-02-29", 12, "2025-02-28"}, {"2024-11-30", 3, "2025-02-28"}, {"2024-05-05", 0, "2024-05-05"},
	} {
		if got := addMonths(mustDate(tt.from).First(), tt.months).String(); got != tt.want {
			t.Errorf("%s + %d months = %s, want %s", tt.from, tt.months, got, tt.want)
		}
	}
}

func FuzzParseDate(f *testing.F) {
	for _, s := range []string{"2024", "2024-02", "2024-02-29", "2023-02-29", "", "9999-12-31", "0001-01-01"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		d, err := ParseDate(s)
		if err != nil {
			return
		}
		if d.String() != s {
			t.Fatalf("%q reads as %q", s, d)
		}
		if !d.IsZero() && (d.First() > d.Last() || d.First().Date().First() != d.First()) {
			t.Fatalf("%q: %v to %v", s, d.First(), d.Last())
		}
	})
}
