package money

import (
	"encoding/json"
	"errors"
	"os"
	"strings"
	"testing"
)

func TestParse(t *testing.T) {
	for _, tt := range []struct{ decimal, code, want string }{
		{"1250", "EUR", "EUR 1250.00"},
		{"1250.5", "EUR", "EUR 1250.50"},
		{"0.05", "GBP", "GBP 0.05"},
		{"0", "USD", "USD 0.00"},
		{"12000", "JPY", "JPY 12000"},
		{"1.234", "KWD", "KWD 1.234"},
		{"800.00", "DEM", "DEM 800.00"},
		{"450000", "ITL", "ITL 450000"},
		{"99.99", "HRK", "HRK 99.99"},
		{"10", "XCG", "XCG 10.00"},
	} {
		a, err := Parse(tt.decimal, tt.code)
		if err != nil || a.String() != tt.want {
			t.Errorf("Parse(%q, %q) = %v, %v; want %s", tt.decimal, tt.code, a, err, tt.want)
		}
	}
}

func TestParseRefuses(t *testing.T) {
	for _, tt := range []struct{ decimal, code, wanted string }{
		{"1e3", "EUR", "plain decimal"}, {"NaN", "EUR", "plain decimal"}, {"Inf", "EUR", "plain decimal"},
		{"-1", "EUR", "plain decimal"}, {"+1", "EUR", "plain decimal"}, {"1,250.00", "EUR", "plain decimal"},
		{"1250,00", "EUR", "plain decimal"}, {"", "EUR", "plain decimal"}, {".5", "EUR", "plain decimal"},
		{"5.", "EUR", "plain decimal"}, {"007", "EUR", "plain decimal"}, {" 1", "EUR", "plain decimal"},
		{"0x10", "EUR", "plain decimal"}, {"1_000", "EUR", "plain decimal"}, {"１", "EUR", "plain decimal"},
		{"1.005", "EUR", "at most 2 decimals"}, {"1.5", "JPY", "at most 0 decimals"},
		{"99999999999999999999", "EUR", "at most 15 digits"},
		{"1", "eur", "EUR"}, {"1", "€", "EUR"}, {"1", "$", "USD"}, {"1", "DM", "DEM"}, {"1", "XXX", "ISO 4217"}, {"1", "R S", "ISO 4217"}, {"1", "", "ISO 4217"},
	} {
		a, err := Parse(tt.decimal, tt.code)
		var e *FormatError
		if !errors.As(err, &e) || !strings.Contains(e.Wanted, tt.wanted) {
			t.Errorf("Parse(%q, %q) = %v, %v; want a refusal that mentions %q", tt.decimal, tt.code, a, err, tt.wanted)
		}
	}
}

// TestListAgainstISO compares with Debian's iso-codes, which must be installed.
// Its 4.15 predates XCG and ZWG and still lists what the years above withdrew.
func TestListAgainstISO(t *testing.T) {
	raw, err := os.ReadFile("/usr/share/iso-codes/json/iso_4217.json")
	if err != nil {
		t.Fatalf("install the package iso-codes: %v", err)
	}
	var file map[string][]struct {
		Code string `json:"alpha_3"`
	}
	if err := json.Unmarshal(raw, &file); err != nil {
		t.Fatal(err)
	}
	noMoney := "XAG XAU XBA XBB XBC XBD XDR XPD XPT XSU XTS XUA XXX"
	listed := map[string]bool{"XCG": true, "ZWG": true}
	for _, c := range file["4217"] {
		listed[c.Code] = true
		if _, ok := Lookup(c.Code); ok == strings.Contains(noMoney, c.Code) {
			t.Errorf("Lookup(%s) = %v", c.Code, ok)
		}
	}
	for _, table := range current {
		for _, code := range strings.Fields(table.codes) {
			if !listed[code] {
				t.Errorf("%s is not an ISO 4217 code", code)
			}
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add("1250.00", "EUR")
	f.Add("1e3", "DEM")
	f.Add("0", "JPY")
	f.Add("00.1", "KWD")
	f.Fuzz(func(t *testing.T, decimal, code string) {
		a, err := Parse(decimal, code)
		if err != nil {
			return
		}
		b, err := Parse(a.Decimal(), a.Currency())
		if err != nil || a != b {
			t.Fatalf("Parse(%q, %q) = %v does not read back: %v, %v", decimal, code, a, b, err)
		}
	})
}
