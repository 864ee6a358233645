package meristic

import "strings"

// SoftRayedFamily reports whether a family belongs to a group whose dorsal and anal
// fins have no true spines, so that capital numerals in its formulae count unbranched
// rays (A7 of the notation). The spines of catfishes are spines to their authors,
// except in the families that have none. Common practice, no source.
func SoftRayedFamily(family string) bool {
	i := strings.TrimSpace(family)
	return softRayed[i]
}

// softRayed lists characiforms, cypriniforms, gymnotiforms, gonorynchiforms,
// clupeiforms, salmoniforms and their like. From memory. It is never written to.
var softRayed = func() map[string]bool {
	m := make(map[string]bool, 128)
	for _, f := range strings.Fields(softRayedFamilies) {
		m[f] = true
	}
	return m
}()

const softRayedFamilies = `
Acestrorhynchidae Agoniatidae Alestidae Anostomidae Bryconidae Chalceidae Characidae Chilodontidae Citharinidae
Crenuchidae Ctenoluciidae Curimatidae Cynodontidae Distichodontidae Erythrinidae Gasteropelecidae Hemiodontidae
Hepsetidae Iguanodectidae Lebiasinidae Parodontidae Prochilodontidae Serrasalmidae Triportheidae Acestrorhamphidae
Spintherobolidae Stevardiidae
Cyprinidae Leuciscidae Danionidae Xenocyprididae Gobionidae Acheilognathidae Tincidae Sundadanionidae Leptobarbidae
Paedocyprididae Psilorhynchidae Catostomidae Gyrinocheilidae Botiidae Vaillantellidae Cobitidae Balitoridae
Gastromyzontidae Nemacheilidae Barbuccidae Ellopostomatidae Serpenticobitidae
Apteronotidae Gymnotidae Hypopomidae Rhamphichthyidae Sternopygidae
Chanidae Gonorynchidae Kneriidae Phractolaemidae
Clupeidae Engraulidae Dussumieriidae Pristigasteridae Chirocentridae Denticipitidae Alosidae Dorosomatidae
Ehiravidae Spratelloididae
Salmonidae Esocidae Umbridae Osmeridae Galaxiidae Retropinnidae Plecoglossidae Salangidae
Trichomycteridae Malapteruridae
Elopidae Megalopidae Albulidae Osteoglossidae Hiodontidae Mormyridae Notopteridae Gymnarchidae Pantodontidae
`
