package plan

import (
	"slices"
	"strings"

	"platarium/indexer/meristic"
	"platarium/indexer/rank"
)

// Checklist names the structures that usually identify an animal of a group.
type Checklist struct {
	Group      string
	Structures []Item
}

// Item is one structure of a checklist.
type Item struct {
	Structure string
	View      rank.View // AnyView: that of the whole animal
	Note      string    // what to look for
}

// group is a kind of animal with its own checklist.
type group struct {
	name string
	taxa []string // any of these stands in the lineage; none for the group of all others
	list func(Has) []Item
}

// Has is what is known to be there of an animal.
type Has struct {
	Dorsals, Anals int // fins; 0 if unknown
}

// FinsOf reads from counts how many dorsal and anal fins an animal has: parts that are
// counted apart stand apart.
func FinsOf(counts []meristic.Statement) Has {
	var h Has
	for i := range counts {
		switch counts[i].Character {
		case meristic.Dorsal:
			h.Dorsals = max(h.Dorsals, 1)
		case meristic.Dorsal1, meristic.Dorsal2:
			h.Dorsals = max(h.Dorsals, 2)
		case meristic.Dorsal3:
			h.Dorsals = 3
		case meristic.Anal:
			h.Anals = max(h.Anals, 1)
		case meristic.Anal1, meristic.Anal2:
			h.Anals = 2
		default:
		}
	}
	return h
}

// ChecklistOf chooses the checklist of a lineage, root first, with what counts tell of
// the fins. Which structures identify which group is common practice, no source; how many
// fins a family has is from memory, and counts go before it.
func ChecklistOf(lineage []rank.Taxon, counts []meristic.Statement) Checklist {
	names := make([]string, len(lineage))
	for i, t := range lineage {
		names[i] = t.Name
	}
	in := func(taxa []string) bool {
		return slices.ContainsFunc(names, func(n string) bool { return slices.Contains(taxa, n) })
	}
	has := FinsOf(counts)
	if has.Dorsals == 0 {
		switch {
		case in(threeDorsals()):
			has = Has{Dorsals: 3, Anals: max(has.Anals, 2)}
		case in(twoDorsals()):
			has.Dorsals = 2
		default:
			has.Dorsals = 1
		}
	}
	for _, g := range groups() {
		if len(g.taxa) == 0 || in(g.taxa) {
			return Checklist{Group: g.name, Structures: g.list(has)}
		}
	}
	return Checklist{}
}

// twoDorsals are taxa whose members have two dorsal fins apart; from memory.
func twoDorsals() []string {
	return []string{
		"Percidae", "Moronidae", "Triglidae", "Peristediidae", "Cottidae", "Cottales", "Agonidae", "Gobiidae", "Gobioidei", "Eleotridae", "Mugilidae", "Mugiliformes",
		"Atheriniformes", "Mullidae", "Apogonidae", "Sphyraenidae", "Callionymidae", "Centropomidae", "Ambassidae", "Carangidae", "Trachinidae", "Zeidae",
		"Macrouridae", "Merlucciidae", "Elasmobranchii", "Holocephali", "Polynemidae", "Sciaenidae",
	}
}

// threeDorsals are taxa with three dorsal and two anal fins; from memory.
func threeDorsals() []string { return []string{"Gadidae"} }

// groups lists the checklists, the more special first.
func groups() []group {
	return []group{
		{"rays", []string{"Rajiformes", "Myliobatiformes", "Torpediniformes"}, rays},
		{"sharks and chimaeras", []string{"Elasmobranchii", "Holocephali"}, sharks},
		{"jawless fishes", []string{"Myxini", "Petromyzonti", "Cephalaspidomorphi"}, jawless},
		{"flatfishes", []string{"Pleuronectiformes", "Pleuronectoidei"}, flatfishes},
		{"sculpins, gurnards and scorpionfishes", []string{"Cottoidei", "Triglioidei", "Scorpaenoidei", "Platycephaloidei", "Triglidae", "Cottidae"}, mailCheeked},
		{"cods", []string{"Gadiformes"}, cods},
		{"salmons and smelts", []string{"Salmoniformes", "Osmeriformes", "Argentiniformes"}, salmons},
		{"catfishes", []string{"Siluriformes"}, catfishes},
		{"carps and minnows", []string{"Cypriniformes"}, carps},
		{"characins", []string{"Characiformes"}, characins},
		{"eels", []string{"Anguilliformes"}, eels},
		{"pipefishes and seahorses", []string{"Syngnathidae"}, pipefishes},
		{"spiny-rayed fishes", []string{"Acanthomorphata", "Percomorphaceae"}, spiny},
		{"bony fishes", []string{"Actinopterygii", "Actinopteri", "Cladistia", "Teleostei"}, bony},
		{"other animals", nil, other},
	}
}

