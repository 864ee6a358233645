package demo

// Grant is one permission, as the studio's contracts state it. Media are dotted
// paths, territories ISO 3166 or UN M49 codes with "-" for exceptions, languages
// BCP 47. An empty To means the legal term of copyright.
type Grant struct {
	Key, Licensee   string
	Exclusivity     string // "exclusive", "sole" or "non-exclusive"
	Works           []string
	Media           []string
	Territories     []string
	Languages       []string
	From, To        string
	Signed          string
	Credit          string
	Fee             string // ISO 4217 code and amount
	PrintRun        int    // copies allowed; 0 when not limited
	Product, Terms  string
	ReservedMedia   []string // kept by the studio
	PaymentRequired bool     // no permission before the fee is paid
	Paid            bool
	Ended           string // first day out of force, if ended early
}

const ebbvikCredit = "© Studio Ebbvik"

// Grants are those in the archive; by their dates some have expired.
func Grants() []Grant {
	world, any := []string{"WORLD"}, []string{"*"}
	return []Grant{
		{Key: "G-01", Licensee: "QUILLFIN", Exclusivity: "exclusive", Works: []string{"P-001", "P-002", "P-003"}, Media: []string{"print.book"}, Territories: world, Languages: []string{"en"},
			From: "2014-07-01", To: "2021-06-30", Signed: "2014-06-10", Credit: ebbvikCredit, Fee: "GBP 2400.00", PrintRun: 6000, Product: "Rockfishes of the Northern Shelves, 1st edition", Terms: "expired; rights returned", Paid: true},
		{Key: "G-02", Licensee: "QUILLFIN", Exclusivity: "non-exclusive", Works: []string{"P-001", "P-002", "P-003"}, Media: []string{"print.book", "digital.ebook"}, Territories: world, Languages: []string{"en"},
			From: "2021-07-01", To: "2031-06-30", Signed: "2021-05-18", Credit: ebbvikCredit, Fee: "GBP 900.00", PrintRun: 4000, Product: "Rockfishes of the Northern Shelves, 2nd edition", Paid: true},
		{Key: "G-03", Licensee: "NNHM", Exclusivity: "sole", Works: []string{"P-004", "P-005"}, Media: []string{"display"}, Territories: []string{"GB"}, Languages: any,
			From: "2015-09-01", Signed: "2015-08-20", Credit: "© Studio Ebbvik; specimens Northmere Natural History Museum", Fee: "GBP 3100.00", Terms: "for the museum's own rooms; studio may show too", Paid: true},
		{Key: "G-04", Licensee: "NNHM", Exclusivity: "non-exclusive", Works: []string{"P-004", "P-005"}, Media: []string{"print.book"}, Territories: world, Languages: []string{"en"},
			From: "2015-09-01", To: "2030-08-31", Signed: "2015-08-20", Credit: "© Studio Ebbvik; specimens Northmere Natural History Museum", Fee: "GBP 600.00", PrintRun: 1500, Product: "Groupers, hall catalogue", Paid: true},
		{Key: "G-05", Licensee: "QUILLFIN", Exclusivity: "exclusive", Works: []string{"P-006", "P-007"}, Media: []string{"print.book.fieldguide"}, Territories: []string{"WORLD", "-DE", "-AT", "-CH"}, Languages: []string{"en"},
			From: "2016-04-01", To: "2029-03-31", Signed: "2016-03-12", Credit: ebbvikCredit, Fee: "GBP 1300.00", PrintRun: 10000, Product: "Pocket Guide to Western Atlantic Sea Basses", Paid: true},
		{Key: "G-06", Licensee: "MERLEBLEU", Exclusivity: "exclusive", Works: []string{"P-008", "P-009", "P-010", "P-011"}, Media: []string{"print.book"}, Territories: []string{"FR", "BE", "CH", "LU", "CA"}, Languages: []string{"fr"},
			From: "2017-08-01", To: "2032-07-31", Signed: "2017-07-03", Credit: "© Studio Ebbvik", Fee: "EUR 3800.00", PrintRun: 5000, Product: "Dorades et pageots", ReservedMedia: []string{"print.book.jacket"}, Paid: true},
		{Key: "G-07", Licensee: "MERLEBLEU", Exclusivity: "non-exclusive", Works: []string{"P-008", "P-009"}, Media: []string{"print.book"}, Territories: []string{"ES", "419"}, Languages: []string{"es"},
			From: "2019-01-01", To: "2027-12-31", Signed: "2018-11-26", Credit: "© Studio Ebbvik", Fee: "EUR 700.00", PrintRun: 3000, Product: "Doradas y brecas", Paid: true},
		{Key: "G-08", Licensee: "TIDEMARK", Exclusivity: "exclusive", Works: []string{"P-012", "P-013", "P-014"}, Media: []string{"print.magazine"}, Territories: []string{"US", "CA"}, Languages: []string{"en"},
			From: "2018-05-01", To: "2019-04-30", Signed: "2018-03-30", Credit: "Art: Studio Ebbvik", Fee: "USD 2200.00", PrintRun: 85000, Product: "Silver Swimmers, four parts", Terms: "expired", Paid: true},
		{Key: "G-09", Licensee: "TIDEMARK", Exclusivity: "non-exclusive", Works: []string{"P-012", "P-013", "P-014"}, Media: []string{"digital.web"}, Territories: world, Languages: []string{"en"},
			From: "2018-05-01", To: "2028-04-30", Signed: "2018-03-30", Credit: "Art: Studio Ebbvik", Fee: "USD 500.00", Paid: true},
		{Key: "G-10", Licensee: "LSA", Exclusivity: "exclusive", Works: []string{"P-016", "P-017", "P-018", "P-019", "P-023", "P-024"}, Media: []string{"display"}, Territories: []string{"NO", "SE", "DK"}, Languages: any,
			From: "2020-05-01", To: "2030-04-30", Signed: "2020-04-14", Credit: "Maren Oltedal / Studio Ebbvik", Fee: "NOK 64000.00", Terms: "signs and screens in the gallery", Paid: true},
		{Key: "G-11", Licensee: "OTTERBACH", Exclusivity: "exclusive", Works: []string{"P-025", "S-041"}, Media: []string{"print.book", "digital.ebook"}, Territories: []string{"DE", "AT", "CH"}, Languages: []string{"de"},
			From: "2020-12-01", To: "2030-11-30", Signed: "2020-11-09", Credit: "Zeichnung: Studio Ebbvik", Fee: "EUR 1450.00", PrintRun: 2500, Product: "Knurrhähne und Verwandte", Paid: true},
		{Key: "G-12", Licensee: "QUILLFIN", Exclusivity: "exclusive", Works: []string{"P-026", "P-027"}, Media: []string{"print.book", "digital.ebook"}, Territories: world, Languages: []string{"en", "de"},
			From: "2021-06-01", To: "2031-05-31", Signed: "2021-05-04", Credit: ebbvikCredit, Fee: "GBP 1800.00", PrintRun: 8000, Product: "Cod and its Kin", PaymentRequired: true, Paid: true},
		{Key: "G-13", Licensee: "GREYWATER", Exclusivity: "sole", Works: []string{"P-028", "P-030", "P-032", "P-033", "P-034", "P-036"}, Media: []string{"display"}, Territories: []string{"GB-SCT", "GB-ENG"}, Languages: []string{"en", "gd"},
			From: "2022-07-01", To: "2032-06-30", Signed: "2022-06-20", Credit: "Illustration: Studio Ebbvik", Fee: "GBP 5200.00", Terms: "outdoor panels; no alteration but scaling", Paid: true},
		{Key: "G-14", Licensee: "GREYWATER", Exclusivity: "non-exclusive", Works: []string{"P-028", "P-032"}, Media: []string{"print.brochure", "digital.web"}, Territories: []string{"GB"}, Languages: []string{"en"},
			From: "2022-07-01", To: "2025-06-30", Signed: "2022-06-20", Credit: "Illustration: Studio Ebbvik", Fee: "GBP 400.00", PrintRun: 20000, Terms: "expired", Paid: true},
		{Key: "G-15", Licensee: "OTTERBACH", Exclusivity: "non-exclusive", Works: []string{"P-028", "P-029", "P-031"}, Media: []string{"print.book"}, Territories: []string{"150"}, Languages: []string{"de"},
			From: "2026-01-01", To: "2033-12-31", Signed: "2025-11-17", Credit: "Zeichnung: Studio Ebbvik", Fee: "EUR 980.00", PrintRun: 3500, PaymentRequired: true, Terms: "fee outstanding", Product: "Barsche Europas"},
		{Key: "G-16", Licensee: "NNHM", Exclusivity: "non-exclusive", Works: []string{"P-022", "P-035"}, Media: []string{"print.journal", "digital.journal"}, Territories: world, Languages: any,
			From: "2023-04-01", Signed: "2023-03-20", Credit: "© Studio Ebbvik; specimens Northmere Natural History Museum", Fee: "GBP 350.00", Paid: true},
	}
}

