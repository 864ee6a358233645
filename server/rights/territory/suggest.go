package territory

import (
	"fmt"
	"strings"
)

// successors says what became of a withdrawn code; two countries had CS in turn.
// ISO 3166-3, from memory.
var successors = map[string]string{
	"AN": "BQ, CW and SX",
	"BU": "MM",
	"CS": "CZ and SK (Czechoslovakia, until 1993) or RS and ME (Serbia and Montenegro, 2003 to 2006)",
	"CT": "KI",
	"DD": "DE",
	"DY": "BJ",
	"FQ": "TF and AQ",
	"FX": "FR",
	"HV": "BF",
	"JT": "UM",
	"MI": "UM",
	"NH": "VU",
	"NQ": "AQ",
	"NT": "IQ and SA",
	"PC": "FM, MH, MP and PW",
	"PU": "UM",
	"PZ": "PA",
	"RH": "ZW",
	"SU": "AM, AZ, BY, EE, GE, KG, KZ, LT, LV, MD, RU, TJ, TM, UA and UZ",
	"TP": "TL",
	"VD": "VN",
	"WK": "UM",
	"YD": "YE",
	"YU": "BA, HR, ME, MK, RS and SI (before 1992) or RS and ME (1992 to 2003)",
	"ZR": "CD",
}

// habits are codes that people write for a country although ISO assigns another.
var habits = map[string]string{
	"UK":  "GB (UK is reserved for the United Kingdom, whose code is GB; JE, GG and IM are listed apart)",
	"EL":  "GR (EL is used by the European Commission; the ISO code of Greece is GR)",
	"EN":  "GB-ENG for England; a language goes into the language field",
	"USA": "US (Puerto Rico and the other territories are listed apart: PR, VI, GU, AS, MP, UM)",
	"UAE": "AE",
	"EZ":  "the countries of the euro area one by one",
	"*":   "WORLD",
}

// suggest says what to write instead of an unknown code.
func suggest(code string) string {
	upper := strings.ToUpper(strings.TrimSpace(code))
	if w, ok := habits[upper]; ok {
		return w
	}
	if w, ok := gone(upper); ok {
		return w
	}
	for _, a := range aliases {
		if a[0] == upper {
			return fmt.Sprintf("%s (ISO 3166-1 lists %s apart)", a[1], Name(a[1]))
		}
	}
	if name, at, ok := strings.Cut(upper, "@"); ok || name == "EU" || name == "EEA" {
		if name == "EU" || name == "EEA" {
			return fmt.Sprintf("%s@ and the day of membership, such as %s@2021-01-01 (found day %q)", name, name, at)
		}
	}
	if upper != code {
		if _, err := one(upper, ""); err == nil {
			return upper
		}
	}
	if cc, sub, ok := strings.Cut(upper, "-"); ok {
		i, known := find(cc)
		if !known {
			return "an ISO 3166-2 code: country, hyphen, subdivision, such as GB-SCT; " + cc + " is not a country code"
		}
		return byName(i, sub)
	}
	for _, c := range countries {
		if c.alpha3 == upper && upper != "" || c.numeric == upper && upper != "" || strings.EqualFold(c.name, strings.TrimSpace(code)) {
			return fmt.Sprintf("%s (%s)", c.alpha2, c.name)
		}
	}
	for i, c := range countries {
		if s, ok := findSub(i, upper); ok && len(upper) == 3 {
			return fmt.Sprintf("an ISO 3166-1 alpha-2 code; %s-%s is %s", c.alpha2, upper, s.name)
		}
	}
	return "an ISO 3166-1 alpha-2 code (DE), a subdivision (GB-SCT), a UN M49 group (150), WORLD, EU@date or EEA@date"
}

func gone(code string) (string, bool) {
	for _, w := range withdrawn {
		if w.code == code {
			return fmt.Sprintf("%s (%s, %s, was withdrawn in %s)", successors[code], code, w.name, w.date), true
		}
	}
	return "", false
}

func byName(ci int, sub string) string {
	cc, list := countries[ci].alpha2, subdivisions[ci]
	for _, s := range list {
		if strings.EqualFold(s.name, sub) {
			return cc + "-" + s.code()
		}
	}
	if len(list) == 0 {
		return cc + ": ISO 3166-2 lists no subdivisions of it"
	}
	return fmt.Sprintf("a subdivision of %s in ISO 3166-2, such as %s-%s", cc, cc, list[0].code())
}