func item(structure, note string) Item { return Item{Structure: structure, Note: note} }

// dorsals lists the dorsal fins by their number.
func dorsals(has Has, spines bool) []Item {
	kind := func(first bool) string {
		switch {
		case spines && first:
			return "each spine, from the front"
		case spines:
			return "spine before the rays, each ray, the last one's split base"
		default:
			return "each ray, unbranched before branched, the last one's split base"
		}
	}
	switch {
	case has.Dorsals >= 3:
		return []Item{item("first dorsal fin", kind(false)), item("second dorsal fin", kind(false)), item("third dorsal fin", kind(false))}
	case has.Dorsals == 2:
		return []Item{item("first dorsal fin", kind(true)), item("second dorsal fin", kind(false))}
	case spines:
		return []Item{item("dorsal fin", "each spine and ray, the notch between them")}
	default:
		return []Item{item("dorsal fin", kind(false))}
	}
}

func anals(has Has, note string) []Item {
	if has.Anals >= 2 {
		return []Item{item("first anal fin", note), item("second anal fin", note)}
	}
	return []Item{item("anal fin", note)}
}

// joined lists a whole animal: dorsal fins, what stands between, then head and skin.
func joined(parts ...[]Item) []Item { return slices.Concat(parts...) }

func headParts() []Item {
	return []Item{
		item("head", "outline, bones, nostrils, sensory pores"), item("opercle", "spines and margin, with the preopercle"),
		item("jaws", "where the upper jaw ends under the eye"), {Structure: "teeth", Note: "kind, rows, bands"}, item("eye", "diameter against head length"),
		{Structure: "gill rakers", View: rank.Internal, Note: "first arch: upper and lower limb, rudiments"},
	}
}

func skin() []Item {
	return []Item{
		item("lateral line", "course, pored scales"), item("scales", "kind, rows above and below the lateral line"),
		item("body shape", "greatest depth, profile of back and belly"), item("pigmentation", "in life, and as preserved"),
	}
}

func pairedFins(pelvic string) []Item {
	return []Item{item("pectoral fin", "rays, longest one, reach"), item("pelvic fin", pelvic), item("caudal fin", "principal rays, outline of the hind margin")}
}

func spiny(h Has) []Item {
	return joined(dorsals(h, true), anals(h, "each spine and ray"), pairedFins("spine and rays, place under the pectoral fin"), headParts(), skin())
}

func bony(h Has) []Item {
	return joined(dorsals(h, false), anals(h, "each ray, unbranched before branched"), pairedFins("rays, place on the belly"), headParts(), skin())
}

func salmons(h Has) []Item {
	return joined(dorsals(Has{Dorsals: 1}, false), []Item{item("adipose fin", "size, base against the anal fin")}, anals(h, "each ray, the small ones in front"),
		pairedFins("rays, axillary scale"), headParts(), skin())
}

func characins(h Has) []Item {
	return joined(dorsals(Has{Dorsals: 1}, false), []Item{item("adipose fin", "there or not")}, anals(h, "each ray"), pairedFins("rays"), headParts(), skin())
}

func carps(h Has) []Item {
	return joined(dorsals(Has{Dorsals: 1}, false), anals(h, "unbranched and branched rays"), pairedFins("rays, place under the dorsal fin"), headParts(),
		[]Item{item("barbels", "number, length, place"), {Structure: "pharyngeal teeth", View: rank.Internal, Note: "rows, number left and right"}}, skin())
}

func catfishes(h Has) []Item {
	return joined(dorsals(Has{Dorsals: 1}, false), []Item{item("adipose fin", "length, whether free behind")}, anals(h, "each ray"),
		pairedFins("rays"), []Item{item("barbels", "pairs, length against head length")}, headParts(),
		[]Item{item("lateral line", "course"), item("body shape", "greatest depth, plates if any"), item("pigmentation", "in life, and as preserved")})
}

func cods(h Has) []Item {
	return joined(dorsals(h, false), anals(h, "each ray"), pairedFins("rays, place before the pectoral fin"), []Item{item("barbel", "length against the eye")}, headParts(), skin())
}

