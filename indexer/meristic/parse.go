package meristic

import (
	"fmt"
	"unicode/utf8"
)

// Options tells Parse what the string itself may leave out. The zero value assumes
// nothing.
type Options struct {
	// Character is what the string counts where it doesn't say: the column of a table
	// or the field of a form. A character named in the string wins.
	Character Character
	// SoftRayed says that the fish belongs to a group without true spines in dorsal
	// and anal fins (see SoftRayedFamily): capital numerals are then unbranched rays,
	// A7 of the notation.
	SoftRayed bool
	// Strict turns every repair of a misprint into an error.
	Strict bool
}

// Parse reads the counts in s. Err is nil, ErrTooLong, ErrNoCount, or an *Error that
// names each column where something stands that cannot be meant; what could be read
// is in the Result in every case.
func Parse(s string, opt Options) (Result, error) {
	res, err := parse(s, opt, 0)
	if err != nil {
		return res, err
	}
	for i := range res.Alternatives {
		alt := &res.Alternatives[i]
		other, otherErr := parse(s, opt, 1<<alt.Reading)
		if otherErr == nil {
			alt.Statements = other.Statements
		}
	}
	return res, nil
}

// parse reads s once. force holds the readings (as bits) to be taken where the
// notation leaves a choice.
func parse(s string, opt Options, force uint32) (Result, error) {
	if len(s) > MaxInput {
		return Result{}, fmt.Errorf("%w: %d bytes, at most %d", ErrTooLong, len(s), MaxInput)
	}
	if opt.Character >= characterCount {
		opt.Character = NoCharacter
	}
	p := parser{src: s, opt: opt, force: force}
	p.tokens = lex(s, make([]token, 0, min(len(s)/2+4, 64)))
	p.terms = make([]term, 0, 6)
	p.items = make([]item, 0, 3)
	p.scan()
	p.bind()
	return p.finish()
}

// parser holds one reading of one string: tokens, then terms (single counts with
// what is attached to them), then items (one formula with the words around it), then
// statements.
type parser struct {
	src    string
	opt    Options
	force  uint32
	tokens []token
	at     int
	terms  []term
	aux    []Interval // bracketed counts of terms
	items  []item
	res    Result
	faults []Fault

	// state of scan
	pre     pre
	clause  int
	stack   []frame
	inner   int  // the item that an open bracket belongs to, or -1
	labeled bool // some character was named by its abbreviation
	reading bool // inside a formula, behind its first term

	header       feature // of the clause headerClause: "Spines: dorsal 10, anal 3"
	headerClause int

	// state of bind
	cur        Character
	bracketsAs Reading // how (n) after a count is read: frequency or rare value
	it         *item   // the item being read
	itemIndex  int
	touches    []touch
	parts      []part    // room for the fins of one alternative
	lastChar   Character // of the count put last
	lastElem   Element
}

// finish sorts out what came of it.
func (p *parser) finish() (Result, error) {
	if len(p.faults) > 0 {
		sortFaults(p.faults)
		return p.res, &Error{Faults: p.faults}
	}
	if len(p.res.Statements) == 0 {
		return p.res, ErrNoCount
	}
	if p.opt.Strict && len(p.res.Warnings) > 0 {
		for _, w := range p.res.Warnings {
			p.faults = append(p.faults, Fault{Column: w.Column, Found: w.Text, Want: "a formula without repair"})
		}
		return p.res, &Error{Faults: p.faults}
	}
	return p.res, nil
}

func sortFaults(f []Fault) {
	for i := 1; i < len(f); i++ {
		for j := i; j > 0 && f[j].Column < f[j-1].Column; j-- {
			f[j], f[j-1] = f[j-1], f[j]
		}
	}
}

// column turns a byte offset into a column in characters, from 1.
func (p *parser) column(pos int32) int {
	return utf8.RuneCountInString(p.src[:pos]) + 1
}

// remarksMost bounds faults and warnings of one input: past it nobody reads on.
const remarksMost = 50

func (p *parser) fault(pos int32, want, found string, args ...any) {
	if len(p.faults) >= remarksMost {
		return
	}
	p.faults = append(p.faults, Fault{Column: p.column(pos), Found: fmt.Sprintf(found, args...), Want: want})
}

func (p *parser) warn(pos int32, format string, args ...any) {
	if len(p.res.Warnings) >= remarksMost {
		return
	}
	n := Note{Column: p.column(pos), Text: fmt.Sprintf(format, args...)}
	for _, w := range p.res.Warnings {
		if w == n {
			return // words are read twice where they turn out to belong to the next count
		}
	}
	p.res.Warnings = append(p.res.Warnings, n)
}

func (p *parser) assume(pos int32, format string, args ...any) {
	if len(p.res.Assumptions) >= remarksMost {
		return
	}
	p.res.Assumptions = append(p.res.Assumptions, Note{Column: p.column(pos), Text: fmt.Sprintf(format, args...)})
}

// choose settles an open reading: usual unless other was forced, and reports the
// other one as an alternative.
func (p *parser) choose(pos int32, usual, other Reading, text string) Reading {
	if p.force&(1<<other) != 0 {
		return other
	}
	if p.force == 0 {
		for i := range p.res.Alternatives {
			if p.res.Alternatives[i].Reading == other {
				return usual // one whole other reading is enough
			}
		}
		p.res.Alternatives = append(p.res.Alternatives, Alternative{Column: p.column(pos), Reading: other, Text: text})
	}
	return usual
}

func (p *parser) tok() *token { return &p.tokens[p.at] }

func (p *parser) peek(n int) *token {
	if p.at+n >= len(p.tokens) {
		return &p.tokens[len(p.tokens)-1]
	}
	if p.at+n < 0 {
		return &p.tokens[len(p.tokens)-1]
	}
	return &p.tokens[p.at+n]
}

func (p *parser) text(t *token) string { return p.src[t.pos:t.end] }
