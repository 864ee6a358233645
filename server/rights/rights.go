// Package rights answers what may be licensed, what was licensed, and which
// grants contradict each other.
//
// A grant is a set of tuples (work, medium, territory, language, purpose, day).
// Every kind of grant says which tuples its licensee may use, which tuples other
// parties are shut out of, and which parties are not shut out. All answers follow
// from the exact algebra of such sets: nothing depends on a grant's name or on
// the order in which grants arrive.
//
// Invariants: removal ("-X") always wins; groups of territories and "*" of media
// are expanded at signature and stay as they were; imprecise dates are read
// widely where they protect another party and narrowly where they give
// permission; only executed grants give or block anything; conflict is symmetric;
// a grant made as an available request asked causes no conflict.
//
// The package is pure: no clock, no storage, no records of other packages. "Today"
// is an argument. A Book may be read by many goroutines while nobody changes it.
//
// Left out: the law. The conventions can be checked by hand; the signed agreement
// governs.
package rights

// Caution goes with every answer that people read.
const Caution = "This answer is computed from the grants on record. It is a record, not legal advice; the signed agreement governs."

// Studio names the licensor itself as a party: in Request.By, Use.By and Grant.To.
const Studio = "STUDIO"

// Verdict is an answer to one of the questions.
type Verdict string

// The answers: Yes to Check for availability, Licensed to Breach for a use that happened.
const (
	Yes         Verdict = "YES"
	No          Verdict = "NO"
	Part        Verdict = "PART"
	Check       Verdict = "CHECK"
	Licensed    Verdict = "LICENSED"
	NotLicensed Verdict = "NOT_LICENSED"
	Breach      Verdict = "BREACH"
)

// Code is the ground of an answer.
type Code string

// Clear is the ground of Yes and Licensed.
const Clear Code = "CLEAR"

// What blocks a request. When several do, the answer carries the first of this order.
const (
	NotOwner          Code = "NOT_OWNER"
	FirstUsed         Code = "FIRST_USED"
	ByExclusive       Code = "EXCLUSIVE"
	BySole            Code = "SOLE"
	ByFirst           Code = "FIRST"
	ByAssignment      Code = "ASSIGNED"
	ByHoldback        Code = "HOLDBACK"
	ByEmbargo         Code = "EMBARGO"
	PriorNonExclusive Code = "PRIOR_NONEXCLUSIVE"
	PublicLicence     Code = "PUBLIC_LICENCE"
	OwnUse            Code = "OWN_USE"
)

// What has to be asked before a request can be granted.
const (
	CoOwner  Code = "COOWNER"
	Upstream Code = "UPSTREAM"
	Policy   Code = "POLICY"
	ByOption Code = "OPTION"
	Adverse  Code = "ADVERSE"
)

// Where a use first falls outside its grants, and the breaches of a use inside them.
const (
	Party        Code = "PARTY"
	Medium       Code = "MEDIUM"
	Territory    Code = "TERRITORY"
	Language     Code = "LANGUAGE"
	Purpose      Code = "PURPOSE"
	NotYet       Code = "NOT_YET"
	Expired      Code = "EXPIRED"
	Embargo      Code = "EMBARGO"
	NotExecuted  Code = "STATUS"
	Unpaid       Code = "UNPAID"
	Product      Code = "PRODUCT"
	Overrun      Code = "OVERRUN"
	Consumed     Code = "CONSUMED"
	Modification Code = "MODIFICATION"
	Attribution  Code = "ATTRIBUTION"
	Credit       Code = "CREDIT"
	Evidence     Code = "EVIDENCE"
)

// blockOrder ranks the grounds of a refusal; the first that applies is the answer's code.
func blockOrder(c Code) int {
	for i, o := range [...]Code{NotOwner, FirstUsed, ByExclusive, BySole, ByFirst, ByAssignment, ByHoldback, ByEmbargo,
		PriorNonExclusive, PublicLicence, OwnUse, CoOwner, Upstream, Policy, ByOption, Adverse} {
		if o == c {
			return i
		}
	}
	return len(c) + 100
}
