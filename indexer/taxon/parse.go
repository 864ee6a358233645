package taxon

import (
	"errors"
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// MaxNameLength is the longest string that Parse reads, in bytes. The longest
// published names with authors stay below 500.
const MaxNameLength = 1 << 10

// Errors of Parse. Callers show the string back and ask for a name.
var (
	// ErrNotAName means that no scientific name could be found in the string.
	ErrNotAName = errors.New("not a scientific name")
	// ErrTooLong means that the string is longer than MaxNameLength.
	ErrTooLong = errors.New("scientific name is too long")
)

// Parse reads a scientific name under the zoological or the botanical code.
// What follows the name is kept in Tail; what was repaired shows in Warnings.
// The error is ErrNotAName or ErrTooLong, wrapped; the Name then holds only the
// verbatim string.
func Parse(s string) (Name, error) {
	if len(s) > MaxNameLength {
		return Name{}, fmt.Errorf("%d bytes: %w", len(s), ErrTooLong)
	}
	n := Name{Verbatim: s}
	p := &parser{n: &n}
	src, quoted := clean(s, p.warn)
	if src == "" {
		return Name{Verbatim: s}, fmt.Errorf("empty: %w", ErrNotAName)
	}
	if noName.MatchString(src) {
		return Name{Verbatim: s}, fmt.Errorf("%q stands for a missing name: %w", s, ErrNotAName)
	}
	head, note := cutNotes(src)
	p.src, p.toks = head, lex(head)
	if err := p.name(""); err != nil {
		return Name{Verbatim: s}, fmt.Errorf("%q: %w", s, err)
	}
	if err := p.formula(); err != nil {
		return Name{Verbatim: s}, fmt.Errorf("%q: %w", s, err)
	}
	n.Tail = p.rest() + note
	if n.Surrogate == Approximation && n.Label == "" && n.Tail == "" {
		n.Label, quoted = quoted, "" // Notropis sp. "Cahaba"
	}
	n.Tail += quoted
	if n.Tail != "" {
		p.warn(WarnTail)
	}
	return n, nil
}

// parser walks over the tokens of one name. Its methods either consume tokens
// and report success, or leave the position alone.
type parser struct {
	src  string
	toks []token
	i    int
	n    *Name
}

func (p *parser) warn(w Warning) {
	for _, have := range p.n.Warnings {
		if have == w {
			return
		}
	}
	p.n.Warnings = append(p.n.Warnings, w)
}

// at looks k tokens ahead; beyond the end it gives an empty punctuation token.
func (p *parser) at(k int) token {
	if p.i+k < 0 || p.i+k >= len(p.toks) {
		return token{kind: tokPunct, from: len(p.src), to: len(p.src)}
	}
	return p.toks[p.i+k]
}

func (p *parser) done() bool { return p.i >= len(p.toks) }

// adjacent reports whether no space stands before the token k ahead.
func (p *parser) adjacent(k int) bool {
	j := p.i + k
	return j > 0 && j < len(p.toks) && p.toks[j-1].to == p.toks[j].from
}

// rest is the unread text with the space before it.
func (p *parser) rest() string {
	if p.done() {
		return ""
	}
	if p.i == 0 {
		return p.src
	}
	return p.src[p.toks[p.i-1].to:]
}

// hybridSign reports whether the token k ahead is a sign of crossing. The
// letter x counts only as a word of its own.
func (p *parser) hybridSign(k int) bool {
	t := p.at(k)
	return t.is("×") || t.kind == tokWord && (t.text == "x" || t.text == "X")
}

// name reads one name: genus or uninomial, then what follows it. within is the
// genus that an abbreviation stands for in a hybrid formula.
func (p *parser) name(within string) error {
	p.leadingQualifier()
	if p.hybridSign(0) && p.at(1).kind == tokWord {
		p.i++
		p.markHybrid()
		p.n.HybridGenus = true
	}
	if err := p.genus(within); err != nil {
		return err
	}
	if p.at(0).is("?") && p.adjacent(0) {
		p.i++
		p.warn(WarnDoubt)
	}
	p.subgenus()
	if p.epithets() {
		return nil
	}
	return p.uninomial()
}

// genus reads the first word.
func (p *parser) genus(within string) error {
	t := p.at(0)
	w := t.text
	if t.kind != tokWord || strings.Contains(w, "'") {
		return fmt.Errorf("no genus at %q: %w", t.text, ErrNotAName)
	}
	if r, n := utf8.DecodeRuneInString(w); (r == 'x' || r == 'X') && len(w) > 3 && isUpper(w[n:]) {
		w = w[n:] // ×Agropogon with a letter for the sign
		p.markHybrid()
		p.n.HybridGenus = true
	}
	if abbr := strings.TrimSuffix(w, "."); abbr != w {
		if utf8.RuneCountInString(abbr) > 2 || !isUpper(abbr) {
			return fmt.Errorf("abbreviated genus %q: %w", w, ErrNotAName)
		}
		if within != "" && strings.HasPrefix(within, abbr) {
			w = within
		}
		p.warn(WarnAbbreviated)
		p.n.Genus, p.i = w, p.i+1
		return nil
	}
	g, ok := genusWord(w)
	if !ok {
		return fmt.Errorf("%q is no genus: %w", w, ErrNotAName)
	}
	g, changed := latinise(g)
	if changed {
		p.warn(WarnLetters)
	}
	p.n.Genus, p.i = g, p.i+1
	return nil
}

// genusWord checks the shape of a genus: a capital, then small letters; parts
// behind hyphens may begin with a capital, which is lowered.
func genusWord(w string) (string, bool) {
	parts := strings.Split(w, "-")
	if len(parts) > 3 || !isUpper(w) {
		return "", false
	}
	for i, part := range parts {
		if part == "" {
			return "", false
		}
		r, n := utf8.DecodeRuneInString(part)
		if !unicode.IsLetter(r) || !lowerOnly(part[n:]) {
			return "", false
		}
		if i > 0 {
			parts[i] = string(unicode.ToLower(r)) + part[n:]
		}
	}
	if utf8.RuneCountInString(parts[0]) < 2 {
		return "", false
	}
	if utf8.RuneCountInString(parts[0]) == 2 && !strings.ContainsAny(strings.ToLower(parts[0]), "aeiouyéœæäöü") {
		return "", false
	}
	return strings.Join(parts, "-"), true
}

func lowerOnly(s string) bool {
	for _, r := range s {
		if !unicode.IsLower(r) && r != utf8.RuneError && !unicode.Is(unicode.Lm, r) {
			return false
		}
	}
	return true
}

// subgenus reads a name in parentheses that an epithet follows.
func (p *parser) subgenus() {
	if !p.at(0).is("(") || !p.at(2).is(")") || p.at(1).kind != tokWord {
		return
	}
	w := p.at(1).text
	if _, ok := genusWord(strings.TrimSuffix(w, ".")); !ok && (!p.at(1).dotted() || !isUpper(w) || len(w) > 4) {
		return
	}
	save := p.i
	p.i += 3
	follows := p.hybridSign(0) || p.qualifierAhead()
	if !follows {
		_, follows = p.epithetAt(0)
	}
	if !follows || p.particleHere() {
		p.i = save
		return
	}
	if surname(w) { // who named the genus, not a subgenus
		p.warn(WarnDoubt)
		return
	}
	if strings.HasSuffix(w, ".") {
		p.warn(WarnAbbreviated)
	}
	var changed bool
	if p.n.Subgenus, changed = latinise(w); changed {
		p.warn(WarnLetters)
	}
}

// uninomial reads what can follow a name of one part: authors, and a name of
// lower rank with or without its rank.
func (p *parser) uninomial() error {
	p.parenthesisedGroup()
	if p.n.Group == "" {
		p.authorship()
		if !p.rankedGroup() {
			return nil
		}
	}
	p.n.Original, p.n.Combination, p.n.Parenthesised = Team{}, Team{}, false
	p.authorship()
	return nil
}

// parenthesisedGroup reads Aaleniella (Danocythere). A botanist's genus may
// carry the first author in that place: what looks like a surname, stands
// abbreviated or is repeated behind is left for the authorship.
func (p *parser) parenthesisedGroup() {
	if !p.at(0).is("(") || !p.at(2).is(")") || p.at(1).kind != tokWord || p.at(3).text == p.at(1).text {
		return
	}
	g, ok := genusWord(p.at(1).text)
	if !ok || !latinGenus(g) || p.at(3).is("(") {
		return
	}
	p.n.Group, p.n.GroupRank = g, "subgen."
	p.i += 3
}

// rankedGroup reads sect. Salimori.
func (p *parser) rankedGroup() bool {
	t := p.at(0)
	rank := groupRank(t.text)
	if t.kind != tokWord || rank == "" || p.at(1).kind != tokWord {
		return false
	}
	g, ok := genusWord(p.at(1).text)
	if !ok || !t.dotted() && epithetLikeRank(t.text) && !latinGenus(g) {
		return false
	}
	if strings.HasPrefix(rank, "notho") && p.n.Hybrid == NotHybrid {
		p.n.Hybrid = NothoHybrid
		p.warn(WarnHybrid)
	}
	p.n.Group, p.n.GroupRank = g, rank
	p.i += 2
	return true
}
