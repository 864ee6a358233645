package taxon

import (
	"strings"
	"unicode"
	"unicode/utf8"
)

// authorship reads the authors at this place into the name: a team in
// parentheses and the one that moved the name, or a single team.
func (p *parser) authorship() bool {
	save := p.i
	if team, ok := p.parenthesised(); ok {
		p.n.Original, p.n.Parenthesised = team, true
		if comb, ok := p.team(); ok {
			p.n.Combination = comb
		}
		return true
	}
	p.i = save
	comma := p.at(0).is(",") // Anguilla anguilla, Linnaeus, 1758
	if comma {
		p.i++
	}
	team, ok := p.team()
	if !ok || comma && team.Year.Value == "" {
		p.i = save
		return false
	}
	p.n.Original = team
	if p.at(0).is(")") { // the opening parenthesis was lost
		p.i++
		p.n.Parenthesised = true
		p.warn(WarnParentheses)
	}
	return true
}

// parenthesised reads "(Linnaeus, 1758)", also doubled, unknown "(?)", or with
// the closing parenthesis lost.
func (p *parser) parenthesised() (Team, bool) {
	open := 0
	for p.at(0).is("(") && open < 2 {
		p.i++
		open++
	}
	if open == 0 {
		return Team{}, false
	}
	team, ok := p.team()
	if !ok && p.at(0).is("?") {
		p.i++
		p.warn(WarnDoubt)
		team, ok = Team{Authors: []string{"anon."}}, true
	}
	if !ok {
		return Team{}, false
	}
	closed := 0
	for closed < open && p.at(0).is(")") {
		p.i++
		closed++
	}
	if open > 1 || closed < open {
		p.warn(WarnParentheses)
	}
	if closed == 0 && (open > 1 || team.Year.Value == "") {
		return Team{}, false
	}
	return team, true
}

// team reads authors, year, and the ex, in and emend. authors behind them.
func (p *parser) team() (Team, bool) {
	var t Team
	if p.at(0).text == "mihi" || p.at(0).text == "mihi." { // "of mine": the describer speaking
		p.i++
		p.warn(WarnDoubt)
	}
	authors, with, ok := p.authors()
	if !ok {
		return t, false
	}
	t.Authors, t.With = authors, with
	t.Year = p.year()
	for p.further(&t) {
	}
	return t, true
}

// further reads one ex, in or emend. group into the team.
func (p *parser) further(t *Team) bool {
	save := p.i
	if p.at(0).is(",") {
		p.i++
	}
	if p.at(0).text == "ms" && p.at(1).text == "in" {
		p.i++
	}
	closing := p.opening() // Fabricius [ex Forsskål], 1775
	word := strings.TrimSuffix(p.at(0).text, ".")
	if p.at(0).kind != tokWord || word != "ex" && word != "in" && word != "emend" && word != "emended" {
		p.i = save
		return false
	}
	p.i++
	if word == "emended" && p.at(0).text == "by" {
		p.i++
	}
	who, with, ok := p.authors()
	if ok && closing != "" {
		ok = p.at(0).is(closing)
		p.i++
	}
	if !ok {
		p.i = save
		return false
	}
	year := p.year()
	switch word {
	case "ex":
		t.Ex = who
	case "in":
		t.In = who
	default:
		t.Emended = &Team{Authors: who, Year: year, With: with}
		p.warn(WarnYear)
		return true
	}
	p.warn(WarnExAuthors)
	if t.Year.Value == "" {
		t.Year = year
	}
	return true
}

// authors reads a list: A, B & C; A et al.; A apud B.
func (p *parser) authors() (list []string, with, ok bool) {
	a, ok := p.author()
	if !ok {
		return nil, false, false
	}
	list = append(list, a)
	for {
		save := p.i
		if p.etAl() {
			list[len(list)-1] += " et al."
			return list, with, true
		}
		apud, sep := p.separator()
		if !sep {
			break
		}
		next, ok := p.author()
		if !ok {
			p.i = save
			break
		}
		with = with || apud
		list = append(list, next)
	}
	return list, with, true
}

// separator reads what stands between two authors.
func (p *parser) separator() (apud, ok bool) {
	start := p.i
	if p.at(0).is(",") {
		p.i++
	}
	t := p.at(0)
	switch {
	case t.is("&"):
		p.i++
	case t.kind == tokWord && (t.text == "and" || t.text == "et" || t.text == "und" || t.text == "y" || t.text == "with"):
		p.i++
	case t.kind == tokWord && (t.text == "apud" || t.text == "apud."):
		p.i++
		apud = true
	}
	return apud, p.i > start
}

