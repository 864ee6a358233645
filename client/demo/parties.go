package demo

// Party is a client or lender of the studio; all are invented.
type Party struct {
	Key, Name, Kind, Country, Email, Notes string
}

// Clients are the studio's clients and lenders.
func Clients() []Party {
	return []Party{
		{"QUILLFIN", "Quillfin Press", "publisher", "GB", "rights@quillfin.example", "field guides"},
		{"OTTERBACH", "Verlag Otterbach & Sohn", "publisher", "DE", "lizenzen@otterbach.example", "German editions"},
		{"MERLEBLEU", "Éditions Merlebleu", "publisher", "FR", "droits@merlebleu.example", "French and Spanish editions"},
		{"NNHM", "Northmere Natural History Museum", "museum", "GB", "loans@northmere.example", "lends specimens; its catalog number stands in every credit"},
		{"LSA", "Lower Sound Aquarium", "aquarium", "NO", "signs@lowersound.example", "tank signs and screens"},
		{"GREYWATER", "Greywater Park Authority", "park", "GB", "trails@greywater.example", "panels at lakes and rivers"},
		{"TIDEMARK", "The Tidemark Quarterly", "magazine", "US", "pictures@tidemark.example", "feature articles"},
	}
}

// Job is a commission that was carried out.
type Job struct {
	Key, Client, Title, From, To string
}

// Jobs are the studio's past and running commissions.
func Jobs() []Job {
	return []Job{
		{"J-01", "QUILLFIN", "Rockfishes of the Northern Shelves", "2014-02", "2014-06"},
		{"J-02", "NNHM", "Groupers: a hall and its catalogue", "2015-01", "2015-09"},
		{"J-03", "QUILLFIN", "Pocket Guide to Western Atlantic Sea Basses", "2016-01", "2016-03"},
		{"J-04", "MERLEBLEU", "Dorades et pageots", "2017-04", "2017-07"},
		{"J-05", "TIDEMARK", "Silver Swimmers, a feature in four parts", "2018-01", "2018-04"},
		{"J-06", "LSA", "Signs for the rocky-shore gallery", "2017-09", "2020-04"},
		{"J-07", "NNHM", "Types and rarities, study sheets", "2019-03", "2023-03"},
		{"J-08", "OTTERBACH", "Knurrhähne und Verwandte", "2020-08", "2020-11"},
		{"J-09", "QUILLFIN", "Cod and its Kin", "2021-01", "2021-05"},
		{"J-10", "GREYWATER", "Fishes of Lakes and Rivers, panels", "2021-06", "2022-06"},
		{"J-11", "GREYWATER", "Small Fishes of Clear Streams", "2022-06", "2023-10"},
		{"J-12", "NNHM", "Serranus wall panel", "2024-04", ""},
	}
}
