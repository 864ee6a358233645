package meristic

import (
	"errors"
	"fmt"
	"strings"
)

// MaxInput is the longest string Parse accepts, in bytes. A description's counts
// fit many times over; anything longer is not a formula.
const MaxInput = 16 << 10

// ErrTooLong means that the input exceeds MaxInput: the caller cuts out the counts.
var ErrTooLong = errors.New("meristic: input too long for a count formula")

// ErrNoCount means that nothing in the input is a count: the caller keeps the text
// as a note.
var ErrNoCount = errors.New("meristic: no count found")

// Result is what a string was read as.
type Result struct {
	Statements   []Statement
	Assumptions  []Note        // readings taken by rule, e.g. "the half holds for both ends"
	Warnings     []Note        // damage repaired or doubts to look at
	Alternatives []Alternative // other readings that the notation allows
}

// Statement finds the first statement of a character.
func (r *Result) Statement(c Character) (*Statement, bool) {
	for i := range r.Statements {
		if r.Statements[i].Character == c {
			return &r.Statements[i], true
		}
	}
	return nil, false
}

// Note is a remark at a column.
type Note struct {
	Column int // in characters, from 1
	Text   string
}

func (n Note) String() string { return fmt.Sprintf("column %d: %s", n.Column, n.Text) }

// Alternative is another reading of the same string, whole. Its Statements are empty
// where that reading turns out to be impossible further on.
type Alternative struct {
	Column     int
	Reading    Reading
	Text       string // what differs, e.g. "the bracketed 3 may be a number of specimens"
	Statements []Statement
}

// Reading names a choice that the notation leaves open.
type Reading uint8

// The open choices; numbers refer to the ambiguities of the notation's description.
const (
	ReadRomanHyphenSeparates Reading = iota + 1 // A3: I-II as two fins, not as a range
	ReadRomanHyphenRange                        //
	ReadBracketFrequency                        // A1: 12(3) is 12 in three specimens
	ReadBracketRare                             // A1: 12(3) is 12, rarely 3
	ReadBracketParatypes                        // A2: 14(13-15) is holotype (paratypes)
	ReadCapitalUnbranched                       // A7: III,8 has three unbranched rays
	ReadCapitalSpine                            //
	ReadHyphenTransverse                        // A3: 6-12 is above-below
	ReadHyphenRange                             //
	ReadPlusCaudalBase                          // A4: 45+3 has three scales on the caudal base
	ReadPlusInterrupted                         // A4: 17+7 is an interrupted line
	ReadLabelVertebrae                          // A8: V is vertebrae
	ReadLabelPelvic                             //
	ReadOneFin                                  // VII,9 is one fin
	ReadTwoFins                                 // VII,9 is two fins
	ReadLowerFirst                              // A9: rakers lower limb first
)

// Error is what cannot be meant. The statements read before and after it stand in
// the Result all the same.
type Error struct {
	Faults []Fault // in order of columns, at least one
}

// Fault is one impossibility: where, what was found, what is wanted.
type Fault struct {
	Column int // in characters, from 1
	Found  string
	Want   string
}

func (f Fault) String() string {
	return fmt.Sprintf("column %d: %s; wanted %s", f.Column, f.Found, f.Want)
}

// Error lists all faults.
func (e *Error) Error() string {
	parts := make([]string, len(e.Faults))
	for i, f := range e.Faults {
		parts[i] = f.String()
	}
	return "meristic: " + strings.Join(parts, "; ")
}
