package meristic

import "strings"

// letters reads a run of letters: a label, a numeral, a word of the lexicon, or a
// word without meaning here.
func (l *lexer) letters(end int) {
	if l.dotted() || l.scannedLabel(end) {
		return
	}
	w := l.s[l.at:end]
	lab, isLabel := labels[w]
	n, form, fixed, kind := numeral(w)
	switch {
	case kind != tWord && (!isLabel || len(w) == 1 && form != romanInvalid):
		l.addNumeral(end, n, form, fixed, kind).lab = lab // V is five, or the ventral fin: the parser decides
		return
	case isLabel:
		t := l.add(tLabel, end)
		t.lab = lab
		t.lex, _ = lookup(w)
		return
	}
	lx, known := lookup(w)
	if !known && (l.glued(w) || l.joinBroken(w, end)) {
		return
	}
	t := l.add(tWord, end)
	if t.lex = lx; !known {
		t.lex.class = wUnknown
	}
}

func (l *lexer) addNumeral(end, n int, form romanForm, fixed bool, kind tokenKind) *token {
	t := l.add(kind, end)
	t.num = float64(n)
	switch form {
	case romanInvalid:
		t.kind = tBad
	case romanAdditive:
		t.flags |= flagIrregular
	default:
	}
	if fixed {
		t.flags |= flagFixed
	}
	return t
}

// scannedLabel tells labels and numerals apart where scanning made them alike: LI. 48
// is Ll. (no fish has 51 spines), A ll,8 is II.
func (l *lexer) scannedLabel(end int) bool {
	switch l.s[l.at:end] {
	case "LI", "Li":
		if k := strings.TrimLeft(l.s[end:], ".: "); k != "" && isDigit(k[0]) {
			t := l.add(tLabel, end)
			t.lab, t.flags = labels["LL"], t.flags|flagFixed
			return true
		}
	case "ll":
		if l.afterLabel() {
			l.addNumeral(end, 2, romanCanonical, true, tUpper)
			return true
		}
	}
	return false
}

func (l *lexer) afterLabel() bool {
	i := len(l.out) - 1
	for i >= 0 && (l.out[i].kind == tDot || l.out[i].kind == tColon) {
		i--
	}
	return i >= 0 && (l.out[i].kind == tLabel && l.out[i].lab.char.fin())
}

// glued parts a fin's letter from a numeral that touches it: AIII,8.
func (l *lexer) glued(w string) bool {
	switch w[0] {
	case 'D', 'A', 'P':
	default:
		return false
	}
	if len(w) < 2 || !isNumeral(w[1:]) || !isUpper(w[1]) {
		return false
	}
	start := l.at
	l.add(tLabel, start+1).lab = labels[w[:1]]
	l.letters(start + len(w))
	return true
}

// dotted reads an abbreviation of several pointed letters: L.l., G. r.
func (l *lexer) dotted() bool {
	switch l.s[l.at] {
	case 'L', 'l', 'G', 'g', 'C', 'c', 'P', 'p':
	default:
		return false
	}
	rest := l.s[l.at:]
	for _, d := range dottedLabels {
		if len(rest) >= len(d.form) && strings.EqualFold(rest[:len(d.form)], d.form) {
			l.add(tLabel, l.at+len(d.form)).lab = label{char: d.char}
			return true
		}
	}
	return false
}

// dottedLabels are tried in order, longer forms first, in either case.
var dottedLabels = [...]struct {
	form string
	char Character
}{
	{"L. transv.", TransverseScales}, {"L. trans.", TransverseScales}, {"L. lat.", LateralLine}, {"L.lat.", LateralLine}, {"lin. lat.", LateralLine}, {"lin.lat.", LateralLine},
	{"lin. tr.", TransverseScales}, {"L. tr.", TransverseScales}, {"L.tr.", TransverseScales}, {"L. l.", LateralLine}, {"L.l.", LateralLine}, {"L.r.", LongitudinalRow}, {"G. r.", GillRakers}, {"G.r.", GillRakers},
	{"Lat. transv.", TransverseScales}, {"Lat. tr.", TransverseScales}, {"Lat. l.", LateralLine},
	{"Caec. pyl.", PyloricCaeca}, {"Caec.pyl.", PyloricCaeca}, {"Coec. pylor.", PyloricCaeca}, {"Pyl. caec.", PyloricCaeca},
}

// joinBroken mends a word that a line end broke: "pel- vic".
func (l *lexer) joinBroken(w string, end int) bool {
	n := len(l.out)
	if n < 2 || l.flag&flagSpace == 0 || l.out[n-1].kind != tDash || l.out[n-1].has(flagSpace) {
		return false
	}
	head := &l.out[n-2]
	if head.kind != tWord && head.kind != tLabel {
		return false
	}
	lx, ok := lookup(l.s[head.pos:head.end] + w)
	if !ok {
		return false
	}
	pos, flags := head.pos, head.flags
	l.out = l.out[:n-2]
	t := l.add(tWord, end)
	t.lex, t.pos, t.flags = lx, pos, flags
	return true
}

