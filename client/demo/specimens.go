package demo

import "platarium/client/demo/draw"

// Element states the spines and rays of one fin of one animal.
type Element struct {
	Fin                      string
	Spines, Unbranched, Rays int
}

// Specimen is an individual fish that the studio worked from. Collections and
// localities are invented.
type Specimen struct {
	Key          string // its catalog number
	Species      string
	Institution  string
	SL           float64 // standard length in mm
	Sex          string
	LifeStage    string
	Preservation string
	Damage       draw.Damage
	DamageNote   string
	Locality     string
	Sensitivity  int // 0 none, 1 (most sensitive) to 4, after Chapman 2020
	Notes        string
	LateralLine  int
	Counts       []Element
	Flat         bool // lay flat and pressed: deeper, and shorter in the head, than in life
}

// Preservation notes; the cautions are common practice, no source.
const (
	inAlcohol = "formalin 10 %, then ethanol 70 %; caution: formaldehyde residue, rinse and ventilate before drawing; color lost"
	inIso     = "formalin 10 %, then isopropanol 45 %; caution: formaldehyde residue, flammable; specimen stiff, fins brittle"
	fresh     = "fresh on ice, photographed within two hours, then fixed in formalin 10 %; caution: fixative is toxic, gloves and hood"
	frozen    = "frozen, thawed once; fins soft, no fixative"
	alive     = "live, photographed in a tank and released"
	oldFluid  = "unknown fluid topped up with ethanol 70 %; caution: may hold mercuric chloride or formaldehyde, do not open without the curator"
)

// Fin sets of common body plans: caudal counts are principal rays.
func onePiece(ds, dr, as, ar, p int) []Element {
	return []Element{{dorsalFin, ds, 0, dr}, {analFin, as, 0, ar}, {pectoral, 0, 0, p}, {pelvic, 1, 0, 5}, {caudal, 0, 0, 17}}
}

func twoPiece(d1, d2s, d2r, as, ar, p int) []Element {
	return []Element{{dorsal1, d1, 0, 0}, {dorsal2, d2s, 0, d2r}, {analFin, as, 0, ar}, {pectoral, 0, 0, p}, {pelvic, 1, 0, 5}, {caudal, 0, 0, 17}}
}

func threePiece(d1, d2, d3, a1, a2, p int) []Element {
	return []Element{{dorsal1, 0, 0, d1}, {dorsal2, 0, 0, d2}, {dorsal3, 0, 0, d3}, {anal1, 0, 0, a1}, {anal2, 0, 0, a2},
		{pectoral, 0, 0, p}, {pelvic, 0, 0, 6}, {caudal, 0, 0, 34}}
}

func softRayed(du, dr, au, ar, p, v int) []Element {
	return []Element{{dorsalFin, 0, du, dr}, {analFin, 0, au, ar}, {pectoral, 0, 1, p}, {pelvic, 0, 1, v}, {caudal, 0, 0, 19}}
}

// pelvicRays changes the pelvic fin of a set, tailRays the caudal fin.
func pelvicRays(es []Element, spines, rays int) []Element {
	return change(es, Element{pelvic, spines, 0, rays})
}

func tailRays(es []Element, n int) []Element { return change(es, Element{caudal, 0, 0, n}) }

func change(es []Element, e Element) []Element {
	for i := range es {
		if es[i].Fin == e.Fin {
			es[i] = e
		}
	}
	return es
}

// Invented collections.
const (
	northmere = "Northmere Natural History Museum"
	teaching  = "Skarrholm Teaching Collection"
	tank      = "Lower Sound Aquarium"
	own       = "Studio Ebbvik"
)

func torn(fin string, missing, broken int) draw.Damage {
	return draw.Damage{Torn: []draw.Tear{{Fin: fin, Missing: missing, Broken: broken}}}
}

// AllSpecimens lists the animals behind the studio's pictures.
func AllSpecimens() []Specimen {
	return append(marine(), freshAndOld()...)
}

