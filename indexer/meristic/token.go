package meristic

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

type tokenKind uint8

const (
	tEnd       tokenKind = iota
	tNumber              // arabic
	tUpper               // upper-case roman numeral, or a letter that may be one
	tLower               // lower-case roman numeral
	tWord                //
	tLabel               // abbreviation of a character
	tComma               //
	tSemicolon           //
	tDot                 //
	tColon               //
	tDash                //
	tPlus                //
	tSlash               //
	tBar                 // fin separator of older authors: 7 | 1/9
	tOpen                //
	tClose               //
	tStar                //
	tEquals              //
	tQuery               //
	tAbout               // ~
	tMore                // >
	tLess                // <
	tAtLeast             // ≥
	tAtMost              // ≤
	tBad                 // a numeral out of order, letters among digits
	tOther               //
)

const (
	flagSpace     uint8 = 1 << iota // a blank stands before
	flagFixed                       // misprint repaired: l for 1, case
	flagHalf                        // ends in a half
	flagDouble                      // a doubled dash
	flagSquare                      // square bracket
	flagOnes                        // digits that are all 1: perhaps strokes of a numeral
	flagIrregular                   // IIII
	flagDecimal                     // a fraction that is no half
)

// token is one lexical unit. Offsets are bytes.
type token struct {
	num      float64
	lex      lexeme
	lab      label
	pos, end int32
	kind     tokenKind
	flags    uint8
}

func (t *token) has(f uint8) bool { return t.flags&f != 0 }

// lexer cuts a string into tokens. It repairs what OCR does to numerals and marks
// what it repaired; what it cannot read becomes tBad, judged by the parser.
type lexer struct {
	s    string
	out  []token
	at   int
	flag uint8
}

func lex(s string, buf []token) []token {
	l := lexer{s: s, out: buf}
	for l.at < len(s) {
		l.next()
	}
	return append(l.out, token{kind: tEnd, pos: int32(len(s)), end: int32(len(s))})
}

func (l *lexer) add(k tokenKind, end int) *token {
	l.out = append(l.out, token{kind: k, pos: int32(l.at), end: int32(end), flags: l.flag})
	l.at, l.flag = end, 0
	return &l.out[len(l.out)-1]
}

func (l *lexer) next() {
	c := l.s[l.at]
	switch {
	case c == ' ' || c == '\t' || c == '\n' || c == '\r':
		l.at++
		l.flag |= flagSpace
	case '0' <= c && c <= '9', 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z':
		l.run()
	case c < utf8.RuneSelf:
		l.punct(c)
	default:
		l.wide()
	}
}

func (l *lexer) punct(c byte) {
	k := tOther
	switch c {
	case ',':
		k = tComma
	case ';':
		k = tSemicolon
	case '.':
		k = tDot
	case ':':
		k = tColon
	case '-':
		l.dash(1)
		return
	case '+':
		k = tPlus
	case '/':
		k = tSlash
	case '|':
		k = tBar
	case '(', '[':
		k = tOpen
	case ')', ']':
		k = tClose
	case '*':
		k = tStar
	case '=':
		k = tEquals
	case '?':
		k = tQuery
	case '~':
		k = tAbout
	case '>':
		k = tMore
	case '<':
		k = tLess
	}
	if (k == tMore || k == tLess) && l.at+1 < len(l.s) && l.s[l.at+1] == '=' {
		l.add(k+2, l.at+2) // tAtLeast and tAtMost follow in the same order
		return
	}
	t := l.add(k, l.at+1)
	if c == '[' || c == ']' {
		t.flags |= flagSquare
	}
}

func (l *lexer) dash(size int) {
	if n := len(l.out); n > 0 && l.out[n-1].kind == tDash && l.flag == 0 {
		last := &l.out[n-1]
		last.flags |= flagDouble
		l.at += size
		last.end = int32(l.at)
		return
	}
	l.add(tDash, l.at+size)
}

