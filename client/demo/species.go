package demo

// Range is an inclusive range of counts.
type Range struct{ Min, Max int }

// Has reports whether n lies in the range.
func (r Range) Has(n int) bool { return n >= r.Min && n <= r.Max }

// Diagnosis is what a source states of one fin.
type Diagnosis struct {
	Fin        string
	Spines     Range
	Unbranched Range
	Rays       Range // branched where Unbranched is stated, otherwise all soft rays
}

// Species is a fish of which the studio holds pictures.
type Species struct {
	Name       string
	Family     string
	Vernacular string
	Diagnosis  []Diagnosis
	// LateralLine is the stated number of scales in the lateral line, or in a
	// longitudinal series where there is none; zero if the source is silent.
	LateralLine Range
	// Source is the work that the counts were taken from, or FromMemory.
	Source string
}

// Proportion is a published length over another, as a fraction.
type Proportion struct {
	Length, Over string
	Min, Max     float64
	Source       string
}

// Proportions are the published proportions of a species, where the studio looked them up.
func (s Species) Proportions() []Proportion {
	// Cope gives "times in length without caudal fin" to two decimals: depth 2.75, head without the opercular flap 2.66.
	const cope = "Cope 1870 (as Centropristis subligarius), quoted by aquasymbio.fr"
	if s.Name != "Serranus subligarius" {
		return nil
	}
	return []Proportion{
		{"body depth", "standard length", 1 / 2.755, 1 / 2.745, cope},
		{"head length", "standard length", 1 / 2.665, 1 / 2.655, cope},
	}
}

// FromMemory marks counts that nobody looked up.
const FromMemory = "from memory"

// Published sources of counts.
const (
	orr2000     = "Orr, Brown & Baker 2000, NOAA Tech. Memo. NMFS-AFSC-117"
	fahay2007   = "Fahay 2007, Early Stages of Fishes in the W North Atlantic, tables"
	whitehead   = "Whitehead et al. 1984-86, Fishes of the NE Atlantic and Mediterranean"
	tamu        = "Marine Species of Texas, TAMU Galveston"
	fao         = "FAO species identification sheets, Mediterranean"
	hoese2009   = "Hoese & Allen 2009"
	li2008      = "Li et al. 2008"
	jordan1905  = "Jordan 1905, A Guide to the Study of Fishes, vol. 2"
	smith1898   = "Smith 1898, Salmon Fishery of Penobscot Bay"
	jordanStyle = "American game-fish text, 19th century"
)

func one(n int) Range { return Range{n, n} }

// spiny states a fin with spines and soft rays.
func spiny(fin string, s0, s1, r0, r1 int) Diagnosis {
	return Diagnosis{Fin: fin, Spines: Range{s0, s1}, Rays: Range{r0, r1}}
}

// soft states a fin of soft rays only.
func soft(fin string, r0, r1 int) Diagnosis { return Diagnosis{Fin: fin, Rays: Range{r0, r1}} }

// parted states unbranched and branched rays.
func parted(fin string, u0, u1, r0, r1 int) Diagnosis {
	return Diagnosis{Fin: fin, Unbranched: Range{u0, u1}, Rays: Range{r0, r1}}
}