func marine() []Specimen {
	s := []Specimen{
		{Key: "NNHM 1998.114", Species: "Sebastes polyspinis", SL: 312, LateralLine: 48, Counts: onePiece(14, 15, 3, 8, 18)},
		{Key: "NNHM 1998.117", Species: "Sebastes aleutianus", SL: 398, LateralLine: 33, Counts: onePiece(13, 14, 3, 7, 18)},
		{Key: "NNHM 2003.020", Species: "Sebastes constellatus", SL: 274, LateralLine: 42, Counts: onePiece(13, 13, 3, 6, 17)},
		{Key: "NNHM 2011.006", Species: "Epinephelus morio", SL: 421, LateralLine: 62, Counts: onePiece(11, 16, 3, 9, 17)},
		{Key: "NNHM 1974.881", Species: "Epinephelus itajara", SL: 905, LateralLine: 63, Counts: onePiece(11, 16, 3, 8, 19), Sensitivity: 2, Preservation: oldFluid,
			Damage: draw.Damage{Faded: 0.6, Bend: 0.05, Torn: []draw.Tear{{Fin: dorsalFin, Missing: 2, Broken: 3}}}, DamageNote: "faded, bent in the jar; two dorsal elements lost, three broken"},
		{Key: "NNHM 2009.310", Species: "Centropristis striata", SL: 236, LateralLine: 48, Counts: onePiece(10, 11, 3, 7, 18)},
		{Key: "NNHM 2009.311", Species: "Centropristis philadelphica", SL: 188, LateralLine: 49, Counts: onePiece(10, 11, 3, 7, 17)},
		{Key: "STC 0412", Species: "Serranus phoebe", SL: 121, LateralLine: 48, Counts: onePiece(10, 12, 3, 7, 15)},
		{Key: "STC 0415", Species: "Serranus subligarius", SL: 74, LateralLine: 43, Counts: onePiece(10, 12, 3, 7, 16)},
		{Key: "NNHM 2014.051", Species: "Diplodus sargus", SL: 231, LateralLine: 62, Counts: onePiece(12, 14, 3, 13, 16)},
		{Key: "NNHM 2014.052", Species: "Sparus aurata", SL: 288, LateralLine: 78, Counts: onePiece(11, 13, 3, 11, 16)},
		{Key: "NNHM 2014.060", Species: "Spondyliosoma cantharus", SL: 244, LateralLine: 71, Counts: onePiece(11, 12, 3, 10, 16)},
		{Key: "STC 0501", Species: "Pagellus erythrinus", SL: 202, LateralLine: 60, Counts: onePiece(12, 10, 3, 8, 16)},
		{Key: "STC 0502", Species: "Pagellus bellottii", SL: 193, LateralLine: 55, Counts: onePiece(12, 10, 3, 10, 16)},
		{Key: "NNHM 1987.402", Species: "Selene vomer", SL: 176, LateralLine: 70, Preservation: inIso, Counts: twoPiece(8, 1, 22, 3, 19, 20),
			Damage: torn(dorsal2, 0, 4), DamageNote: "tips of four second-dorsal rays broken"},
		{Key: "NNHM 1987.405", Species: "Selene dorsalis", SL: 182, LateralLine: 70, Preservation: inIso, Counts: twoPiece(8, 1, 23, 3, 19, 20)},
		{Key: "STC 0620", Species: "Trachinotus carolinus", SL: 251, LateralLine: 90, Counts: twoPiece(6, 1, 25, 3, 23, 18)},
		{Key: "STC 0621", Species: "Trachinotus falcatus", SL: 305, LateralLine: 90, Counts: twoPiece(6, 1, 19, 3, 18, 18)},
		{Key: "STC 0633", Species: "Micropogonias undulatus", SL: 268, LateralLine: 52, Counts: onePiece(11, 25, 2, 10, 17)},
		{Key: "NNHM 2001.077", Species: "Sphyraena barracuda", SL: 612, LateralLine: 82, Counts: twoPiece(5, 1, 9, 3, 8, 12)},
		{Key: "NNHM 2001.078", Species: "Sphyraena borealis", SL: 341, LateralLine: 115, Counts: twoPiece(5, 1, 9, 2, 9, 12)},
		{Key: "LSA 17-031", Species: "Labrus bergylta", SL: 318, LateralLine: 44, Preservation: alive, Institution: tank, Counts: tailRays(onePiece(20, 11, 3, 9, 15), 15)},
		{Key: "LSA 17-040", Species: "Labrus mixtus", SL: 246, LateralLine: 50, Preservation: alive, Institution: tank, Sex: "male", Counts: tailRays(onePiece(17, 13, 3, 11, 16), 15)},
		{Key: "LSA 18-002", Species: "Coris julis", SL: 148, LateralLine: 76, Preservation: alive, Institution: tank, Sex: "male", Counts: tailRays(onePiece(9, 12, 3, 12, 13), 14)},
		{Key: "LSA 18-015", Species: "Chromis chromis", SL: 86, LateralLine: 18, Preservation: alive, Institution: tank, Counts: tailRays(onePiece(14, 10, 2, 11, 17), 15)},
		{Key: "STC 0707", Species: "Abudefduf saxatilis", SL: 118, LateralLine: 21, Counts: tailRays(onePiece(13, 13, 2, 12, 19), 15)},
		{Key: "STC 0711", Species: "Gobius niger", SL: 97, Counts: twoPiece(6, 1, 12, 1, 12, 19)},
		{Key: "STC 0712", Species: "Gobius paganellus", SL: 91, Counts: twoPiece(6, 1, 14, 1, 12, 20)},
		{Key: "NNHM 2010.009", Species: "Glossogobius muscorum", SL: 43, Sensitivity: 1, Counts: twoPiece(6, 1, 10, 1, 8, 17), Notes: "locality withheld"},
		{Key: "LSA 19-008", Species: "Taurulus bubalis", SL: 112, LateralLine: 33, Preservation: alive, Institution: tank, Counts: tailRays(pelvicRays(cottid(8, 12, 9, 15), 1, 3), 12)},
		{Key: "NNHM 2016.200", Species: "Chelidonichthys lucerna", SL: 284, LateralLine: 70, Counts: gurnard(9, 16, 15)},
		{Key: "NNHM 2016.204", Species: "Chelidonichthys cuculus", SL: 243, LateralLine: 70, Counts: gurnard(9, 18, 17)},
		{Key: "LSA 20-011", Species: "Parablennius gattorugine", SL: 124, Preservation: alive, Institution: tank, Counts: tailRays(pelvicRays(onePiece(13, 19, 2, 21, 14), 1, 3), 13)},
		{Key: "LSA 20-013", Species: "Parablennius sanguinolentus", SL: 131, Preservation: alive, Institution: tank, Counts: tailRays(pelvicRays(onePiece(12, 21, 2, 22, 14), 1, 3), 13)},
		{Key: "NNHM 1991.033", Species: "Gadus morhua", SL: 572, LateralLine: 92, Counts: threePiece(14, 20, 19, 21, 19, 19)},
		{Key: "NNHM 1991.036", Species: "Melanogrammus aeglefinus", SL: 431, LateralLine: 98, Counts: threePiece(15, 22, 20, 23, 21, 19)},
		{Key: "NNHM 1991.040", Species: "Pollachius virens", SL: 515, LateralLine: 96, Preservation: frozen, Counts: threePiece(13, 21, 22, 26, 21, 19),
			Damage: draw.Damage{Scales: 0.42, Torn: []draw.Tear{{Fin: caudal, Missing: 3, Broken: 4}}}, DamageNote: "scales rubbed off on the flank; caudal fin torn"},
		{Key: "STC 0800", Species: "Pleuronectes platessa", SL: 302, LateralLine: 96, Counts: []Element{{dorsalFin, 0, 0, 72}, {analFin, 1, 0, 53}, {pectoral, 0, 0, 11}, {pelvic, 0, 0, 6}, {caudal, 0, 0, 18}}},
	}
	s = append(s, Specimen{Key: "SE 24-02", Species: "Serranus subligarius", SL: 69, LateralLine: 44, Preservation: frozen, Institution: own,
		Counts: onePiece(10, 13, 3, 7, 16), Flat: true, DamageNote: "thawed on a flat bench and sagged: deeper, and its head shorter, than in life"})
	return settle(s, "off Skarrholm, Ebb Sound", inAlcohol)
}

