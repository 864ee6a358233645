package territory

import "strings"

// member is a state's time in a union: from the first day to the last, "" while it lasts.
type member struct{ codes, from, to string }

// European Communities and Union: dates of the accession treaties; GB's last day
// was 2020-01-31 (Withdrawal Agreement). From memory, checked against the dated
// lists of the published licensing cases.
var union = [...]member{
	{"BE DE FR IT LU NL", "1958-01-01", ""},
	{"DK IE", "1973-01-01", ""},
	{"GB", "1973-01-01", "2020-01-31"},
	{"GR", "1981-01-01", ""},
	{"ES PT", "1986-01-01", ""},
	{"AT FI SE", "1995-01-01", ""},
	{"CY CZ EE HU LT LV MT PL SI SK", "2004-05-01", ""},
	{"BG RO", "2007-01-01", ""},
	{"HR", "2013-07-01", ""},
}

// European Economic Area: in force 1994-01-01, Liechtenstein 1995-05-01; later
// accessions by the days of provisional application; GB until the end of the
// transition period. From memory.
var area = [...]member{
	{"BE DE FR IT LU NL DK IE GR ES PT AT FI SE IS NO", "1994-01-01", ""},
	{"GB", "1994-01-01", "2020-12-31"},
	{"LI", "1995-05-01", ""},
	{"CY CZ EE HU LT LV MT PL SI SK", "2004-05-01", ""},
	{"BG RO", "2007-08-01", ""},
	{"HR", "2014-04-12", ""},
}

// membersAt are the members of EU or EEA on a day (YYYY-MM-DD).
func membersAt(name, day string) (bits, bool) {
	var b bits
	var table []member
	switch name {
	case "EU":
		table = union[:]
	case "EEA":
		table = area[:]
	default:
		return b, false
	}
	for _, m := range table {
		if m.from > day || m.to != "" && m.to < day {
			continue
		}
		for code := range strings.FieldsSeq(m.codes) {
			if i, ok := find(code); ok {
				b.set(i)
			}
		}
	}
	return b, true
}
