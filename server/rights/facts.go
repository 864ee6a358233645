package rights

import (
	"cmp"
	"fmt"

	"platarium/server/rights/pathset"
)

// facts are the facts of a question, read. Nothing is allocated when there are none.
type facts struct {
	*Facts
	own       []event
	published []event
	q         *question
}

type event struct {
	id  string
	box box
}

func readFacts(in *Facts, q *question) (facts, error) {
	f := facts{Facts: in, q: q}
	var err error
	if q.Exclusivity == Exclusive {
		if f.own, err = readEvents("own use", in.OwnUses); err != nil {
			return f, err
		}
	}
	if q.Exclusivity == FirstRights {
		if f.published, err = readEvents("publication", in.Published); err != nil {
			return f, err
		}
	}
	return f, nil
}

func readEvents(kind string, in []Event) ([]event, error) {
	out := make([]event, 0, len(in))
	for _, e := range in {
		a, err := readAxes(e.Scope, Frozen{}, wide.begin(e.Scope.From, 0).String(), everything)
		if err != nil {
			return nil, fmt.Errorf("%s %s: %w", kind, e.ID, err)
		}
		out = append(out, event{id: e.ID, box: box{axes: a, days: span{wide.begin(e.Scope.From, minDay), wide.end(e.Scope.To, maxDay)}}})
	}
	return out, nil
}

// concerns reports whether a fact limited to some works is about a set of works.
func concerns(works []string, asked pathset.Set) bool {
	return len(works) == 0 || asked.Meets(pathset.Parts.Of(works, nil))
}

// refuse notes what makes the request impossible for a work from the start: no
// title, or first rights in a scope where the work has been published.
func (f *facts) refuse(q *question, asked *box, t *tally) bool {
	refused := false
	for _, o := range f.Titles {
		if o.Owner != "" && o.Owner != Studio && concerns(o.Works, asked.work) {
			t.because(Reason{ID: o.ID, Code: NotOwner, Text: "the studio does not own it", Holder: o.Owner})
			refused = true
		}
	}
	for _, p := range f.published {
		scope := p.box
		if scope.days.lo > q.today {
			continue
		}
		scope.days = always() // what has appeared once can never be first again
		if asked.meets(&scope) {
			t.because(Reason{ID: p.id, Code: FirstUsed, Text: "already published there"})
			refused = true
		}
	}
	return refused
}

// consents notes the consents and permissions that a request still lacks.
func (f *facts) consents(q *question, t *tally) {
	for _, c := range f.CoOwners {
		if !c.Consent && concerns(c.Works, q.axes.work) {
			t.because(Reason{ID: c.ID, Code: CoOwner, Text: "a co-owner has not consented"})
		}
	}
	for _, s := range f.Sources {
		if concerns(s.Works, q.axes.work) {
			if text := q.sourceOpen(&s); text != "" {
				t.because(Reason{ID: s.ID, Code: Upstream, Text: text})
			}
		}
	}
	for _, p := range f.Policies {
		if p.Approved || !concerns(p.Works, q.axes.work) {
			continue
		}
		for _, word := range p.NeedsFor {
			if needs(q, word) {
				t.because(Reason{ID: p.ID, Code: Policy, Text: "approval is needed for " + word})
				break
			}
		}
	}
}

// claims notes the rival claims that are open.
func (f *facts) claims(t *tally) {
	for _, c := range f.Adverse {
		if c.Open && concerns(c.Works, f.q.axes.work) {
			t.because(Reason{ID: c.ID, Code: Adverse, Text: "a rival claim is open"})
		}
	}
}

// sourceOpen says why a source's permission does not cover the request, or "".
func (q *question) sourceOpen(s *Source) string {
	if s.FactsOnly || s.Free {
		return ""
	}
	if s.Scope == nil {
		return cmp.Or(s.Missing, "the permission of the source is unknown")
	}
	asked := box{axes: q.axes, days: q.days}
	if len(s.Works) > 0 {
		asked.work = asked.work.And(pathset.Parts.Of(s.Works, nil))
	}
	scope := *s.Scope
	if len(scope.Works) == 0 {
		scope.Works = []string{"*"}
	}
	a, err := readAxes(scope, Frozen{}, narrow.begin(scope.From, q.today).String(), nothing)
	if err != nil {
		return "the permission of the source cannot be read: " + err.Error()
	}
	allowed := box{axes: a, days: span{narrow.begin(scope.From, minDay), narrow.end(scope.To, maxDay)}}
	if left := minusAll([]box{asked}, []box{allowed}); len(left) > 0 {
		return "the permission of the source does not cover " + q.inWords(join(left))
	}
	return ""
}