func cottid(d1, d2, a, p int) []Element {
	return []Element{{dorsal1, d1, 0, 0}, {dorsal2, 0, 0, d2}, {analFin, 0, 0, a}, {pectoral, 0, 0, p}, {pelvic, 1, 0, 4}, {caudal, 0, 0, 12}}
}

func gurnard(d1, d2, a int) []Element {
	return []Element{{dorsal1, d1, 0, 0}, {dorsal2, 0, 0, d2}, {analFin, 0, 0, a}, {pectoral, 0, 0, 11}, {pelvic, 1, 0, 5}, {caudal, 0, 0, 13}}
}

func freshAndOld() []Specimen {
	s := []Specimen{
		{Key: "NNHM 2018.310", Species: "Cottus gobio", SL: 88, LateralLine: 33, Sensitivity: 3, Counts: cottid(7, 17, 13, 14)},
		{Key: "NNHM 2018.322", Species: "Cottus poecilopus", SL: 82, LateralLine: 30, Sensitivity: 3, Counts: cottid(8, 18, 14, 14)},
		{Key: "SE 21-04", Species: "Perca fluviatilis", SL: 221, LateralLine: 63, Preservation: fresh, Institution: own, Counts: twoPiece(14, 1, 14, 2, 9, 14)},
		{Key: "STC 0905", Species: "Perca flavescens", SL: 196, LateralLine: 57, Counts: twoPiece(13, 1, 13, 2, 7, 14)},
		{Key: "SE 21-09", Species: "Gymnocephalus cernua", SL: 118, LateralLine: 38, Preservation: fresh, Institution: own, Counts: onePiece(14, 13, 2, 6, 14)},
		{Key: "NNHM 2005.501", Species: "Salmo salar", SL: 704, LateralLine: 120, Sex: "male", Counts: softRayed(4, 10, 3, 8, 12, 8)},
		{Key: "SE 22-01", Species: "Salmo trutta", SL: 312, LateralLine: 116, Preservation: fresh, Institution: own, Counts: softRayed(4, 10, 3, 8, 12, 8)},
		{Key: "NNHM 1966.012", Species: "Oncorhynchus kisutch", SL: 588, LateralLine: 127, Preservation: oldFluid, Counts: softRayed(3, 10, 3, 10, 13, 9),
			Damage: draw.Damage{Faded: 0.8, Scales: 0.2, Hidden: []string{adiposeFin}}, DamageNote: "bleached; adipose fin clipped"},
		{Key: "SE 22-14", Species: "Cyprinus carpio", SL: 384, LateralLine: 37, Preservation: fresh, Institution: own, Counts: softRayed(4, 19, 3, 5, 15, 8)},
		{Key: "NNHM 2019.044", Species: "Carassius carassius", SL: 172, LateralLine: 33, Sensitivity: 4, Counts: softRayed(3, 17, 3, 6, 13, 8)},
		{Key: "NNHM 2019.049", Species: "Carassius gibelio", SL: 188, LateralLine: 30, Counts: softRayed(4, 17, 3, 6, 14, 8)},
		{Key: "NNHM 2008.777", Species: "Garra findolabium", SL: 96, LateralLine: 37, Sensitivity: 1, Counts: softRayed(2, 8, 2, 5, 13, 8), Notes: "locality withheld; few specimens known to the studio"},
		{Key: "NNHM 1959.008", Species: "Perca fluviatilis", SL: 187, LateralLine: 61, Preservation: oldFluid, Counts: twoPiece(15, 1, 14, 2, 8, 14),
			Damage: draw.Damage{Faded: 0.7, Bend: 0.09, Torn: []draw.Tear{{Fin: dorsal1, Missing: 3, Broken: 2}}, Hidden: []string{pelvic}}, DamageNote: "faded and bent; first dorsal fin torn; pelvic fins pressed flat"},
		{Key: "NNHM 2011.007", Species: "Epinephelus morio", SL: 388, LateralLine: 63, Preservation: inIso, Locality: "off Skarrholm, Ebb Sound", Counts: onePiece(11, 16, 3, 9, 17),
			Damage: torn(pectoral, 4, 5), DamageNote: "left pectoral fin torn"},
		{Key: "STC 0921", Species: "Cottus gobio", SL: 79, LateralLine: 32, Sensitivity: 3, Counts: cottid(7, 16, 12, 14),
			Damage: draw.Damage{Hidden: []string{pelvic}, Bend: -0.06}, DamageNote: "curled; pelvic fins hidden under the body"},
	}
	return settle(s, "Tarnbeck catchment", inAlcohol)
}

// settle fills in what most specimens share.
func settle(s []Specimen, locality, preservation string) []Specimen {
	for i := range s {
		p := &s[i]
		p.LifeStage = "adult"
		if p.Locality == "" && p.Sensitivity != 1 {
			p.Locality = locality
		}
		if p.Preservation == "" {
			p.Preservation = preservation
		}
		if p.Sex == "" {
			p.Sex = "undetermined"
		}
		if p.Institution == "" {
			p.Institution = northmere
			if p.Key[:3] == "STC" {
				p.Institution = teaching
			}
		}
	}
	return s
}
