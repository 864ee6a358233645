package meristic

// feature is a set of meanings carried by the words around a count.
type feature uint64

const (
	fDorsal feature = 1 << iota
	fAnal
	fPectoral
	fPelvic
	fVentral // pelvic fin, or the lower side
	fCaudal
	fFirst
	fSecond
	fThird
	fFin
	fRay
	fSpine
	fSoft
	fBranched
	fUnbranched
	fSegmented
	fProcurrent
	fPrincipal
	fUpper
	fLower
	fRaker
	fArch // gill arch, limb
	fTotal
	fVertebra
	fAbdominal
	fLateral
	fLine
	fScale
	fPored
	fRow
	fLongitudinal
	fTransverse
	fPredorsal
	fPeduncle
	fBranchiostegal
	fAnterior
	fPosterior
	fUltimate
	fScute
	fHypo
	fCerato
	fEpi
	fAngle
	fLeft
	fRight
	fMid
	fNeck
	fSupralabial
	fInfralabial
	fTemporal
	fSubcaudal
	fFinlet
	fCaeca
	fTooth
	fVentrals // plural noun: shields of a snake, or pelvic fins in old texts
	fCaudals  // plural noun: subcaudal shields in old texts
	fOpercle
	fCheek
	fAbove
	fBelow
	fMyomere
	fFree
	fFormula // "scale formula": above-line-below
	fBoth
)

const (
	fAnyFin     = fDorsal | fAnal | fPectoral | fPelvic | fVentral | fCaudal
	fPosition   = fUpper | fLower | fDorsal | fVentral | fLeft | fRight | fAnterior | fPosterior | fMid | fNeck | fAbove | fBelow | fAbdominal | fHypo | fCerato | fEpi | fAngle | fFirst | fSecond | fThird
	fRayKind    = fSpine | fSoft | fBranched | fUnbranched | fSegmented
	fHeadNoun   = fRay | fSpine | fScale | fRaker | fVertebra | fScute | fFinlet | fTooth | fBranchiostegal | fCaeca | fMyomere | fSupralabial | fInfralabial | fSubcaudal | fVentrals | fTemporal
	fRakerPlace = fHypo | fCerato | fEpi | fAngle
	fShield     = fSupralabial | fInfralabial | fTemporal | fSubcaudal
)

// wordClass says what a word does to the reading.
type wordClass uint8

const (
	wPlain        wordClass = iota // carries features, or nothing
	wNumber                        // "seven"
	wArticle                       // "a": one, before a singular ray
	wOr                            //
	wTo                            //
	wAnd                           //
	wPlus                          // "plus", "followed by", "with", "comprising": a new part begins
	wVersus                        // what follows belongs to another taxon
	wAbout                         //
	wAtLeast                       //
	wAtMost                        //
	wMoreThan                      //
	wLessThan                      //
	wUsual                         //
	wRare                          //
	wOverall                       // "range"
	wNone                          // "no upper rays": zero
	wUnit                          // a measurement, not a count
	wMean                          // an average, not a count
	wIn                            // "13 in 4"
	wHolotype                      //
	wOther                         // "a paratype with", "a specimen with": an exception
	wSample                        // "n = 12"
	wSpecimens                     //
	wLast                          // "last two rays": a convention, not a count
	wIncluding                     //
	wExcluding                     //
	wRudiment                      //
	wSplit                         // "divided", "split to base", "as one"
	wIgnore                        // "page", "fig.": a figure that follows is no count
	wCounted                       // "counted as four": how counts were made, no count
	wAs                            // "as one", likewise
	wMeasure                       // a length: the figure behind it is a proportion
	wForeign                       // a noun whose number is none of ours: ribs, bars
	wElement                       // names an element outright, as Print writes it
	wRespectively                  //
	wAbsent                        // "pelvic fin absent": none
	wUnknown                       // not in the lexicon
)

type lexeme struct {
	feat  feature
	num   int16
	class wordClass
}

