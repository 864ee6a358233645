package rights

import (
	"fmt"
	"slices"
	"strings"

	"platarium/server/rights/pathset"
)

// Request asks whether a grant could be made. Lists left empty ask for everything.
type Request struct {
	By                string
	Affiliates        []string // would be named in the grant
	Exclusivity       Exclusivity
	Scope             Scope
	Indivisible       bool // one edition, one open website: all or nothing
	SubjectToExisting bool // exclusivity is asked subject to the licences that exist
}

// Facts are what stands beside the grants. Works in each limit it to some works;
// none means every work asked about.
type Facts struct {
	Titles    []Title
	CoOwners  []CoOwned
	Sources   []Source
	Policies  []Approval
	Adverse   []Claim
	OwnUses   []Event // the studio's own uses, running or past
	Published []Event // publications that happened, by anybody
	Near      []Resemblance
}

// Title says who owns works that the studio does not.
type Title struct {
	ID    string
	Owner string
	Works []string
}

// CoOwned is a co-owner, whose consent is needed.
type CoOwned struct {
	ID, Role string
	Works    []string
	Consent  bool
}

// Source is what a picture was made from.
type Source struct {
	ID, Kind  string
	Works     []string
	FactsOnly bool   // drawn from for facts, which nobody owns; otherwise copied
	Free      bool   // public domain, or the studio's own
	Scope     *Scope // what the source's holder allows; nil if unknown
	Missing   string // what is missing while it is unknown, in words; empty if nothing is known at all
}

// Approval is a lender's policy that asks to be consulted.
type Approval struct {
	ID, Kind string
	Works    []string
	NeedsFor []string // purposes or media; "*" for anything
	Approved bool
}

// Claim is a rival claim to a work.
type Claim struct {
	ID    string
	Works []string
	Open  bool
}

// Event is a use that took place or goes on, with the scope it reached.
type Event struct {
	ID    string
	Scope Scope
}

// Resemblance is another work that a picture looks like. Another plate is another
// work, so it decides nothing; but a buyer of exclusivity may see it otherwise.
type Resemblance struct {
	Work  string // the picture asked about
	Other string // the one that it resembles
}

// Reason is one record that decides, with its ground. Text names nobody; Holder
// does, and is for the studio's own people only.
type Reason struct {
	ID     string
	Code   Code
	Text   string
	Holder string
}

// Answer is the answer to a request.
type Answer struct {
	Verdict  Verdict
	Code     Code
	By       []string // the deciding grants and records
	Reasons  []Reason // in the order of By
	Free     []Scope  // for Part: what is left, exactly; nothing of it is granted
	FreeText string   // for Part: the same in words
	Warnings []Reason // grants over pictures that the one asked about resembles; they decide nothing
}

// question is a request, read.
type question struct {
	Request
	axes   axes
	days   span
	works  []string // ids without parts, in the order asked
	places []string // territories as asked
	today  Day
}

func readRequest(r Request, today Day) (question, error) {
	q := question{Request: r, today: today}
	if len(r.Scope.Works) == 0 {
		return q, &FieldError{Field: "works", Wanted: "at least one work"}
	}
	var err error
	if q.axes, err = readAxes(r.Scope, Frozen{}, today.String(), everything); err != nil {
		return q, err
	}
	if q.places = r.Scope.Territory; len(q.places) == 0 {
		q.places = []string{"WORLD"}
	}
	q.days = span{wide.begin(r.Scope.From, today), wide.end(r.Scope.To, maxDay)}
	if q.days.empty() {
		return q, &FieldError{Field: "to", Found: r.Scope.To.String(), Wanted: "a day not before " + q.days.lo.String()}
	}
	for i, w := range r.Scope.Works {
		id, _, _ := strings.Cut(w, "#")
		switch {
		case id == "*":
			return q, &FieldError{Field: fmt.Sprintf("works[%d]", i), Found: w, Wanted: "the works by name"}
		case !strings.HasPrefix(id, "-") && !slices.Contains(q.works, id):
			q.works = append(q.works, id)
		}
	}
	return q, nil
}

// on is the question about one work.
func (q *question) on(work string) box {
	b := box{axes: q.axes, days: q.days}
	if len(q.works) > 1 {
		b.work = b.work.And(pathset.Parts.Of([]string{work}, nil))
	}
	return b
}

// inside reports whether the grant asked for would not shut a party out.
func (q *question) inside(party string) bool {
	return party == q.By || slices.Contains(q.Affiliates, party) || party == Studio && q.Exclusivity == Sole
}