// RefusedGrant is a request that must not be granted, and the grant that stands
// in its way.
type RefusedGrant struct {
	Grant
	Against string // key of the grant it collides with
	Why     string
}

// RefusedGrants overlap a grant in force.
func RefusedGrants() []RefusedGrant {
	return []RefusedGrant{
		{Grant{Key: "X-01", Licensee: "OTTERBACH", Exclusivity: "non-exclusive", Works: []string{"P-026"}, Media: []string{"print.book"}, Territories: []string{"DE"}, Languages: []string{"de"},
			From: "2026-01-01", To: "2028-12-31", Signed: "2025-12-01", Fee: "EUR 300.00"}, "G-12", "a German book edition lies inside an exclusive grant to another house"},
		{Grant{Key: "X-02", Licensee: "LSA", Exclusivity: "exclusive", Works: []string{"P-028"}, Media: []string{"display"}, Territories: []string{"WORLD"}, Languages: []string{"*"},
			From: "2025-01-01", To: "2029-12-31", Signed: "2024-12-01", Fee: "NOK 9000.00"}, "G-13", "display in Scotland and England is sole to the park"},
		{Grant{Key: "X-03", Licensee: "QUILLFIN", Exclusivity: "exclusive", Works: []string{"P-008"}, Media: []string{"print.book"}, Territories: []string{"WORLD"}, Languages: []string{"*"},
			From: "2024-01-01", To: "2029-12-31", Signed: "2023-10-01", Fee: "GBP 800.00"}, "G-06", "overlaps French books in five countries"},
		{Grant{Key: "X-04", Licensee: "TIDEMARK", Exclusivity: "non-exclusive", Works: []string{"P-016", "P-020"}, Media: []string{"display"}, Territories: []string{"NO"}, Languages: []string{"en"},
			From: "2025-06-01", To: "2026-06-01", Signed: "2025-05-01", Fee: "USD 400.00"}, "G-10", "exhibition in Norway while the aquarium's signs are exclusive"},
	}
}