// numeral decides whether letters are a roman numeral and mends what scanning does
// to one: l for I, a stray capital. kind is tWord for anything else.
func numeral(w string) (n int, form romanForm, fixed bool, kind tokenKind) {
	if len(w) > 10 {
		return 0, 0, false, tWord
	}
	up, low, ells, large := 0, 0, 0, false
	for i := 0; i < len(w); i++ {
		switch w[i] {
		case 'I', 'V', 'X':
			up++
		case 'L', 'C':
			up, large = up+1, true
		case 'i', 'v', 'x':
			low++
		case 'l':
			ells++
		default:
			return 0, 0, false, tWord
		}
	}
	switch {
	case ells == 0 && low == 0: // XII; D, M and words in capitals are not here
		n, form = roman(w)
		return n, form, false, tUpper
	case ells == 0 && up == 0: // xii
		n, form = roman(w)
		if form == romanInvalid {
			return 0, 0, false, tWord
		}
		return n, form, false, tLower
	case low == 0 && (up > 0 || len(w) == 1 || len(w) == 3): // Xll, l, lll
		n, form = roman(strings.ReplaceAll(w, "l", "I"))
		if form == romanInvalid {
			return 0, 0, false, tWord
		}
		return n, form, true, tUpper
	case ells == 0 && !large: // iIi, Vi
		n, form = roman(strings.ToLower(w))
		if form == romanInvalid {
			return 0, 0, false, tWord
		}
		return n, form, true, tLower
	default:
		return 0, 0, false, tWord
	}
}

// mixed reads letters and digits that touch: D1, 2nd, D10, ii8, 15mm, and misprints
// such as V1 for VI or l0 for 10.
func (l *lexer) mixed(end int) {
	w := l.s[l.at:end]
	if lab, ok := labels[w]; ok {
		l.add(tLabel, end).lab = lab
		return
	}
	if lx, ok := lookup(w); ok {
		l.add(tWord, end).lex = lx
		return
	}
	split := 0
	for split < len(w) && isDigit(w[split]) == isDigit(w[0]) {
		split++
	}
	if isDigit(w[0]) && isOrdinal(w[split:]) {
		l.add(tWord, end)
		return
	}
	if l.misprint(w, end) {
		return
	}
	tail := w[split:]
	if isDigit(w[0]) { // 15mm, 10branched, 8i
		if _, ok := lookup(tail); ok || isNumeral(tail) {
			l.number(l.at + split)
			return
		}
	} else if allDigits(tail) && tail[0] != '0' {
		_, ok := labels[w[:split]]
		if strings.Trim(tail, "1") == "" && !ok { // IX1: neither a numeral nor two counts
			l.add(tBad, end)
			return
		}
		if ok || isNumeral(w[:split]) { // D10, ii8, XI12
			l.letters(l.at + split)
			return
		}
	}
	l.add(tBad, end)
}

// misprint mends figures and strokes confused by scanning. A run that could as well
// be a number as a numeral (I0) stays unread.
func (l *lexer) misprint(w string, end int) bool {
	strokes, figures := true, true // may be a roman numeral; may be a number
	upper := false
	for i := 0; i < len(w); i++ {
		switch c := w[i]; c {
		case 'l':
		case '1':
		case 'I', 'V', 'X':
			upper, figures = true, false
		case 'O', 'o':
			strokes = false
		default:
			strokes = false
			if !isDigit(c) {
				figures = false
			}
		}
	}
	switch {
	case figures:
		n := 0.0
		for i := 0; i < len(w); i++ {
			d := w[i]
			switch d {
			case 'l':
				d = '1'
			case 'O', 'o':
				d = '0'
			}
			n = n*10 + float64(d-'0')
		}
		if len(w) > 4 {
			return false
		}
		t := l.add(tNumber, end)
		t.num, t.flags = n, t.flags|flagFixed
		return true
	case strokes && upper:
		n, form := roman(strings.NewReplacer("l", "I", "1", "I").Replace(w))
		if form != romanCanonical {
			return false
		}
		t := l.add(tUpper, end)
		t.num, t.flags = float64(n), t.flags|flagFixed
		return true
	default:
		return false
	}
}

func isOrdinal(s string) bool {
	return s == "st" || s == "nd" || s == "rd" || s == "th"
}

func isNumeral(s string) bool {
	_, form, _, kind := numeral(s)
	return kind != tWord && form == romanCanonical
}

func allDigits(s string) bool {
	for i := 0; i < len(s); i++ {
		if !isDigit(s[i]) {
			return false
		}
	}
	return s != ""
}