func eels(Has) []Item {
	return []Item{
		item("dorsal fin", "origin, distance from the anal origin"), item("anal fin", "origin"), item("pectoral fin", "size, there or not"), item("caudal fin", "joined with dorsal and anal fin"),
		item("head", "nostrils, pores"), item("jaws", "which one is longer"), {Structure: "teeth", Note: "vomer, jaws"}, item("eye", "diameter against head length"),
		item("lateral line", "pores before the vent"), {Structure: "vertebrae", View: rank.Internal, Note: "before and behind the vent"}, item("body shape", "depth, tail length"), item("pigmentation", "in life, and as preserved"),
	}
}

func pipefishes(Has) []Item {
	return []Item{
		item("dorsal fin", "rays, rings under its base"), item("anal fin", "there or not"), item("pectoral fin", "rays"), item("caudal fin", "there or not"),
		item("head", "spines, crests, snout length"), item("eye", "diameter"), {Structure: "rings", Note: "trunk and tail, ridges that run on"},
		item("body shape", "brood pouch"), item("pigmentation", "in life, and as preserved"),
	}
}

func flatfishes(h Has) []Item {
	blind := "scales, color, lateral line of the blind side"
	return joined([]Item{item("dorsal fin", "each ray, origin against the eyes"), item("anal fin", "each ray, spine before it")}, pairedFins("rays, base on either side"),
		[]Item{item("eyes", "side, distance, ridge between them")},
		slices.DeleteFunc(headParts(), func(i Item) bool { return i.Structure == "eye" }), skin(), []Item{item("blind side", blind)})
}

func mailCheeked(h Has) []Item {
	return joined(dorsals(h, true), anals(h, "each ray, spines if any"),
		[]Item{item("pectoral fin", "rays, branched and unbranched"), item("free pectoral rays", "number, there or not"), item("pelvic fin", "spine and rays"), item("caudal fin", "principal rays")},
		[]Item{{Structure: "head spines", Note: "nasal, preopercular, opercular, on the crown"}}, headParts(), skin())
}

func sharks(h Has) []Item {
	return joined(dorsals(h, false), []Item{
		item("anal fin", "there or not"), item("pectoral fin", "margins, free rear tip"), item("pelvic fin", "claspers"), item("caudal fin", "lobes, notch"),
		item("head", "snout from below, nostrils"), item("gill slits", "number, length"), {Structure: "teeth", Note: "upper and lower, rows"},
		item("eye", "spiracle behind it"), item("body shape", "keels, ridges"), {Structure: "dermal denticles", Note: "shape, where taken"}, item("pigmentation", "in life, and as preserved"),
	})
}

func rays(Has) []Item {
	return []Item{
		{Structure: "disc", View: rank.Dorsal, Note: "width against length, outline"}, {Structure: "underside", View: rank.Ventral, Note: "mouth, nostrils, gill slits, color"},
		{Structure: "snout", View: rank.Dorsal, Note: "length, angle"}, {Structure: "thorns", View: rank.Dorsal, Note: "eye, shoulder, midline, tail"},
		{Structure: "dorsal fins", View: rank.Dorsal, Note: "there or not, place on the tail"}, {Structure: "pelvic fin", View: rank.Dorsal, Note: "lobes, claspers"}, {Structure: "tail", View: rank.Dorsal, Note: "length, spine, folds"},
		{Structure: "teeth", Note: "rows, difference of sexes"}, {Structure: "eye", View: rank.Dorsal, Note: "with the spiracle"}, {Structure: "pigmentation", View: rank.Dorsal, Note: "upper side in life"},
	}
}

func jawless(Has) []Item {
	return []Item{
		item("dorsal fin", "fins apart or joined"), item("caudal fin", "outline"), item("mouth", "disc, tooth plates, barbels"), item("gill openings", "number"),
		item("eye", "there or not"), item("body shape", "segments of the trunk"), item("pigmentation", "in life, and as preserved"),
	}
}

func other(Has) []Item {
	return []Item{
		item("head", "outline, openings"), item("eye", "size, place"), item("mouth", "parts"), item("limbs", "number, joints, ends"),
		item("skin", "scales, plates, hair or bare"), item("body shape", "proportions"), item("pigmentation", "in life, and as preserved"),
	}
}

// Fold brings the name of a structure to the form in which names are compared.
func Fold(structure string) string {
	return strings.ToLower(strings.Join(strings.Fields(structure), " "))
}
