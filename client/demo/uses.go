package demo

// Use is a publication that happened.
type Use struct {
	Key, Grant, User string // Grant is empty when none covers it
	Works            []string
	Title, Number    string // Number is invented: see the package comment
	Medium           string
	Territories      []string
	Language         string
	Date             string
	Copies           int
	Credit           string
	Problem          string // why the use was not covered, empty when it was
}

// Uses are the publications that the studio knows of.
func Uses() []Use {
	return []Use{
		{"U-01", "G-01", "QUILLFIN", []string{"P-001", "P-002", "P-003"}, "Rockfishes of the Northern Shelves, 1st edition", "979-0-0000-0101-1", "print.book.fieldguide", []string{"WORLD"}, "en", "2014-10-15", 5200, ebbvikCredit, ""},
		{"U-02", "G-01", "QUILLFIN", []string{"P-001", "P-002", "P-003"}, "Rockfishes of the Northern Shelves, 1st edition", "979-0-0000-0101-1", "print.book.fieldguide", []string{"WORLD"}, "en", "2018-03-01", 1500, ebbvikCredit, "700 copies above the run of 6000"},
		{"U-03", "G-02", "QUILLFIN", []string{"P-001", "P-002"}, "Rockfishes of the Northern Shelves, 2nd edition", "979-0-0000-0102-2", "print.book.fieldguide", []string{"WORLD"}, "en", "2022-02-01", 3000, ebbvikCredit, ""},
		{"U-04", "G-03", "NNHM", []string{"P-004", "P-005"}, "Grouper hall, wall 3", "", "display", []string{"GB"}, "en", "2015-10-01", 1, "© Studio Ebbvik; specimens Northmere Natural History Museum", ""},
		{"U-05", "G-04", "NNHM", []string{"P-004"}, "Groupers, hall catalogue", "979-0-0000-0203-3", "print.book", []string{"GB"}, "en", "2015-11-20", 1200, "Studio Ebbvik", "credit lacks the museum"},
		{"U-06", "G-06", "MERLEBLEU", []string{"P-008", "P-009", "P-010", "P-011"}, "Dorades et pageots", "979-0-0000-0304-4", "print.book", []string{"FR", "BE", "CH"}, "fr", "2018-02-09", 4200, "© Studio Ebbvik", ""},
		{"U-07", "G-07", "MERLEBLEU", []string{"P-008", "P-009"}, "Doradas y brecas", "979-0-0000-0305-5", "print.book", []string{"ES"}, "es", "2019-05-05", 2500, "© Studio Ebbvik", ""},
		{"U-08", "G-08", "TIDEMARK", []string{"P-012"}, "Silver Swimmers I", "979-0-0000-0406-6", "print.magazine", []string{"US", "CA"}, "en", "2018-06-01", 80000, "Art: Studio Ebbvik", ""},
		{"U-09", "G-08", "TIDEMARK", []string{"P-013", "P-014"}, "Silver Swimmers, the collected parts", "979-0-0000-0407-7", "print.magazine", []string{"US"}, "en", "2020-09-01", 12000, "Art: Studio Ebbvik", "after the term"},
		{"U-10", "G-10", "LSA", []string{"P-016", "P-017", "P-018"}, "Rocky-shore gallery, signs 1 to 3", "", "display", []string{"NO"}, "en", "2020-06-12", 3, "Maren Oltedal / Studio Ebbvik", ""},
		{"U-11", "G-11", "OTTERBACH", []string{"P-025"}, "Knurrhähne und Verwandte", "979-0-0000-0508-8", "print.book", []string{"DE", "AT"}, "de", "2021-03-22", 2500, "Zeichnung: Studio Ebbvik", ""},
		{"U-12", "", "OTTERBACH", []string{"P-025"}, "Kalender: Knurrhähne", "", "print.calendar", []string{"DE"}, "de", "2022-10-01", 4000, "", "no grant for calendars; no credit"},
		{"U-13", "G-12", "QUILLFIN", []string{"P-026", "P-027"}, "Cod and its Kin", "979-0-0000-0609-9", "print.book", []string{"WORLD"}, "en", "2021-11-01", 7000, ebbvikCredit, ""},
		{"U-14", "G-13", "GREYWATER", []string{"P-028", "P-032", "P-033"}, "Lakeside trail, panels 1 to 6", "", "display", []string{"GB-SCT"}, "en", "2022-09-01", 6, "Illustration: Studio Ebbvik", ""},
		{"U-15", "G-16", "NNHM", []string{"P-035"}, "Type notes, a museum bulletin", "", "print.journal", []string{"WORLD"}, "en", "2023-06-30", 400, "© Studio Ebbvik; specimens Northmere Natural History Museum", ""},
	}
}
