package taxon

import (
	"strconv"
	"strings"
	"unicode/utf8"
)

// epithets reads qualifiers, the species and everything below it with the
// authors. It reports false when no epithet and no qualifier follows.
func (p *parser) epithets() bool {
	if p.qualifier() {
		p.repeatedGenus()
		if p.n.Surrogate == Approximation {
			return p.approximate()
		}
		if p.done() {
			return true
		}
	}
	if p.hybridSign(0) {
		if _, ok := p.epithetAt(1); !ok {
			return p.n.Surrogate != Settled
		}
		p.i++
		p.markHybrid()
		p.n.HybridSpecies = true
	}
	e, ok := p.epithetAt(0)
	if !ok || p.particleHere() || p.rankHere() {
		return p.n.Surrogate != Settled
	}
	p.take()
	p.n.Species = e
	if p.at(0).is("?") && p.adjacent(0) {
		p.i++
		p.warn(WarnDoubt)
	}
	p.infraspecific()
	return true
}

// repeatedGenus skips the genus written again, abbreviated: cf. L. griseus.
func (p *parser) repeatedGenus() {
	abbr := strings.TrimSuffix(p.at(0).text, ".")
	if _, ok := p.epithetAt(1); ok && p.at(0).dotted() && isUpper(abbr) && len(abbr) <= 2 && strings.HasPrefix(p.n.Genus, abbr) {
		p.i++
		p.warn(WarnAbbreviated)
	}
}

// approximate reads what follows sp., aff. and their like. An epithet behind
// aff. or nr. names another species; only where its author is cited is it taken
// as the nominal species under which the animal is filed.
func (p *parser) approximate() bool {
	if strings.Contains(p.n.Annotation, "sp") && !p.comparedAhead() {
		p.n.Label = strings.TrimSpace(p.rest())
		p.i = len(p.toks)
		return true
	}
	e, ok := p.epithetAt(0)
	if !ok {
		p.n.Label = strings.TrimSpace(p.rest())
		p.i = len(p.toks)
		return true
	}
	p.take()
	save := p.i
	if p.authorship() && p.done() {
		p.n.Species = e
		return true
	}
	p.n.Original, p.n.Combination, p.n.Parenthesised = Team{}, Team{}, false
	p.i = save
	p.n.Near, p.n.Label = e, strings.TrimSpace(p.rest())
	p.i = len(p.toks)
	return true
}

// comparedAhead reports whether the qualifier just read ends in one that takes
// an epithet (sp. nr. subjuncta).
func (p *parser) comparedAhead() bool {
	a := strings.TrimSuffix(p.n.Annotation, ".")
	return strings.HasSuffix(a, "nr") || strings.HasSuffix(a, "aff") || strings.HasSuffix(a, "near")
}

// infraspecific reads authors and epithets below the species, alternately; the
// authors of the last epithet are those of the name.
func (p *parser) infraspecific() {
	for {
		authored := p.authorship()
		if p.trailingQualifier() {
			return
		}
		in, ok := p.infra(authored)
		if !ok {
			return
		}
		p.n.Infras = append(p.n.Infras, in)
		p.n.Original, p.n.Combination, p.n.Parenthesised = Team{}, Team{}, false
	}
}

// trailingQualifier reads "cf." and "spp." behind the species.
func (p *parser) trailingQualifier() bool {
	save, had := p.i, p.n.Surrogate
	if had != Settled || !p.qualifierAhead() {
		return false
	}
	if _, epithet := p.epithetAt(1); p.at(0).is("?") && (!epithet || p.adjacent(0)) || !p.qualifier() {
		return false
	}
	if p.n.Surrogate == Comparison && !p.done() {
		in, ok := p.infra(false)
		if !ok {
			p.i, p.n.Surrogate, p.n.Annotation = save, had, ""
			return false
		}
		p.n.Infras = append(p.n.Infras, in)
		p.n.Original, p.n.Combination, p.n.Parenthesised = Team{}, Team{}, false
		p.authorship()
		return true
	}
	p.n.Label = strings.TrimSpace(p.rest())
	p.i = len(p.toks)
	return true
}

// infra reads one epithet below the species, with its rank if one is written.
func (p *parser) infra(authored bool) (Infra, bool) {
	save := p.i
	rank, ranked := p.infraRankHere()
	if ranked {
		for greek(p.at(0)) {
			p.warn(WarnLetters)
			p.i++
		}
	} else if t := p.at(0); t.kind == tokWord && len(t.text) == 1 && isUpper(t.text) && !authored {
		p.i++ // a letter numbering the variety, as in older works
		p.warn(WarnDoubt)
	}
	cross := ranked && p.hybridSign(0)
	if cross {
		p.i++
		p.markHybrid()
	}
	e, ok := p.epithetAt(0)
	if !ok || !ranked && (p.particleHere() || p.yearBefore()) {
		p.i = save
		return Infra{}, false
	}
	p.take()
	if strings.HasPrefix(rank, "notho") && p.n.Hybrid == NotHybrid {
		p.n.Hybrid = NothoHybrid
		p.warn(WarnHybrid)
	}
	return Infra{Rank: rank, Epithet: e}, true
}

