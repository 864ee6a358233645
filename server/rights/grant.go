package rights

import (
	"slices"

	"platarium/server/rights/money"
)

// Kind is what a grant is.
type Kind uint8

// The kinds of grant.
const (
	Licence    Kind = iota
	Sublicence      // lives inside the licence named by Head
	Assignment      // ownership passes
	Holdback        // a promise not to license; gives nothing
	Option          // option or first refusal: to be asked first
	Public          // a licence to everybody, such as Creative Commons; irrevocable
)

// Exclusivity is how far others are shut out of a licence's scope.
type Exclusivity uint8

// The degrees of exclusivity.
const (
	NonExclusive Exclusivity = iota
	Sole                     // only the licensor stays free
	Exclusive                // the licensor is shut out too, save for reserved media
	FirstRights              // everybody is shut out until the eve of first publication
)

// Status is how far a grant has come. Only Executed gives or blocks anything.
type Status uint8

// The states of a grant.
const (
	Draft Status = iota
	Offered
	Executed
	Void // rescinded from the beginning
)

// Mode says whom a holdback binds.
type Mode uint8

// The modes of a holdback.
const (
	ThirdParty Mode = iota // everybody but the beneficiary and the studio
	Everyone               // an embargo
)

// Scope is what a grant, a request or a use covers, as written. In every list
// an entry with a leading "-" removes, and removal always wins.
type Scope struct {
	Works     []string // id or id#part; "*" for all
	Media     []string // dotted paths; "*" for all known at signature
	Territory []string // ISO 3166-1 or -2, UN M49, WORLD, EU@date, EEA@date
	Languages []string // BCP 47, basic filtering; "*" for all, wordless (zxx) included
	Purposes  []string // commercial, noncommercial; none means both
	From, To  Date     // both included; no To means the legal term of copyright
}

// Frozen is the expansion of a scope as it was at signature. What a group or the
// vocabulary becomes later does not move it.
type Frozen struct {
	Territory []string // countries and subdivisions, "-" marking removals inside a country
	Media     []string // paths, "*" together with the media removed from it
	Tables    string   // versions of the tables used
}

// TermEvent is a term that hangs on an event: it ends on the day that many
// months after Date (that day included), and has no end while Date is absent.
type TermEvent struct {
	Anchor string // such as "first publication"
	Months int
	Date   Date
}

// Grant is one permission or promise. An absent field means "nothing agreed".
type Grant struct {
	ID          string
	To          string   // licensee, assignee, beneficiary or option holder
	Affiliates  []string // parties named in the grant beside the licensee; they may use and are not shut out
	Kind        Kind
	Exclusivity Exclusivity
	ExclusiveTo Date // last exclusive day; the licence goes on non-exclusively
	Scope       Scope
	Frozen      Frozen
	Reserved    []string // media kept by the studio out of an exclusive, for itself alone
	Term        *TermEvent

	FirstPublished Date // first rights: when the work appeared
	FirstDeadline  Date // first rights: last exclusive day if unpublished
	EmbargoUntil   Date // first day on which use may begin

	Status     Status
	Signed     Date
	Amends     string   // grant whose terms this one restates from Effective on
	Supersedes []string // grants that this one replaces from Effective on
	Effective  Date     // absent: the day of signature
	Ended      Date     // first day no longer in force: termination, reversion, kill fee
	EndReason  string
	SellOffTo  Date // after the end, existing stock may be distributed up to this day

	Head     string // sublicence: the grant it hangs on
	Survives bool   // sublicence: outlives its head by contract
	Mode     Mode   // holdback
	Until    Date   // option: last day on which it can be taken up
	URI      string // public licence

	SubjectTo []string // grants that this one yields to

	CopiesMax, CopiesDone int64 // printed copies agreed (0: no limit) and made so far
	UsesMax, UsesDone     int64 // uses agreed (0: no limit) and made so far
	Product               string
	Credit                string
	MayAlter              bool
	EvidenceDue           Date // voucher copy or other proof
	EvidenceReceived      Date
	PaymentCondition      bool // no permission before payment; exclusivity binds from signature
	Paid                  bool
	Fee                   money.Amount
}

// inForce reports whether the grant gives or blocks anything at all.
func (g *Grant) inForce() bool { return g.Status == Executed }

// permits reports whether grants of this kind let anybody use anything.
func (g *Grant) permits() bool {
	switch g.Kind {
	case Licence, Sublicence, Public:
		return true
	case Assignment:
		return g.To != Studio // ownership that comes home is no permission to the studio
	default:
		return false
	}
}

// shuts reports whether grants of this kind shut anybody out.
func (g *Grant) shuts() bool {
	switch g.Kind {
	case Licence, Sublicence:
		return g.Exclusivity != NonExclusive
	case Assignment:
		return g.To != Studio
	case Holdback:
		return true
	default:
		return false
	}
}

// names reports whether a party is the licensee or a named affiliate.
func (g *Grant) names(party string) bool {
	return party != "" && (g.To == party || slices.Contains(g.Affiliates, party))
}

// admits reports whether a party is not shut out by the grant's exclusivity.
// Sublicensees are admitted for the days of their sublicence, elsewhere.
func (g *Grant) admits(party string) bool {
	if g.Kind == Holdback && g.Mode == Everyone {
		return false
	}
	if g.names(party) {
		return true
	}
	return party == Studio && (g.Kind == Holdback || g.Kind != Assignment && g.Exclusivity == Sole)
}

// blockCode is the ground on which the grant shuts others out.
func (g *Grant) blockCode() Code {
	switch {
	case g.Kind == Assignment:
		return ByAssignment
	case g.Kind == Holdback && g.Mode == Everyone:
		return ByEmbargo
	case g.Kind == Holdback:
		return ByHoldback
	case g.Exclusivity == Sole:
		return BySole
	case g.Exclusivity == FirstRights:
		return ByFirst
	default:
		return ByExclusive
	}
}

// replaces lists the grants that this one amends or supersedes.
func (g *Grant) replaces() []string {
	if g.Amends == "" {
		return g.Supersedes
	}
	return append([]string{g.Amends}, g.Supersedes...)
}

// effective is the date from which an amendment or replacement governs.
func (g *Grant) effective() Date {
	switch {
	case !g.Effective.IsZero():
		return g.Effective
	case !g.Signed.IsZero():
		return g.Signed
	default:
		return g.Scope.From
	}
}