// AllSpecies lists the studio's species.
func AllSpecies() []Species {
	type ds = []Diagnosis
	return []Species{
		{"Sebastes polyspinis", "Sebastidae", "northern rockfish", ds{spiny(dorsalFin, 14, 14, 13, 16), spiny(analFin, 3, 3, 7, 9), soft(pectoral, 17, 19)}, Range{43, 53}, orr2000},
		{"Sebastes aleutianus", "Sebastidae", "rougheye rockfish", ds{spiny(dorsalFin, 13, 14, 12, 15), spiny(analFin, 3, 3, 6, 8), soft(pectoral, 17, 19)}, Range{29, 37}, orr2000},
		{"Sebastes constellatus", "Sebastidae", "starry rockfish", ds{spiny(dorsalFin, 13, 14, 12, 14), spiny(analFin, 3, 3, 5, 7), soft(pectoral, 16, 18)}, Range{37, 47}, orr2000},
		{"Epinephelus morio", "Serranidae", "red grouper", ds{spiny(dorsalFin, 11, 11, 15, 17), spiny(analFin, 3, 3, 8, 10), soft(pectoral, 16, 18)}, Range{}, fahay2007},
		{"Epinephelus itajara", "Serranidae", "goliath grouper", ds{spiny(dorsalFin, 11, 11, 15, 16), spiny(analFin, 3, 3, 8, 8), soft(pectoral, 18, 19)}, Range{}, fahay2007},
		{"Centropristis striata", "Serranidae", "black sea bass", ds{spiny(dorsalFin, 10, 10, 11, 11), spiny(analFin, 3, 3, 7, 7), soft(pectoral, 16, 19)}, Range{}, fahay2007},
		{"Centropristis philadelphica", "Serranidae", "rock sea bass", ds{spiny(dorsalFin, 10, 10, 11, 11), spiny(analFin, 3, 3, 7, 7), soft(pectoral, 15, 20)}, Range{}, fahay2007},
		{"Serranus phoebe", "Serranidae", "tattler", ds{spiny(dorsalFin, 10, 10, 12, 12), spiny(analFin, 3, 3, 7, 8), soft(pectoral, 14, 17)}, Range{}, fahay2007},
		{"Serranus subligarius", "Serranidae", "belted sandfish", ds{spiny(dorsalFin, 10, 10, 11, 14), spiny(analFin, 3, 3, 6, 7), soft(pectoral, 14, 17)}, Range{}, fahay2007},
		{"Diplodus sargus", "Sparidae", "white seabream", ds{spiny(dorsalFin, 11, 13, 12, 15), spiny(analFin, 3, 3, 12, 14)}, Range{58, 67}, whitehead},
		{"Sparus aurata", "Sparidae", "gilthead seabream", ds{spiny(dorsalFin, 11, 11, 12, 13), spiny(analFin, 3, 3, 11, 12)}, Range{73, 85}, fao},
		{"Spondyliosoma cantharus", "Sparidae", "black seabream", ds{spiny(dorsalFin, 11, 11, 11, 13), spiny(analFin, 3, 3, 9, 11)}, Range{66, 75}, whitehead},
		{"Pagellus erythrinus", "Sparidae", "common pandora", ds{spiny(dorsalFin, 12, 12, 10, 11), spiny(analFin, 3, 3, 8, 9)}, Range{55, 65}, FromMemory},
		{"Pagellus bellottii", "Sparidae", "red pandora", ds{spiny(dorsalFin, 12, 12, 9, 11), spiny(analFin, 3, 3, 10, 10)}, Range{51, 60}, whitehead},
		{"Selene vomer", "Carangidae", "lookdown", ds{spiny(dorsal1, 8, 8, 0, 0), spiny(dorsal2, 1, 1, 21, 23), spiny(analFin, 3, 3, 18, 20)}, Range{}, tamu},
		{"Selene dorsalis", "Carangidae", "African moonfish", ds{spiny(dorsal1, 8, 8, 0, 0), spiny(dorsal2, 1, 1, 23, 24), spiny(analFin, 3, 3, 18, 20)}, Range{}, whitehead},
		{"Trachinotus carolinus", "Carangidae", "Florida pompano", ds{spiny(dorsal1, 6, 6, 0, 0), spiny(dorsal2, 1, 1, 25, 25), spiny(analFin, 3, 3, 23, 23)}, Range{}, jordanStyle},
		{"Trachinotus falcatus", "Carangidae", "permit", ds{spiny(dorsal1, 5, 6, 0, 0), spiny(dorsal2, 1, 1, 18, 20), spiny(analFin, 3, 3, 17, 18)}, Range{}, tamu},
		{"Micropogonias undulatus", "Sciaenidae", "Atlantic croaker", ds{spiny(dorsalFin, 11, 11, 24, 26), spiny(analFin, 2, 2, 10, 11)}, Range{}, tamu},
		{"Sphyraena barracuda", "Sphyraenidae", "great barracuda", ds{spiny(dorsal1, 5, 5, 0, 0), spiny(dorsal2, 1, 1, 8, 10), spiny(analFin, 3, 3, 7, 9), soft(pectoral, 11, 12)}, Range{}, fahay2007},
		{"Sphyraena borealis", "Sphyraenidae", "northern sennet", ds{spiny(dorsal1, 5, 5, 0, 0), spiny(dorsal2, 1, 1, 8, 9), spiny(analFin, 2, 2, 8, 9), soft(pectoral, 11, 12)}, Range{}, fahay2007},
		{"Labrus bergylta", "Labridae", "ballan wrasse", ds{spiny(dorsalFin, 18, 21, 9, 13), spiny(analFin, 3, 3, 8, 12)}, Range{41, 47}, FromMemory},
		{"Labrus mixtus", "Labridae", "cuckoo wrasse", ds{spiny(dorsalFin, 16, 19, 11, 14), spiny(analFin, 3, 3, 9, 12)}, Range{45, 55}, FromMemory},
		{"Coris julis", "Labridae", "rainbow wrasse", ds{spiny(dorsalFin, 8, 10, 11, 12), spiny(analFin, 2, 3, 11, 12)}, Range{73, 80}, FromMemory},
		{"Chromis chromis", "Pomacentridae", "damselfish", ds{spiny(dorsalFin, 14, 14, 9, 11), spiny(analFin, 2, 2, 9, 12)}, Range{17, 19}, FromMemory},
		{"Abudefduf saxatilis", "Pomacentridae", "sergeant major", ds{spiny(dorsalFin, 13, 13, 12, 13), spiny(analFin, 2, 2, 10, 13)}, Range{20, 22}, FromMemory},
		{"Gobius niger", "Gobiidae", "black goby", ds{spiny(dorsal1, 6, 6, 0, 0), spiny(dorsal2, 1, 1, 11, 13), spiny(analFin, 1, 1, 10, 13)}, Range{32, 42}, FromMemory},
		{"Gobius paganellus", "Gobiidae", "rock goby", ds{spiny(dorsal1, 6, 6, 0, 0), spiny(dorsal2, 1, 1, 12, 15), spiny(analFin, 1, 1, 11, 13)}, Range{48, 57}, FromMemory},
		{"Glossogobius muscorum", "Gobiidae", "", ds{spiny(dorsal1, 6, 6, 0, 0), spiny(dorsal2, 1, 1, 10, 10), spiny(analFin, 1, 1, 8, 8), soft(pectoral, 16, 17)}, Range{27, 29}, hoese2009},
		{"Cottus gobio", "Cottidae", "bullhead", ds{spiny(dorsal1, 5, 9, 0, 0), soft(dorsal2, 15, 19), soft(analFin, 10, 15)}, Range{}, FromMemory},
		{"Cottus poecilopus", "Cottidae", "alpine bullhead", ds{spiny(dorsal1, 6, 10, 0, 0), soft(dorsal2, 16, 20), soft(analFin, 12, 16)}, Range{}, FromMemory},
		{"Taurulus bubalis", "Cottidae", "longspined sea scorpion", ds{spiny(dorsal1, 7, 9, 0, 0), soft(dorsal2, 10, 14), soft(analFin, 8, 10)}, Range{}, FromMemory},
		{"Chelidonichthys lucerna", "Triglidae", "tub gurnard", ds{spiny(dorsal1, 8, 10, 0, 0), soft(dorsal2, 15, 17), soft(analFin, 14, 16)}, Range{}, FromMemory},
		{"Chelidonichthys cuculus", "Triglidae", "red gurnard", ds{spiny(dorsal1, 8, 9, 0, 0), soft(dorsal2, 17, 19), soft(analFin, 16, 18)}, Range{}, FromMemory},
		{"Parablennius gattorugine", "Blenniidae", "tompot blenny", ds{spiny(dorsalFin, 12, 14, 17, 20), spiny(analFin, 2, 2, 19, 23)}, Range{}, FromMemory},
		{"Parablennius sanguinolentus", "Blenniidae", "rusty blenny", ds{spiny(dorsalFin, 11, 13, 20, 23), spiny(analFin, 2, 2, 20, 23)}, Range{}, FromMemory},
		{"Gadus morhua", "Gadidae", "Atlantic cod", ds{soft(dorsal1, 13, 16), soft(dorsal2, 17, 24), soft(dorsal3, 16, 21), soft(anal1, 17, 25), soft(anal2, 16, 22)}, Range{}, FromMemory},
		{"Melanogrammus aeglefinus", "Gadidae", "haddock", ds{soft(dorsal1, 14, 17), soft(dorsal2, 20, 24), soft(dorsal3, 19, 22), soft(anal1, 21, 25), soft(anal2, 20, 24)}, Range{}, FromMemory},
		{"Pollachius virens", "Gadidae", "saithe", ds{soft(dorsal1, 13, 14), soft(dorsal2, 20, 22), soft(dorsal3, 20, 24), soft(anal1, 24, 28), soft(anal2, 20, 23)}, Range{}, FromMemory},
		{"Pleuronectes platessa", "Pleuronectidae", "plaice", ds{soft(dorsalFin, 65, 79), soft(analFin, 48, 59)}, Range{}, FromMemory},
		{"Perca fluviatilis", "Percidae", "European perch", ds{spiny(dorsal1, 13, 17, 0, 0), spiny(dorsal2, 1, 2, 13, 16), spiny(analFin, 2, 2, 7, 10)}, Range{56, 77}, FromMemory},
		{"Perca flavescens", "Percidae", "yellow perch", ds{spiny(dorsal1, 12, 14, 0, 0), spiny(dorsal2, 1, 2, 12, 15), spiny(analFin, 2, 2, 6, 8)}, Range{51, 61}, FromMemory},
		{"Gymnocephalus cernua", "Percidae", "ruffe", ds{spiny(dorsalFin, 11, 19, 11, 16), spiny(analFin, 2, 2, 5, 6)}, Range{33, 42}, FromMemory},
		{"Salmo salar", "Salmonidae", "Atlantic salmon", ds{soft(analFin, 9, 12)}, one(120), smith1898},
		{"Salmo trutta", "Salmonidae", "brown trout", ds{parted(dorsalFin, 3, 5, 8, 11), parted(analFin, 3, 4, 6, 9)}, Range{110, 125}, FromMemory},
		{"Oncorhynchus kisutch", "Salmonidae", "coho salmon", ds{soft(analFin, 13, 13)}, one(127), jordan1905},
		{"Cyprinus carpio", "Cyprinidae", "common carp", ds{parted(dorsalFin, 3, 4, 15, 22), parted(analFin, 2, 3, 5, 6)}, Range{35, 40}, FromMemory},
		{"Carassius carassius", "Cyprinidae", "crucian carp", ds{parted(dorsalFin, 3, 4, 14, 21), parted(analFin, 3, 3, 6, 8)}, Range{31, 36}, FromMemory},
		{"Carassius gibelio", "Cyprinidae", "Prussian carp", ds{parted(dorsalFin, 3, 4, 14, 20), parted(analFin, 3, 3, 5, 7)}, Range{27, 33}, FromMemory},
		{"Garra findolabium", "Cyprinidae", "", ds{parted(dorsalFin, 2, 2, 8, 8), parted(analFin, 2, 2, 5, 5), parted(pectoral, 1, 1, 12, 13), parted(pelvic, 1, 1, 8, 8)}, Range{37, 38}, li2008},
	}
}