// wide handles everything outside ASCII.
func (l *lexer) wide() {
	r, size := utf8.DecodeRuneInString(l.s[l.at:])
	switch r {
	case '‐', '‑', '‒', '–', '—', '−', '­':
		l.dash(size)
	case '×':
		l.add(tOther, l.at+size)
	case '≥':
		l.add(tAtLeast, l.at+size)
	case '≤':
		l.add(tAtMost, l.at+size)
	case '≈', '∼':
		l.add(tAbout, l.at+size)
	case '＋':
		l.add(tPlus, l.at+size)
	case '½':
		l.half(size)
	case '\u00a0', '\u2009', '\u202f', '\u2002', '\u2003', '\u200b', '\ufeff':
		l.at += size
		l.flag |= flagSpace
	default:
		switch {
		case unicode.IsLetter(r):
			l.run()
		case unicode.IsSpace(r):
			l.at += size
			l.flag |= flagSpace
		default:
			l.add(tOther, l.at+size)
		}
	}
}

// half reads a half that stands first: ½5 is 5½, the half being the row along the
// back. Common practice (transverse scales of Asian carps), no source.
func (l *lexer) half(size int) {
	end := l.at + size
	n := 0.0
	for end < len(l.s) && isDigit(l.s[end]) && end-l.at < size+3 {
		n = n*10 + float64(l.s[end]-'0')
		end++
	}
	t := l.add(tNumber, end)
	t.num, t.flags = n+0.5, t.flags|flagHalf
}

// run reads letters and digits that touch each other.
func (l *lexer) run() {
	end, digits, letters, wide := l.at, 0, 0, false
	for end < len(l.s) {
		c := l.s[end]
		switch {
		case '0' <= c && c <= '9':
			digits++
			end++
			continue
		case 'a' <= c && c <= 'z', 'A' <= c && c <= 'Z':
			letters++
			end++
			continue
		}
		r, size := utf8.DecodeRuneInString(l.s[end:])
		if c < utf8.RuneSelf || !unicode.IsLetter(r) {
			break
		}
		wide = true
		end += size
	}
	for { // x̄, a mean
		r, size := utf8.DecodeRuneInString(l.s[end:])
		if !unicode.Is(unicode.Mn, r) {
			break
		}
		wide = true
		end += size
	}
	switch {
	case wide:
		t := l.add(tWord, end)
		t.lex.class = wUnknown
		if w := l.s[t.pos:t.end]; w == "x̄" || w == "X̄" {
			t.lex.class = wMean
		}
	case letters == 0:
		l.number(end)
	case digits == 0:
		l.letters(end)
	default:
		l.mixed(end)
	}
}

// number reads digits, and the half that may follow them: 8½, 8.5, 8 1/2.
func (l *lexer) number(end int) {
	s := l.s
	n, ones := 0.0, true
	for i := l.at; i < end; i++ {
		n = n*10 + float64(s[i]-'0')
		ones = ones && s[i] == '1'
	}
	if end-l.at > 6 {
		l.add(tBad, end)
		return
	}
	flags, stop := l.fraction(end)
	if flags == flagHalf {
		n += 0.5
	}
	if ones && flags == 0 {
		flags = flagOnes
	}
	t := l.add(tNumber, stop)
	t.num, t.flags = n, t.flags|flags
}

// fraction reads what may follow digits: a half, or a fraction that no count has.
func (l *lexer) fraction(end int) (flags uint8, stop int) {
	rest := l.s[end:]
	switch {
	case strings.HasPrefix(rest, "½"):
		return flagHalf, end + len("½")
	case strings.HasPrefix(rest, " ½"):
		return flagHalf, end + len(" ½")
	case strings.HasPrefix(rest, " 1/2") && (len(rest) == 4 || !isDigit(rest[4])):
		return flagHalf, end + 4
	case len(rest) < 2 || rest[0] != '.' || !isDigit(rest[1]):
		return 0, end
	}
	stop = end + 2
	for stop < len(l.s) && isDigit(l.s[stop]) {
		stop++
	}
	switch digits := l.s[end+1 : stop]; {
	case digits == "5":
		return flagHalf, stop
	case digits == "0": // 4.0 beside 6.5
		return 0, stop
	case len(digits) == 2: // 10.12: the point of older authors between two counts
		return 0, end
	default:
		return flagDecimal, stop
	}
}

func isDigit(c byte) bool { return '0' <= c && c <= '9' }
func isLower(c byte) bool { return 'a' <= c && c <= 'z' }
func isUpper(c byte) bool { return 'A' <= c && c <= 'Z' }