// etAl reads "et al.", "& al.", "and others".
func (p *parser) etAl() bool {
	k := 0
	if p.at(k).is(",") {
		k++
	}
	join := p.at(k)
	if !join.is("&") && join.text != "et" && join.text != "and" && join.text != "et." {
		return false
	}
	switch p.at(k + 1).text {
	case "al", "al.", "alii", "others", "alia", "aliorum":
		if p.at(k+1).text == "al" && p.at(k+2).kind == tokWord && isUpper(p.at(k+2).text) && join.text != "et" {
			return false // & al Bassri
		}
		p.i += k + 2
		return true
	}
	return false
}

// author reads one author: particles, initials and surnames in any order, and
// f. or jr. behind.
func (p *parser) author() (string, bool) {
	var b strings.Builder
	names := 0
	if anonymous(p.at(0)) {
		p.i++
		return "anon.", true
	}
	for {
		switch {
		case p.authorWord():
			p.add(&b, p.authorText(p.at(0).text))
			names++
		case names > 0 && p.bracketedInitials(&b):
		case names > 0 && p.filius():
			p.add(&b, "fil.")
			return b.String(), true
		case p.particleAhead():
			p.add(&b, p.at(0).text)
		default:
			return b.String(), names > 0
		}
	}
}

// anonymous recognises authors who are stated to be unknown; hort. (hortulanorum,
// "of the gardeners") is one of them.
func anonymous(t token) bool {
	switch t.text {
	case "anon.", "anon", "Anon.", "Anonymous", "ht.", "ht", "hort.", "hort", "auct.", "auct":
		return t.kind == tokWord
	}
	return false
}

// bracketedInitials reads "Berg [L. S.]", the manner of ichthyological catalogs,
// and writes the initials before the surname.
func (p *parser) bracketedInitials(b *strings.Builder) bool {
	if !p.at(0).is("[") {
		return false
	}
	k := 1
	var initials []string
	for t := p.at(k); t.dotted() && isUpper(t.text) && len(t.text) <= 4; t = p.at(k) {
		initials = append(initials, t.text)
		k++
	}
	if len(initials) == 0 || !p.at(k).is("]") {
		return false
	}
	p.i += k + 1
	surname := b.String()
	b.Reset()
	b.WriteString(strings.Join(initials, " ") + " " + surname)
	return true
}

// add appends a piece and consumes its token; "v." and "d." stay together when
// written so.
func (p *parser) add(b *strings.Builder, piece string) {
	if b.Len() > 0 {
		if prev := p.at(-1).text; !p.adjacent(0) || prev != "v." || p.at(0).text != "d." {
			b.WriteByte(' ')
		}
	}
	b.WriteString(piece)
	p.i++
}

// authorWord reports whether the next token is an initial or a surname.
func (p *parser) authorWord() bool {
	t := p.at(0)
	if t.kind != tokWord || strings.HasSuffix(t.text, "'") || strings.HasSuffix(t.text, "-") {
		return false
	}
	if isUpper(t.text) {
		if t.text == "X" && p.at(1).kind == tokWord { // a hybrid sign
			return false
		}
		if _, next := p.epithetAt(1); next && utf8.RuneCountInString(t.text) == 1 && !particle(p.at(1).text) {
			return false // a letter that numbers a variety
		}
		return true
	}
	return apostropheAuthor(t.text)
}

// apostropheAuthor recognises d'Orbigny, dell'Uomo, t'Hart.
func apostropheAuthor(w string) bool {
	pre, post, ok := strings.Cut(w, "'")
	return ok && pre != "" && len(pre) <= 5 && isLower(pre) && isUpper(post)
}

// particleAhead reports whether particles come next that a surname follows.
func (p *parser) particleAhead() bool {
	k := 0
	for p.at(k).kind == tokWord && particle(p.at(k).text) {
		k++
	}
	next := p.at(k)
	return k > 0 && next.kind == tokWord && (isUpper(next.text) || apostropheAuthor(next.text))
}

// filius reports whether the next token marks the younger of two namesakes. "f."
// before an epithet is a rank instead.
func (p *parser) filius() bool {
	t := p.at(0)
	switch t.text {
	case "fil.", "fil", "filius":
		return true
	case "f.", "f":
		_, epithet := p.epithetAt(1)
		return !epithet || particle(p.at(1).text)
	}
	return false
}

// authorText puts a surname in capitals into ordinary case.
func (p *parser) authorText(w string) string {
	letters, upper := 0, 0
	for _, r := range w {
		if unicode.IsLetter(r) {
			letters++
			if unicode.IsUpper(r) {
				upper++
			}
		}
	}
	if letters < 3 || upper < letters || strings.Contains(strings.TrimSuffix(w, "."), ".") {
		return w
	}
	p.warn(WarnCapitals)
	var b strings.Builder
	start := true
	for _, r := range w {
		if !start {
			r = unicode.ToLower(r)
		}
		b.WriteRune(r)
		start = r == '-' || r == '\''
	}
	return b.String()
}
