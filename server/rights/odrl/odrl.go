// Package odrl writes a grant as an ODRL 2.2 policy in JSON-LD, for the rights systems of others.
//
// Invariants: pure; the same grant gives the same bytes; every rule has one action, a target, an assigner and an assignee of its own (an offer may lack the
// assignee); actions, operators and operands are those of ODRL 2.2 or of the profile below; what the paper doesn't say isn't made up.
//
// # The profile
//
// ODRL has no words for some things that pictures are licensed by. Its policies name the profile urn:x-platarium:odrl:1 for them; its terms, plt: in
// the files, stand under the same URN after another colon.
//
//   - exclusivity says of a grant non-exclusive, sole, exclusive or first-rights. ODRL's duty ensureExclusivity is laid on the studio for the last two, the
//     prohibition grantUse for the second; the term says which was agreed. firstPublication is the event that ends first rights.
//   - holdback, on a policy without permission: third-party (the studio may not license to others) or all (nor use the picture itself).
//   - offerFirst is an action, part of odrl:use: to offer the rights to the assignee before others.
//   - amends, supersedes, subjectTo, head, survivesHead and effectiveOn tie one policy to others, since ODRL judges each on its own.
//   - copy and publication are units of odrl:count. runAcross says that the count runs over all uses under the grant, not over each.
//   - reservedMedia, works, sellOffTo, termAnchor, endedOn, creditLine, publicLicence, signedOn and name are what they say. without takes assets out of a
//     collection. tables is the version of the tables by which groups of countries were expanded.
//   - media, places, purposes and currencies are urn:x-platarium:media:print.book, territory:DE (ISO 3166-1, -2, or UN M49), purpose:commercial and
//     currency:EUR (ISO 4217); a medium takes in those below it. Records are urn:x-platarium: and their name in the archive.
//
// Left out: reading ODRL, evaluating it, and notes, documents and payments of the studio.
package odrl

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"

	"platarium/server/rights"
)

// Context is ODRL's own JSON-LD context (W3C Recommendation ODRL Vocabulary & Expression 2.2, 15 February 2018).
const Context = "http://www.w3.org/ns/odrl.jsonld"

// Profile names the profile described above; its terms follow after a colon.
const Profile = "urn:x-platarium:odrl:1"

// ErrNotAgreed: a draft or void grant binds nobody and has no policy. The caller says so.
var ErrNotAgreed = errors.New("grant is neither offered nor executed; only those can be exported")

// Status says how far a grant has come.
type Status int

// Statuses that have a policy; the zero Status has none.
const (
	Offered  Status = iota + 1 // an Offer
	Executed                   // an Agreement
)

// Party is one side of a grant.
type Party struct {
	Name  string // resource name, such as parties/reed-press
	Label string // what it is called; may be empty
}

// Grant is what of a grant goes into a policy. Dates are EDTF level 0, as in rights; names are resource names.
type Grant struct {
	Name        string
	Status      Status
	Kind        rights.Kind // the zero Kind is a licence
	Exclusivity rights.Exclusivity
	ExclusiveTo string
	Studio      Party   // who gives
	Licensees   []Party // to whom; none for a public licence

	Works, Media, Territories, Languages, Purposes []string // as in a scope: -X takes out
	Tables                                         string
	From, To, EmbargoUntil, SelloffTo, EndedOn     string
	ReservedMedia                                  []string
	AlterationAllowed                              bool
	CopiesMax, UsesMax                             int64
	Product, CreditLine, SignedOn                  string
	FeeAmount, FeeCurrency                         string // decimal and ISO 4217
	PaymentFirst                                   bool
	EvidenceDueOn                                  string
	FirstPublishedOn, FirstPublicationDeadline     string
	HoldbackMode, OptionUntil, PublicLicence       string
	TermAnchor                                     string // the event from which the term counts
	TermMonths                                     int
	Amends, Supersedes, Head, EffectiveOn          string
	SurvivesHead                                   bool
	SubjectTo                                      []string
}

// object is a JSON-LD object; encoding/json sorts its keys.
type object = map[string]any

// Marshal writes the policy of a grant, indented, ending in a line feed. The error is ErrNotAgreed, or says which date can't be read.
func Marshal(g Grant) ([]byte, error) {
	if g.Status != Offered && g.Status != Executed {
		return nil, ErrNotAgreed
	}
	w := writer{g: g}
	policy := w.policy()
	if w.err != nil {
		return nil, fmt.Errorf("write %s as ODRL: %w", g.Name, w.err)
	}
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	if err := enc.Encode(policy); err != nil {
		return nil, fmt.Errorf("write %s as ODRL: %w", g.Name, err)
	}
	return b.Bytes(), nil
}