// lookup finds a word; letters of either case, ASCII only.
func lookup(word string) (lexeme, bool) {
	if len(word) > maxWord {
		return lexeme{}, false
	}
	var buf [maxWord]byte
	for i := 0; i < len(word); i++ {
		b := word[i]
		if 'A' <= b && b <= 'Z' {
			b |= 0x20
		}
		buf[i] = b
	}
	l, ok := lexicon[string(buf[:len(word)])]
	return l, ok
}

const maxWord = 24

func plain(f feature) lexeme              { return lexeme{feat: f} }
func does(c wordClass) lexeme             { return lexeme{class: c} }
func number(n int16) lexeme               { return lexeme{class: wNumber, num: n} }
func doing(c wordClass, f feature) lexeme { return lexeme{class: c, feat: f} }

// lexicon holds the words that mean something; all others are passed over. It is
// never written to.
var lexicon = map[string]lexeme{
	"dorsal": plain(fDorsal), "dorsals": plain(fDorsal), "dorsally": plain(fDorsal), "dors": plain(fDorsal),
	"anal": plain(fAnal), "anals": plain(fAnal),
	"pectoral": plain(fPectoral), "pectorals": plain(fPectoral), "pect": plain(fPectoral), "pec": plain(fPectoral),
	"pelvic": plain(fPelvic), "pelvics": plain(fPelvic), "pelv": plain(fPelvic), "pel": plain(fPelvic),
	"ventral": plain(fVentral), "ventrally": plain(fVentral), "ventrals": plain(fVentrals),
	"gastrosteges": plain(fVentrals), "urosteges": plain(fSubcaudal),
	"caudal": plain(fCaudal), "caudals": plain(fCaudals), "postabdominal": plain(fCaudal), "tail": plain(fCaudal), "caud": plain(fCaudal),
	"first": plain(fFirst), "1st": plain(fFirst), "second": plain(fSecond), "2nd": plain(fSecond), "third": plain(fThird), "3rd": plain(fThird),
	"spinous": plain(fSpine), "fin": plain(fFin), "fins": plain(fFin),
	"ray": plain(fRay), "rays": plain(fRay), "lepidotrichia": plain(fRay), "elements": plain(fRay),
	"spine": plain(fSpine), "spines": plain(fSpine), "spiny": plain(fSpine), "sp": plain(fSpine),
	"soft": plain(fSoft), "softrays": plain(fSoft | fRay), "articulated": plain(fSegmented), "segmented": plain(fSegmented), "unsegmented": plain(fUnbranched),
	"branched": plain(fBranched), "divided": doing(wSplit, fBranched), "bifid": plain(fBranched),
	"unbranched": plain(fUnbranched), "simple": plain(fUnbranched), "undivided": plain(fUnbranched), "unforked": plain(fUnbranched), "nonbranched": plain(fUnbranched),
	"procurrent": plain(fProcurrent), "accessory": plain(fProcurrent), "rudimentary": doing(wRudiment, 0), "secondary": plain(fProcurrent),
	"principal": plain(fPrincipal), "principle": plain(fPrincipal), "principals": plain(fPrincipal), "primary": plain(fPrincipal), "prc": plain(fPrincipal),
	"upper": plain(fUpper), "lower": plain(fLower), "uppermost": plain(fUpper), "lowermost": plain(fLower), "inferior": plain(fLower), "superior": plain(fUpper), "epaxial": plain(fUpper), "hypaxial": plain(fLower),
	"central": {}, "scaly": {}, "scaleless": {}, "dorsad": {}, "ventrad": {}, "branches": {}, "spined": {}, "spineless": {}, "laterally": {},
	"gill": plain(fRaker), "gills": plain(fRaker), "raker": plain(fRaker), "rakers": plain(fRaker), "gillraker": plain(fRaker), "gillrakers": plain(fRaker), "branchiospines": plain(fRaker),
	"arch": plain(fArch), "arches": plain(fArch), "limb": plain(fArch), "limbs": plain(fArch), "branch": plain(fArch),
	"total": plain(fTotal), "totalling": plain(fTotal), "totaling": plain(fTotal), "totals": plain(fTotal), "altogether": {class: wElement, num: int16(Total)},
	"vertebra": plain(fVertebra), "vertebrae": plain(fVertebra), "vertebras": plain(fVertebra), "vert": plain(fVertebra), "vertebral": plain(fVertebra), "centra": plain(fVertebra),
	"abdominal": plain(fAbdominal), "precaudal": plain(fAbdominal), "trunk": plain(fAbdominal), "preanal": plain(fAbdominal), "thoracic": plain(fAbdominal), "postanal": plain(fCaudal),
	"lateral": plain(fLateral), "lat": plain(fLateral), "line": plain(fLine), "midlateral": plain(fLongitudinal), "longitudinal": plain(fLongitudinal), "longitudinally": plain(fLongitudinal),
	"scale": plain(fScale), "scales": plain(fScale), "scaled": plain(fScale), "squamation": plain(fScale), "scalation": plain(fScale), "lepidosis": plain(fScale), "sq": plain(fScale),
	"pored": plain(fPored), "perforated": plain(fPored), "tubed": plain(fPored), "pores": plain(fPored), "pore": plain(fPored), "tubes": plain(fPored), "tubular": plain(fPored), "tubulated": plain(fPored), "tubuled": plain(fPored), "bearing": {},
	"row": plain(fRow), "rows": plain(fRow), "series": plain(fRow), "horizontal": plain(fTransverse), "vertical": plain(fRow | fLongitudinal), "oblique": plain(fRow | fLongitudinal), "diagonal": plain(fRow | fLongitudinal),
	"transverse": plain(fTransverse), "transversely": plain(fTransverse),
	"predorsal": plain(fPredorsal), "predorsally": plain(fPredorsal), "peduncle": plain(fPeduncle), "circumpeduncular": plain(fPeduncle), "peduncular": plain(fPeduncle),
	"branchiostegal": plain(fBranchiostegal), "branchiostegals": plain(fBranchiostegal), "branchiostegous": plain(fBranchiostegal), "branchiostegalrays": plain(fBranchiostegal),
	"anterior": plain(fAnterior), "anteriormost": plain(fAnterior), "posterior": plain(fPosterior), "posteriorly": plain(fPosterior), "anteriorly": plain(fNeck), "ultimate": plain(fUltimate),
	"scute": plain(fScute), "scutes": plain(fScute), "shields": {}, "plates": plain(fScute), "bucklers": plain(fScute), "buckler": plain(fScute),
	"hypobranchial": plain(fHypo), "hypobranchials": plain(fHypo), "ceratobranchial": plain(fCerato), "ceratobranchials": plain(fCerato), "epibranchial": plain(fEpi), "epibranchials": plain(fEpi),
	"cartilage": plain(fAngle), "between": plain(fAngle), "origin": plain(fAngle), "junction": plain(fAngle), "angle": plain(fAngle), "joint": plain(fAngle),
	"left": plain(fLeft), "right": plain(fRight),
	"midbody": plain(fMid), "mid": plain(fMid), "middle": plain(fMid), "neck": plain(fNeck), "vent": plain(fPosterior), "hindbody": plain(fPosterior), "forebody": plain(fNeck),
	"supralabial": plain(fSupralabial), "supralabials": plain(fSupralabial), "infralabial": plain(fInfralabial), "infralabials": plain(fInfralabial), "sublabials": plain(fInfralabial),
	"temporal": plain(fTemporal), "temporals": plain(fTemporal), "subcaudal": plain(fSubcaudal), "subcaudals": plain(fSubcaudal),
	"finlet": plain(fFinlet), "finlets": plain(fFinlet), "pinnules": plain(fFinlet),
	"caeca": plain(fCaeca), "ceca": plain(fCaeca), "caecum": plain(fCaeca), "pyloric": plain(fCaeca),
	"pharyngeal": plain(fTooth), "pharyngeals": plain(fTooth), "teeth": plain(fTooth), "tooth": {},
	"opercle": plain(fOpercle), "operculum": plain(fOpercle), "opercular": plain(fOpercle), "cheek": plain(fCheek), "cheeks": plain(fCheek),
	"above": plain(fAbove), "below": plain(fBelow), "beneath": plain(fBelow), "myomeres": plain(fMyomere), "myomere": plain(fMyomere), "myotomes": plain(fMyomere), "free": plain(fFree), "isolated": plain(fFree), "detached": plain(fFree),
	"formula": plain(fFormula), "both": plain(fBoth), "each": plain(fBoth),

	"zero": number(0), "one": number(1), "two": number(2), "three": number(3), "four": number(4), "five": number(5), "six": number(6), "seven": number(7), "eight": number(8), "nine": number(9),
	"ten": number(10), "eleven": number(11), "twelve": number(12), "thirteen": number(13), "fourteen": number(14), "fifteen": number(15), "sixteen": number(16), "seventeen": number(17), "eighteen": number(18),
	"nineteen": number(19), "twenty": number(20), "thirty": number(30), "forty": number(40), "fifty": number(50), "sixty": number(60), "seventy": number(70), "eighty": number(80), "ninety": number(90), "single": number(1),
	"a": does(wArticle), "an": does(wArticle),
	"or": does(wOr), "vel": does(wOr), "to": does(wTo), "through": does(wTo), "and": does(wAnd), "et": does(wAnd),
	"plus": does(wPlus), "followed": does(wPlus), "with": does(wPlus), "comprising": does(wPlus), "including": does(wIncluding), "incl": does(wIncluding), "consisting": does(wPlus), "having": does(wPlus), "then": does(wPlus), "preceded": does(wPlus), "reduced": does(wPlus),
	"vs": does(wVersus), "versus": does(wVersus), "compared": does(wVersus), "cf": does(wVersus), "rather": does(wVersus), "instead": does(wVersus), "not": does(wVersus), "unlike": does(wVersus),
	"about": does(wAbout), "approximately": does(wAbout), "approx": does(wAbout), "ca": does(wAbout), "circa": does(wAbout), "nearly": does(wAbout), "around": does(wAbout), "almost": does(wAbout), "roughly": does(wAbout),
	"least": does(wAtLeast), "minimum": does(wAtLeast), "most": does(wAtMost), "maximum": does(wAtMost), "max": does(wAtMost), "more": does(wMoreThan), "over": does(wMoreThan), "exceeding": does(wMoreThan), "fewer": does(wLessThan), "less": does(wLessThan), "up": does(wPlain),
	"usually": does(wUsual), "usual": does(wUsual), "modally": does(wUsual), "mode": does(wUsual), "typically": does(wUsual), "mostly": does(wUsual), "generally": does(wUsual), "normally": does(wUsual), "commonly": does(wUsual), "modal": does(wUsual), "often": does(wUsual), "frequently": does(wUsual), "mainly": does(wUsual),
	"rarely": does(wRare), "rare": does(wRare), "occasionally": does(wRare), "sometimes": does(wRare), "exceptionally": does(wRare), "seldom": does(wRare), "infrequently": does(wRare),
	"range": does(wOverall), "ranging": does(wOverall), "varying": does(wOverall), "variation": does(wOverall),
	"no": does(wNone),
	"mm": does(wUnit), "cm": does(wUnit), "m": does(wUnit), "km": does(wUnit), "kg": does(wUnit), "g": does(wUnit), "percent": does(wUnit), "times": does(wUnit), "inches": does(wUnit), "inch": does(wUnit), "feet": does(wUnit), "years": does(wUnit), "months": does(wUnit), "days": does(wUnit), "degrees": does(wUnit), "species": does(wUnit), "fathoms": does(wUnit),
	"mean": does(wMean), "average": does(wMean), "avg": does(wMean), "sd": does(wMean), "median": does(wMean),
	"in": does(wIn), "holotype": does(wHolotype), "lectotype": does(wHolotype), "neotype": does(wHolotype),
	"paratype": does(wOther), "paratypes": does(wOther), "syntype": does(wOther), "exception": does(wOther),
	"n": does(wSample), "specimens": does(wSpecimens), "specimen": does(wSpecimens), "individuals": does(wSpecimens), "individual": does(wSpecimens), "examples": does(wSpecimens), "ex": does(wSpecimens),
	"last": does(wLast), "penultimate": does(wLast), "this": does(wLast), "that": does(wLast), "these": does(wLast),
	"excluding": does(wExcluding), "exclusive": does(wExcluding), "excl": does(wExcluding), "without": does(wExcluding), "inclusive": does(wIncluding),
	"rudiments": does(wRudiment), "rudiment": does(wRudiment), "split": does(wSplit), "forked": does(wPlain),
	"ribs": does(wForeign), "rib": does(wForeign), "supraneurals": does(wForeign), "supraneural": does(wForeign), "barbels": does(wForeign), "barbel": does(wForeign), "bars": does(wForeign), "bar": does(wForeign), "bands": does(wForeign), "band": does(wForeign), "stripes": does(wForeign), "stripe": does(wForeign), "spots": does(wForeign), "spot": does(wForeign), "blotches": does(wForeign), "saddles": does(wForeign), "pterygiophores": does(wForeign), "hypurals": does(wForeign), "epurals": does(wForeign), "uroneurals": does(wForeign), "lamellae": does(wForeign), "canines": does(wForeign), "cusps": does(wForeign), "cirri": does(wForeign), "filaments": does(wForeign), "papillae": does(wForeign), "ocelli": does(wForeign), "males": does(wForeign), "females": does(wForeign), "eggs": does(wForeign), "larvae": does(wForeign), "juveniles": does(wForeign), "vomerine": does(wForeign), "premaxillary": does(wForeign), "dentary": does(wForeign), "maxillary": does(wForeign),
	"trailing": {class: wElement, num: int16(TrailingUnbranched)}, "epaxials": {class: wElement, num: int16(UpperProcurrent)}, "hypaxials": {class: wElement, num: int16(LowerProcurrent)},
	"leftminor": {class: wElement, num: int16(LeftMinor)}, "rightminor": {class: wElement, num: int16(RightMinor)}, "forepart": {class: wElement, num: int16(FirstPart)}, "hindpart": {class: wElement, num: int16(SecondPart)}, "angular": {class: wElement, num: int16(Middle)}, "basal": {class: wElement, num: int16(OnCaudalBase)},
	"head": does(wMeasure), "depth": does(wMeasure), "eye": does(wMeasure), "snout": does(wMeasure), "width": does(wMeasure), "interorbital": does(wMeasure), "length": does(wMeasure),
	"counted": does(wCounted), "considered": does(wCounted), "treated": does(wCounted), "as": does(wAs), "labials": plain(fSupralabial | fInfralabial), "labial": plain(fSupralabial | fInfralabial),
	"respectively": does(wRespectively),
	"absent":       does(wAbsent), "lacking": does(wAbsent), "wanting": does(wAbsent),
	"fig": does(wIgnore), "figs": does(wIgnore), "figure": does(wIgnore), "table": does(wIgnore), "tab": does(wIgnore), "page": does(wIgnore), "pp": does(wIgnore), "plate": does(wIgnore), "stage": does(wIgnore),
}

