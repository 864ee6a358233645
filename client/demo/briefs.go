package demo

// Brief is a commission that asks for a plate, and how far the work on it has come.
type Brief struct {
	Key, Client, Title, Species string
	Views, Structures           []string
	PrintedMM                   float64 // total length of the animal in print
	Line                        bool    // printed as line art, else in tone
	Medium, Territory, Language string
	Due                         string
	Job                         string // of its pictures; empty before any are drawn
	Specimen                    string // the animal at hand
	Studies                     []StudyDone
	Ticks                       []Tick
	Plate                       string // the work delivered
	Copied                      []string
}

// StudyDone is a work drawn for a brief.
type StudyDone struct {
	Work       string
	Structures []string
}

// Tick is a structure whose count somebody verified against a specimen.
type Tick struct {
	Structure, Formula, By, On, Specimen string
}

// Briefs are the studio's commissions. Each open one asks for a species that is absent from the archive or thinly covered, with relatives that
// are well covered; the last one is delivered.
func Briefs() []Brief {
	left := []string{"left lateral"}
	return []Brief{
		{Key: "B-01", Client: "QUILLFIN", Title: "Rockfishes, second volume", Species: "Sebastes ciliatus", Views: left, Structures: []string{dorsalFin, analFin, pectoral, "head"},
			PrintedMM: 165, Medium: "print.book", Territory: "WORLD", Language: "en", Due: "2027-03-01"},
		{Key: "B-02", Client: "NNHM", Title: "Serranus wall panel", Species: "Serranus subligarius", Views: left, Structures: []string{dorsalFin, "opercle", "scales"},
			PrintedMM: 420, Medium: "display", Territory: "GB", Language: "en", Due: "2027-01-15", Job: "J-12", Specimen: "STC 0415",
			Studies: []StudyDone{{"S-061", []string{dorsalFin, "scales"}}, {"S-062", []string{"opercle"}}},
			Ticks: []Tick{
				{dorsalFin, "D X,12", "Maren Oltedal", "2024-05-07", "STC 0415"},
				{"opercle", "", "Maren Oltedal", "2024-05-09", "STC 0415"},
			}},
		{Key: "B-03", Client: "GREYWATER", Title: "Bullheads of the becks", Species: "Cottus poecilopus", Views: []string{"left lateral", "dorsal"}, Structures: []string{dorsal1, dorsal2, pectoral, pelvic},
			PrintedMM: 240, Medium: "display", Territory: "GB-SCT", Language: "en", Due: "2027-05-01"},
		{Key: "B-04", Client: "OTTERBACH", Title: "Barsche Europas", Species: "Perca fluviatilis", Views: left, Structures: []string{dorsal1, dorsal2, analFin, "lateral line"},
			PrintedMM: 180, Line: true, Medium: "print.book", Territory: "150", Language: "de", Due: "2027-02-01"},
		{Key: "B-05", Client: "MERLEBLEU", Title: "Pageots de la Méditerranée", Species: "Pagellus acarne", Views: left, Structures: []string{dorsalFin, pectoral, caudal},
			PrintedMM: 140, Line: true, Medium: "print.book.fieldguide", Territory: "FR", Language: "fr", Due: "2027-04-01"},
		{Key: "B-06", Client: "LSA", Title: "Gurnards that walk", Species: "Chelidonichthys obscurus", Views: left, Structures: []string{"free pectoral rays", pectoral},
			PrintedMM: 300, Medium: "display", Territory: "NO", Language: "en", Due: "2027-06-01"},
		{Key: "B-07", Client: "QUILLFIN", Title: "Cod and its Kin, second edition", Species: "Pollachius pollachius", Views: left, Structures: []string{dorsal1, caudal, "scales", "head", "gill rakers"},
			PrintedMM: 200, Medium: "print.book", Territory: "WORLD", Language: "en", Due: "2027-07-01"},
		{Key: "B-08", Client: "GREYWATER", Title: "Carps of clear streams", Species: "Carassius carassius", Views: left, Structures: []string{dorsalFin, analFin, "scales"},
			PrintedMM: 120, Medium: "display", Territory: "GB-SCT", Language: "en", Due: "2022-07-20", Job: "J-11", Specimen: "NNHM 2019.044",
			Studies: []StudyDone{{"S-053", []string{dorsalFin, analFin, "scales"}}},
			Ticks:   []Tick{{dorsalFin, "D iii,17", "Maren Oltedal", "2022-06-16", "NNHM 2019.044"}, {analFin, "A iii,6", "Maren Oltedal", "2022-06-16", "NNHM 2019.044"}},
			Plate:   "P-034", Copied: []string{"S-053"}},
	}
}