// yearBefore reports whether a year was the last thing read: prose may follow
// it, an unranked epithet doesn't.
func (p *parser) yearBefore() bool {
	k := -1
	for p.at(k).is(".") || p.at(k).is(")") {
		k--
	}
	return p.at(k).kind == tokNumber && p.i > 0
}

func (p *parser) infraRankHere() (string, bool) {
	t := p.at(0)
	if t.is("*") {
		p.i++
		return "*", true
	}
	rank := infraRank(t.text)
	if t.kind != tokWord || rank == "" || !t.dotted() && !undottedRank(t.text) {
		return "", false
	}
	p.i++
	switch next := p.at(0).text; { // ab. n., a new aberration; f. sp., a special form
	case next == "n.", rank == "f." && next == "sp.":
		p.i++
		rank += " " + next
	}
	return rank, true
}

// rankHere reports whether the word in the place of the species is a dotted
// rank, so that no species follows.
func (p *parser) rankHere() bool {
	t := p.at(0)
	if t.dotted() {
		return groupRank(t.text) != "" || infraRank(t.text) != ""
	}
	if groupRank(t.text) == "" || p.at(1).kind != tokWord {
		return false
	}
	g, ok := genusWord(p.at(1).text)
	return ok && (latinGenus(g) || !epithetLikeRank(t.text))
}

func greek(t token) bool {
	if t.kind != tokWord {
		return false
	}
	r, n := utf8.DecodeRuneInString(t.text)
	return r >= 'α' && r <= 'ω' && (len(t.text) == n || t.text[n:] == ".")
}

// particleHere reports whether the word in the place of an epithet is rather
// the beginning of an author: von Heyden, le Renard.
func (p *parser) particleHere() bool {
	t := p.at(0)
	if t.kind != tokWord || !particle(t.text) {
		return false
	}
	k := 1
	for p.at(k).kind == tokWord && particle(p.at(k).text) {
		k++
	}
	next := p.at(k)
	if next.kind != tokWord || !isUpper(next.text) && !apostropheAuthor(next.text) {
		return false
	}
	if k > 1 || !weakParticle(t.text) || p.n.Species != "" {
		return true
	}
	return takesParticle(strings.TrimSuffix(next.text, "."))
}

// epithetAt reads the epithet k tokens ahead without consuming it.
func (p *parser) epithetAt(k int) (string, bool) {
	t := p.at(k)
	switch t.kind {
	case tokMixed, tokNumber:
		return figures(t.text)
	case tokWord:
		return epithetWord(t.text)
	default:
		return "", false
	}
}

// epithetWord checks and normalises an epithet.
func epithetWord(w string) (string, bool) {
	if !isLower(w) || neverEpithet(w) || strings.HasSuffix(w, ".") || strings.HasSuffix(w, "-") || strings.HasSuffix(w, "'") {
		return "", false
	}
	plain := strings.NewReplacer("'", "", ".", "").Replace(w)
	if utf8.RuneCountInString(plain) < 2 || !lowerOnly(strings.ReplaceAll(plain, "-", "")) || greekLetters(plain) {
		return "", false
	}
	plain, _ = latinise(plain)
	return plain, true
}

// greekLetters reports whether a word has letters of another alphabet.
func greekLetters(w string) bool {
	for _, r := range w {
		if r >= 0x370 && r < 0x1E00 {
			return true
		}
	}
	return false
}

// take consumes an epithet and notes what had to be changed in it.
func (p *parser) take() {
	t := p.at(0)
	p.i++
	if t.kind != tokWord {
		p.warn(WarnNumber)
		return
	}
	if strings.ContainsAny(t.text, "'.") {
		p.warn(WarnApostrophe)
	}
	if _, changed := latinise(t.text); changed {
		p.warn(WarnLetters)
	}
}

// figures writes a figure before an epithet in Latin: 12-spinosa.
func figures(w string) (string, bool) {
	i := 0
	for i < len(w) && w[i] >= '0' && w[i] <= '9' {
		i++
	}
	v, err := strconv.Atoi(w[:i])
	if err != nil {
		return "", false
	}
	latin, ok := numerals[v]
	rest := strings.TrimLeft(w[i:], "-.")
	if !ok || utf8.RuneCountInString(rest) < 3 || !lowerOnly(rest) {
		return "", false
	}
	return latin + rest, true
}