type label struct {
	char Character
	elem Element // Whole where the label names the character alone
}

// labels are the abbreviations of count tables, case as printed. Sources: Kimura;
// AFSC rockfish tables (READ); older style from Day. It is never written to.
var labels = map[string]label{
	"D": {char: Dorsal}, "D1": {char: Dorsal1}, "D2": {char: Dorsal2}, "D3": {char: Dorsal3}, "1D": {char: Dorsal1}, "2D": {char: Dorsal2}, "3D": {char: Dorsal3}, "DF": {char: Dorsal}, "Dr": {char: Dorsal, elem: Ray},
	"A": {char: Anal}, "A1": {char: Anal1}, "A2": {char: Anal2}, "1A": {char: Anal1}, "2A": {char: Anal2}, "AF": {char: Anal}, "Ar": {char: Anal, elem: Ray},
	"P": {char: Pectoral}, "P1": {char: Pectoral}, "PF": {char: Pectoral}, "Pect": {char: Pectoral}, "Pec": {char: Pectoral},
	"V": {char: Pelvic}, "P2": {char: Pelvic}, "Vn": {char: Pelvic}, "VF": {char: Pelvic}, "Pv": {char: Pelvic}, "Pelv": {char: Pelvic}, "Pel": {char: Pelvic}, "Pr": {char: Pectoral},
	"C": {char: Caudal}, "CF": {char: Caudal}, "Cr": {char: Caudal}, "PrC": {char: Caudal}, "PCR": {char: Caudal}, "Cproc": {char: CaudalProcurrent},
	"LL": {char: LateralLine}, "Ll": {char: LateralLine}, "ll": {char: LateralLine}, "LLS": {char: LateralLine}, "LLp": {char: PoredScales}, "LLP": {char: PoredScales}, "pLL": {char: PoredScales},
	"LR": {char: LongitudinalRow}, "LS": {char: LongitudinalRow}, "LSS": {char: LongitudinalRow}, "LLs": {char: LongitudinalRow}, "LRS": {char: LongitudinalRow}, "LSR": {char: LongitudinalRow},
	"Ltr": {char: TransverseScales}, "LTR": {char: TransverseScales}, "Ltrans": {char: TransverseScales}, "TR": {char: TransverseScales}, "TRB": {char: TransverseRow}, "TRa": {char: TransverseRow}, "TRF": {char: TransverseRow}, "TRDB": {char: TransverseRow}, "TS": {char: TransverseRow},
	"GR": {char: GillRakers}, "Gr": {char: GillRakers}, "GRs": {char: GillRakers}, "gr": {char: GillRakers}, "TGR": {char: GillRakers, elem: Total},
	"B": {char: Branchiostegals}, "Br": {char: Branchiostegals}, "BR": {char: Branchiostegals}, "BRR": {char: Branchiostegals}, "Branch": {char: Branchiostegals}, "Brst": {char: Branchiostegals}, "BS": {char: Branchiostegals},
	"Vert": {char: Vertebrae}, "VERT": {char: Vertebrae}, "Vt": {char: Vertebrae}, "Vertebr": {char: Vertebrae}, "Vtb": {char: Vertebrae},
	"PDS": {char: PredorsalScales}, "PD": {char: PredorsalScales}, "PreD": {char: PredorsalScales}, "CP": {char: PeduncleScales}, "CPS": {char: PeduncleScales}, "CPR": {char: PeduncleScales},
	"Sec": {char: CaudalProcurrent}, "PT": {char: PharyngealTeeth}, "PC": {char: PyloricCaeca}, "Myo": {char: Myomeres}, "DSR": {char: BodyRows}, "SC": {char: SubcaudalShields}, "IL": {char: InfralabialShield}, "VEN": {char: VentralShields}, "SUPL": {char: SupralabialShield}, "TEMP": {char: TemporalShields},
	"opercleRows": {char: OpercleRows}, "cheekRows": {char: CheekRows}, "scuteRows": {char: ScuteRows}, "scutesD": {char: DorsalScutes}, "scutesL": {char: LateralScutes}, "scutesV": {char: VentralScutes}, "SAL": {char: TransverseScales, elem: Above}, "SBL": {char: TransverseScales, elem: Below},
}
