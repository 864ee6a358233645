package meristic

// Character is what is counted: a fin, the gill rakers, a row of scales.
type Character uint8

// The characters. The short codes are those of the trade's count tables where one
// is common (D, A, GR, LLp), and plain words elsewhere.
const (
	NoCharacter Character = iota
	Dorsal                // the whole dorsal fin, or the only one
	Dorsal1
	Dorsal2
	Dorsal3
	Anal
	Anal1
	Anal2
	Pectoral
	Pelvic            // "ventral fins" of older authors
	Caudal            // principal rays unless the element says otherwise
	CaudalProcurrent  // the small rays before the principal ones
	GillRakers        // first arch, the right one (Kimura, READ)
	Branchiostegals   //
	Vertebrae         // urostyle or hypural plate included (Kimura, READ)
	Myomeres          // larvae
	LateralLine       // from the shoulder girdle to the structural caudal base (Hubbs, READ)
	PoredScales       // pored, tubed or perforated lateral-line scales only
	LongitudinalRow   // scales in a longitudinal (midlateral, lateral) series
	TransverseScales  // above / lateral line / below; the line's own scale in neither (Hubbs, READ)
	TransverseRow     // one oblique count, e.g. TRB, from anal origin up and back
	PeduncleScales    // around the caudal peduncle
	PredorsalScales   // occiput to dorsal origin
	OpercleRows       // rows of scales on the opercle
	CheekRows         // rows of scales on the cheek
	ScuteRows         // rows of scutes or plates
	DorsalScutes      //
	LateralScutes     //
	VentralScutes     //
	PharyngealTeeth   // left and right fifth ceratobranchial
	PyloricCaeca      //
	BodyRows          // dorsal scale rows of snakes: neck, midbody, before the vent
	VentralShields    // snakes
	SubcaudalShields  // snakes
	SupralabialShield // snakes
	InfralabialShield // snakes
	TemporalShields   // snakes
	characterCount
)

// class groups characters whose formulae share one grammar.
type class uint8

const (
	classNone   class = iota
	classDorsal       // may hold several fins in one formula
	classAnal         // may hold free spines, or two fins
	classPaired       // pectoral and pelvic
	classCaudal
	classProcurrent
	classRakers
	classVertebrae
	classLine       // scale rows along the body
	classTransverse // above/line/below
	classTeeth
	classBody   // neck-midbody-vent
	classLabial // left/right
	classPlain
)

type characterInfo struct {
	code, phrase string
	class        class
}

var characters = [characterCount]characterInfo{
	NoCharacter:       {"", "no character", classNone},
	Dorsal:            {"D", "dorsal fin", classDorsal},
	Dorsal1:           {"D1", "first dorsal fin", classDorsal},
	Dorsal2:           {"D2", "second dorsal fin", classDorsal},
	Dorsal3:           {"D3", "third dorsal fin", classDorsal},
	Anal:              {"A", "anal fin", classAnal},
	Anal1:             {"A1", "first anal fin", classAnal},
	Anal2:             {"A2", "second anal fin", classAnal},
	Pectoral:          {"P", "pectoral fin", classPaired},
	Pelvic:            {"V", "pelvic fin", classPaired},
	Caudal:            {"C", "caudal fin", classCaudal},
	CaudalProcurrent:  {"Cproc", "procurrent caudal rays", classProcurrent},
	GillRakers:        {"GR", "gill rakers", classRakers},
	Branchiostegals:   {"B", "branchiostegal rays", classPlain},
	Vertebrae:         {"Vert", "vertebrae", classVertebrae},
	Myomeres:          {"Myo", "myomeres", classVertebrae},
	LateralLine:       {"LL", "lateral-line scales", classLine},
	PoredScales:       {"LLp", "pored lateral-line scales", classLine},
	LongitudinalRow:   {"LS", "scales in longitudinal series", classLine},
	TransverseScales:  {"Ltr", "transverse scales", classTransverse},
	TransverseRow:     {"TRB", "transverse scale row", classTransverse},
	PeduncleScales:    {"CP", "circumpeduncular scales", classPlain},
	PredorsalScales:   {"PD", "predorsal scales", classPlain},
	OpercleRows:       {"opercleRows", "scale rows on the opercle", classPlain},
	CheekRows:         {"cheekRows", "scale rows on the cheek", classPlain},
	ScuteRows:         {"scuteRows", "rows of scutes", classPlain},
	DorsalScutes:      {"scutesD", "dorsal scutes", classPlain},
	LateralScutes:     {"scutesL", "lateral scutes", classPlain},
	VentralScutes:     {"scutesV", "ventral scutes", classPlain},
	PharyngealTeeth:   {"PT", "pharyngeal teeth", classTeeth},
	PyloricCaeca:      {"PC", "pyloric caeca", classPlain},
	BodyRows:          {"DSR", "dorsal scale rows", classBody},
	VentralShields:    {"ventrals", "ventral shields", classPlain},
	SubcaudalShields:  {"subcaudals", "subcaudal shields", classPlain},
	SupralabialShield: {"SL", "supralabials", classLabial},
	InfralabialShield: {"IL", "infralabials", classLabial},
	TemporalShields:   {"temporals", "temporal shields", classLabial},
}

// String gives the code, such as "D1" or "LLp"; empty for NoCharacter.
func (c Character) String() string {
	if c >= characterCount {
		return ""
	}
	return characters[c].code
}

// Phrase gives the English name, such as "first dorsal fin".
func (c Character) Phrase() string {
	if c >= characterCount {
		return characters[NoCharacter].phrase
	}
	return characters[c].phrase
}

// CharacterByCode finds a character by its code; ok is false for an unknown one.
func CharacterByCode(code string) (c Character, ok bool) {
	for i := Dorsal; i < characterCount; i++ {
		if characters[i].code == code {
			return i, true
		}
	}
	return NoCharacter, false
}

// Characters lists every character in the order in which formulae are printed.
func Characters() []Character {
	all := make([]Character, 0, characterCount-1)
	for c := Dorsal; c < characterCount; c++ {
		all = append(all, c)
	}
	return all
}

func (c Character) class() class {
	if c >= characterCount {
		return classNone
	}
	return characters[c].class
}

// snake reports whether the character belongs to snakes; "ventrals" and "caudals"
// beside one are shields, not fins.
func (c Character) snake() bool { return c >= BodyRows && c <= TemporalShields }

// fin reports whether spines and rays are what is counted.
func (c Character) fin() bool {
	k := c.class()
	return k == classDorsal || k == classAnal || k == classPaired
}
