package meristic

// Element is the part of a character that an interval counts.
type Element uint8

// The elements. A fin has spines and rays, a gill arch limbs, a caudal fin an upper
// and a lower lobe. Ray is a soft ray whose kind the author didn't state.
const (
	Whole              Element = iota // the plain count: scales, caeca, all caudal rays
	Spine                             // all spines, detached ones included
	FreeSpine                         // those of Spine that stand detached before the fin
	Unbranched                        // unbranched soft rays at the front
	Branched                          //
	Ray                               // soft rays, kind not stated
	Segmented                         //
	TrailingUnbranched                // unbranched soft rays behind the branched ones
	Finlet                            //
	Procurrent                        // procurrent rays of a fin other than the caudal
	Total                             // the whole, stated beside its parts or derived from them
	Upper                             // upper limb, upper lobe
	Middle                            // raker at the angle, where written apart
	Lower                             // lower limb, lower lobe
	Hypobranchial                     //
	Ceratobranchial                   //
	Epibranchial                      //
	Abdominal                         // precaudal vertebrae, preanal myomeres
	CaudalRegion                      // caudal vertebrae, postanal myomeres
	UpperUnbranched                   // margin of the caudal fin
	UpperBranched                     //
	LowerBranched                     //
	LowerUnbranched                   //
	UpperProcurrent                   //
	LowerProcurrent                   //
	Above                             // scales above the lateral line
	AtLine                            // the lateral-line scale, or the line's count
	Below                             // scales below the lateral line
	Left                              //
	Right                             //
	LeftMinor                         // minor row of teeth, left
	RightMinor                        // minor row of teeth, right
	Neck                              // scale rows behind the head
	Midbody                           //
	BeforeVent                        //
	FirstPart                         // first part of an interrupted lateral line
	SecondPart                        //
	OnCaudalBase                      // scales on the caudal fin, behind the hypural fold
	elementCount
)

var elementInfo = [elementCount]struct{ code, one, many string }{
	Whole:              {"count", "count", "count"},
	Spine:              {"spine", "spine", "spines"},
	FreeSpine:          {"free", "free spine", "free spines"},
	Unbranched:         {"unbranched", "unbranched ray", "unbranched rays"},
	Branched:           {"branched", "branched ray", "branched rays"},
	Ray:                {"ray", "soft ray", "soft rays"},
	Segmented:          {"segmented", "segmented ray", "segmented rays"},
	TrailingUnbranched: {"trailing", "trailing unbranched ray", "trailing unbranched rays"},
	Finlet:             {"finlet", "finlet", "finlets"},
	Procurrent:         {"procurrent", "procurrent ray", "procurrent rays"},
	Total:              {"total", "total", "total"},
	Upper:              {"upper", "upper", "upper"},
	Middle:             {"middle", "at the angle", "at the angle"},
	Lower:              {"lower", "lower", "lower"},
	Hypobranchial:      {"hypobranchial", "on the hypobranchial", "on the hypobranchial"},
	Ceratobranchial:    {"ceratobranchial", "on the ceratobranchial", "on the ceratobranchial"},
	Epibranchial:       {"epibranchial", "on the epibranchial", "on the epibranchial"},
	Abdominal:          {"abdominal", "abdominal", "abdominal"},
	CaudalRegion:       {"caudal", "caudal", "caudal"},
	UpperUnbranched:    {"upperunbranched", "upper unbranched ray", "upper unbranched rays"},
	UpperBranched:      {"upperbranched", "upper branched ray", "upper branched rays"},
	LowerBranched:      {"lowerbranched", "lower branched ray", "lower branched rays"},
	LowerUnbranched:    {"lowerunbranched", "lower unbranched ray", "lower unbranched rays"},
	UpperProcurrent:    {"upperprocurrent", "upper procurrent ray", "upper procurrent rays"},
	LowerProcurrent:    {"lowerprocurrent", "lower procurrent ray", "lower procurrent rays"},
	Above:              {"above", "above the lateral line", "above the lateral line"},
	AtLine:             {"line", "on the lateral line", "on the lateral line"},
	Below:              {"below", "below the lateral line", "below the lateral line"},
	Left:               {"left", "left", "left"},
	Right:              {"right", "right", "right"},
	LeftMinor:          {"leftminor", "left minor row", "left minor row"},
	RightMinor:         {"rightminor", "right minor row", "right minor row"},
	Neck:               {"neck", "on the neck", "on the neck"},
	Midbody:            {"midbody", "at midbody", "at midbody"},
	BeforeVent:         {"vent", "before the vent", "before the vent"},
	FirstPart:          {"part1", "first part", "first part"},
	SecondPart:         {"part2", "second part", "second part"},
	OnCaudalBase:       {"caudalbase", "on the caudal base", "on the caudal base"},
}

// String gives the code used in index tokens, such as "spine".
func (e Element) String() string {
	if e >= elementCount {
		return ""
	}
	return elementInfo[e].code
}

// Phrase names the element for n of it, such as "spines".
func (e Element) Phrase(n float64) string {
	if e >= elementCount {
		return ""
	}
	if n == 1 {
		return elementInfo[e].one
	}
	return elementInfo[e].many
}

// ElementByCode finds an element by its code.
func ElementByCode(code string) (Element, bool) {
	for e := Whole; e < elementCount; e++ {
		if elementInfo[e].code == code {
			return e, true
		}
	}
	return Whole, false
}
