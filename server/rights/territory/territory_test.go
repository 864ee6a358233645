package territory

import (
	"encoding/json"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// isoCodes is where Debian's package iso-codes, which must be installed, keeps its lists.
const isoCodes = "/usr/share/iso-codes/json"

func load(t *testing.T, part string, into any) {
	t.Helper()
	raw, err := os.ReadFile(filepath.Join(isoCodes, "iso_"+part+".json"))
	if err != nil {
		t.Fatalf("install the package iso-codes: %v", err)
	}
	var file map[string]json.RawMessage
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(file[part], into); err != nil {
		t.Fatal(err)
	}
}

func TestCountriesAgainstISO(t *testing.T) {
	var listed []struct {
		Alpha2  string `json:"alpha_2"`
		Alpha3  string `json:"alpha_3"`
		Numeric string `json:"numeric"`
	}
	load(t, "3166-1", &listed)
	if len(listed) != 249 || len(countries) != 250 { // XK beside them
		t.Fatalf("%d listed, %d in the table", len(listed), len(countries))
	}
	world, err := Read([]string{"WORLD"}, "")
	if err != nil {
		t.Fatal(err)
	}
	if n := len(world.Codes()); n != 249 {
		t.Errorf("WORLD holds %d countries", n)
	}
	for _, c := range listed {
		i, ok := find(c.Alpha2)
		if !ok || countries[i].alpha3 != c.Alpha3 || countries[i].numeric != c.Numeric {
			t.Errorf("%s is missing or wrong", c.Alpha2)
		}
		if one, err := Read([]string{c.Alpha2}, ""); err != nil || !world.Covers(one) {
			t.Errorf("%s is not in WORLD: %v", c.Alpha2, err)
		}
	}
	if xk, err := Read([]string{"XK"}, ""); err != nil || world.Meets(xk) {
		t.Errorf("XK can be named and is not in WORLD: %v", err)
	}
}

func TestSubdivisionsAgainstISO(t *testing.T) {
	var listed []struct {
		Code, Parent string
	}
	load(t, "3166-2", &listed)
	twice := map[string]bool{}
	for _, a := range aliases {
		twice[a[0]] = true
	}
	held := 0
	for _, s := range listed {
		cc, code, _ := strings.Cut(s.Code, "-")
		i, ok := find(cc)
		if !ok {
			t.Errorf("%s: no such country", s.Code)
			continue
		}
		found, ok := findSub(i, code)
		if ok == twice[s.Code] {
			t.Errorf("%s: in the table %v, listed apart in ISO 3166-1 %v", s.Code, ok, twice[s.Code])
		}
		if ok {
			held++
			if up := strings.TrimPrefix(s.Parent, cc+"-"); up != "" && !strings.HasSuffix(strings.TrimSuffix(found.path, "\x01"+code), up) {
				t.Errorf("%s lies at %q, its parent is %s", s.Code, found.path, s.Parent)
			}
		}
	}
	total := 0
	for _, list := range subdivisions {
		total += len(list)
	}
	if held != total {
		t.Errorf("the table has %d subdivisions, of which ISO lists %d", total, held)
	}
}

func TestWithdrawnAgainstISO(t *testing.T) {
	var listed []struct {
		Alpha2 string `json:"alpha_2"`
	}
	load(t, "3166-3", &listed)
	for _, w := range listed {
		if _, reused := find(w.Alpha2); reused {
			continue
		}
		_, err := Read([]string{w.Alpha2}, "")
		var e *CodeError
		if !errors.As(err, &e) || !strings.Contains(e.Wanted, "withdrawn") || successors[w.Alpha2] == "" {
			t.Errorf("%s: %v", w.Alpha2, err)
			continue
		}
		for _, word := range strings.FieldsFunc(successors[w.Alpha2], func(r rune) bool { return r < 'A' || r > 'Z' }) {
			if _, ok := find(word); len(word) == 2 && !ok {
				t.Errorf("%s: successor %s is no country", w.Alpha2, word)
			}
		}
	}
}

func TestGroups(t *testing.T) {
	has := func(group, code, day string) bool {
		s, err := Read([]string{group}, day)
		if err != nil {
			t.Fatal(err)
		}
		one, err := Read([]string{code}, day)
		if err != nil {
			t.Fatal(err)
		}
		return s.Covers(one)
	}
	for _, tt := range []struct {
		group, code, day string
		want             bool
	}{
		{"150", "RU", "", true}, {"021", "MX", "", false}, {"003", "MX", "", true}, {"419", "MX", "", true},
		{"005", "BV", "", true}, {"053", "CX", "", true}, {"US", "PR", "", false}, {"GB", "JE", "", false}, {"GB", "GB-SCT", "", true},
		{"GB-SCT", "GB", "", false}, {"GB-ENG", "GB-LND", "", true}, {"GB-ENG", "GB-GLG", "", false},
		{"EU@2020-01-31", "GB", "", true}, {"EU@2020-02-01", "GB", "", false}, {"EU", "GB", "2015-03-01", true}, {"EU", "GB", "2021-03-01", false},
		{"EU@2013-06-30", "HR", "", false}, {"EU@2013-07-01", "HR", "", true}, {"EU@1985-12-31", "ES", "", false}, {"EU@1986-01-01", "ES", "", true},
		{"EEA@2021-01-01", "NO", "", true}, {"EEA@2021-01-01", "GB", "", false}, {"EEA@2020-06-01", "GB", "", true}, {"EEA@1995-01-01", "LI", "", false},
	} {
		if got := has(tt.group, tt.code, tt.day); got != tt.want {
			t.Errorf("%s (%s) holds %s: %v", tt.group, tt.day, tt.code, got)
		}
	}
}

func TestReadWritesBack(t *testing.T) {
	for _, tt := range []struct{ written, want []string }{
		{[]string{"DE", "AT", "DE"}, []string{"AT", "DE"}},
		{[]string{"021", "-US"}, []string{"BM", "CA", "GL", "PM"}},
		{[]string{"150", "GB", "-GB"}, nil},
		{[]string{"GB", "-GB-SCT"}, []string{"GB", "-GB-SCT"}},
		{[]string{"US", "-US-CA"}, []string{"US", "-US-CA"}},
		{[]string{"GB-ENG", "GB-SCT", "GB-NIR", "GB-WLS"}, []string{"GB"}},
		{[]string{"GB", "-GB-ENG", "-GB-SCT", "-GB-NIR", "-GB-WLS"}, []string{}},
		{[]string{"GB-LND", "GB-ENG"}, []string{"GB-ENG"}},
		{[]string{"-DE", "DE", "FR"}, []string{"FR"}},
	} {
		s, err := Read(tt.written, "")
		if err != nil {
			t.Errorf("%v: %v", tt.written, err)
			continue
		}
		if tt.want != nil && !slices.Equal(s.Codes(), tt.want) {
			t.Errorf("%v = %v, want %v", tt.written, s.Codes(), tt.want)
		}
		back, err := Read(s.Codes(), "")
		if err != nil || !back.Equal(s) && !back.Minus(s).Or(s.Minus(back)).Empty() {
			t.Errorf("%v: %v does not read back: %v", tt.written, s.Codes(), err)
		}
	}
}

func TestSuggestions(t *testing.T) {
	for found, wanted := range map[string]string{
		"UK": "GB ", "EL": "GR ", "gb": "GB", "GBR": "GB (United Kingdom)", "826": "GB", "Germany": "DE", "SCT": "GB-SCT is Scotland",
		"US-PR": "PR (", "CN-HK": "HK (", "GB-XXX": "a subdivision of GB", "gb-sct": "GB-SCT", "GB-Scotland": "GB-SCT", "JE-1": "lists no subdivisions",
		"ZZ-1": "ZZ is not a country code", "SU": "RU, TJ", "YU": "HR, ME", "AN": "CW and SX", "CS": "CZ and SK", "DD": "DE", "EU@2015": "EU@ and the day",
		"EU@1950-01-01": "EU@ and the day", "EZ": "one by one", "999": "ISO 3166-1 alpha-2", "": "ISO 3166-1 alpha-2", "*": "WORLD", "Atlantis": "ISO 3166-1 alpha-2",
	} {
		_, err := Read([]string{found}, "2025-01-01")
		var e *CodeError
		if !errors.As(err, &e) || e.Found != found || !strings.Contains(e.Wanted, wanted) {
			t.Errorf("%q: %v, want mention of %q", found, err, wanted)
		}
	}
}

func TestNamesAndGroups(t *testing.T) {
	for code, want := range map[string]string{"GB": "United Kingdom", "GB-SCT": "Scotland", "150": "Europe", "WORLD": "World", "QQ": "QQ", "GB-QQQ": "GB-QQQ"} {
		if got := Name(code); got != want {
			t.Errorf("Name(%s) = %s", code, got)
		}
	}
	s, err := Read([]string{"021"}, "")
	if err != nil {
		t.Fatal(err)
	}
	if name, ok := s.Group(); !ok || name != "Northern America" {
		t.Errorf("Group = %q, %v", name, ok)
	}
	if All().IsWorld() != true || s.IsWorld() {
		t.Error("IsWorld")
	}
	if code, ok := s.First(); !ok || code != "BM" {
		t.Errorf("First = %s", code)
	}
}

// TestPlacesWithParts checks the table's own counts: the entries after a subdivision that are parts of it.
func TestPlacesWithParts(t *testing.T) {
	for ci, list := range subdivisions {
		for i, s := range list {
			for j := i + 1; j < len(list); j++ {
				within := strings.HasPrefix(list[j].path, s.path+"\x01")
				if within != (j <= i+s.parts) {
					t.Fatalf("%s-%s: %d parts, but %q", countries[ci].alpha2, s.code(), s.parts, list[j].path)
				}
			}
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, s := range []string{"GB", "-GB-SCT", "EU@2015-03-01", "WORLD", "UK", "150", "GB-ENG", "EU@", "-", "US-PR", "\x01", "GB-\x01"} {
		f.Add(s, "US")
	}
	f.Fuzz(func(t *testing.T, a, b string) {
		s, err := Read([]string{"WORLD", a, b, "-" + a}, "2020-01-31")
		if err != nil {
			var e *CodeError
			if !errors.As(err, &e) || e.Wanted == "" {
				t.Fatalf("%q, %q: %v", a, b, err)
			}
			return
		}
		one, err := Read([]string{strings.TrimPrefix(a, "-")}, "2020-01-31")
		if err == nil && !strings.HasPrefix(a, "-") && s.Meets(one) {
			t.Fatalf("%q was removed and is still there", a)
		}
		back, err := Read(s.Codes(), "")
		if err != nil || !back.Equal(s) && !back.Minus(s).Or(s.Minus(back)).Empty() {
			t.Fatalf("%v does not read back: %v", s.Codes(), err)
		}
	})
}
