package meristic

import "strings"

// commonWords are the words a damaged one is compared with: the nouns and kinds that
// decide what a count counts.
var commonWords = [...]string{
	"dorsal", "pectoral", "pelvic", "ventral", "caudal", "spines", "spine", "branched", "unbranched", "segmented",
	"procurrent", "principal", "rakers", "gillrakers", "vertebrae", "abdominal", "precaudal", "lateral", "scales",
	"predorsal", "transverse", "longitudinal", "circumpeduncular", "branchiostegal", "branchiostegals", "finlets",
	"ventrals", "subcaudals", "supralabials", "infralabials",
}

// misspeltLeast is the shortest word that is mended; shorter ones resemble too many.
const misspeltLeast = 5

// misspelt gives the meaning of an unknown word that differs by one letter from a
// common one, with a warning.
func (p *parser) misspelt(t *token) feature {
	w := p.text(t)
	if lx, common := scanned(w); lx.feat != 0 {
		p.warn(t.pos, "%q read as %q", w, common)
		return lx.feat
	}
	if len(w) < misspeltLeast || len(w) > maxWord {
		return 0
	}
	for _, common := range commonWords {
		if oneLetterApart(w, common) {
			p.warn(t.pos, "%q read as %q", w, common)
			lx, _ := lookup(common)
			return lx.feat
		}
	}
	return 0
}

// scanned finds the word behind letters that scanning confuses: spmes, fm, scaIes.
func scanned(w string) (lexeme, string) {
	for _, slip := range [...][2]string{{"m", "in"}, {"m", "ni"}, {"m", "rn"}, {"I", "l"}, {"rn", "m"}} {
		i := strings.Index(w, slip[0])
		if i < 0 || len(w) > maxWord {
			continue
		}
		common := w[:i] + slip[1] + w[i+len(slip[0]):]
		if lx, ok := lookup(common); ok {
			return lx, common
		}
	}
	return lexeme{}, ""
}

// oneLetterApart compares ASCII words without regard to case: one letter changed,
// lost or added, or two neighbours exchanged.
func oneLetterApart(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	if len(b)-len(a) > 1 {
		return false
	}
	i := 0
	for i < len(a) && a[i]|0x20 == b[i]|0x20 {
		i++
	}
	j := 0
	for j < len(a)-i && a[len(a)-1-j]|0x20 == b[len(b)-1-j]|0x20 {
		j++
	}
	switch rest := len(a) - i - j; {
	case len(a) < len(b):
		return rest == 0
	case rest == 2:
		return a[i]|0x20 == b[i+1]|0x20 && a[i+1]|0x20 == b[i]|0x20
	default:
		return rest == 1
	}
}

// lostLetter reads "dorsal in with 12 spines" as "dorsal fin".
func (p *parser) lostLetter(t *token) {
	prev, next := p.peek(-2), p.tok()
	if prev.kind == tWord && prev.lex.feat&fAnyFin != 0 && next.kind == tWord && next.lex.class == wPlus {
		p.pre.near |= fFin
		p.warn(t.pos, "%q read as \"fin\"", p.text(t))
	}
}
