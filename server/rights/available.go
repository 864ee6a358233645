package rights

import (
	"cmp"
	"fmt"
	"slices"

	"platarium/server/rights/media"
	"platarium/server/rights/pathset"
)

// Available reports whether a grant could be made, over some grants. For more
// than one question over the same grants use a Book. The error wraps a *FieldError.
func Available(r Request, grants []Grant, facts Facts, today Day) (Answer, error) {
	b, err := NewBook(grants)
	if err != nil {
		return Answer{}, err
	}
	return b.Available(r, facts, today)
}

// Available reports whether a grant could be made: what is blocked first, then
// what has to be asked. Facts are those of the works asked about. The error is a *FieldError.
func (b *Book) Available(r Request, facts Facts, today Day) (Answer, error) {
	q, err := readRequest(r, today)
	if err != nil {
		return Answer{}, err
	}
	f, err := readFacts(&facts, &q)
	if err != nil {
		return Answer{}, err
	}
	t := tally{}
	for _, w := range q.works {
		b.block(&q, f, w, &t)
	}
	switch {
	case len(t.reasons) == 0:
		return b.open(&q, f)
	case len(t.free) == 0 || q.Indivisible:
		return conclude(No, t.reasons), nil
	default:
		a := conclude(Part, t.reasons)
		a.Free, a.FreeText = describeFree(&q, join(t.free))
		return a, nil
	}
}

// tally gathers what blocks a request and what it leaves free.
type tally struct {
	reasons []Reason
	free    []box
	take    []box
}

func (t *tally) because(id string, c Code, text string) {
	for _, r := range t.reasons {
		if r.ID == id && r.Code == c {
			return
		}
	}
	t.reasons = append(t.reasons, Reason{ID: id, Code: c, Text: text})
}

// block finds what of one work is blocked, and adds the rest to what is free.
func (b *Book) block(q *question, f *facts, work string, t *tally) {
	asked := q.on(work)
	if f.refuse(q, &asked, t) {
		return
	}
	t.take = t.take[:0]
	for e := range b.on(work) {
		shut := e.against(q.By)
		for i := range shut {
			if asked.meets(&shut[i]) {
				t.take = append(t.take, shut[i])
				t.because(e.grant.ID, e.grant.blockCode(), e.describeShut())
			}
		}
		if q.Exclusivity == NonExclusive || q.SubjectToExisting || len(e.effect.permits) == 0 || q.inside(e.grant.To) {
			continue
		}
		for i := range e.effect.permits {
			if p := &e.effect.permits[i]; asked.meets(p) {
				t.take = append(t.take, *p)
				t.prior(e)
			}
		}
	}
	if q.Exclusivity == Exclusive && !q.SubjectToExisting {
		for i := range f.own {
			if asked.meets(&f.own[i].box) {
				t.take = append(t.take, f.own[i].box)
				t.because(f.own[i].id, OwnUse, "the studio uses it itself")
			}
		}
	}
	if len(t.take) == 0 {
		t.free = append(t.free, asked)
	} else {
		t.free = append(t.free, minusAll([]box{asked}, t.take)...)
	}
}

// prior notes a licence that would go on beside the exclusivity asked for,
// unless the grant already blocks by its own exclusivity.
func (t *tally) prior(e *entry) {
	for _, r := range t.reasons {
		if r.ID == e.grant.ID {
			return
		}
	}
	if e.grant.Kind == Public {
		t.because(e.grant.ID, PublicLicence, "everybody holds a public licence")
		return
	}
	t.because(e.grant.ID, PriorNonExclusive, "an earlier licence of "+e.grant.To+" goes on")
}

// describeShut says who keeps others out, and until when.
func (e *entry) describeShut() string {
	until := ""
	if hi := e.effect.shuts[len(e.effect.shuts)-1].days.hi; hi != maxDay {
		until = " until " + hi.String()
	}
	switch e.grant.blockCode() {
	case ByAssignment:
		return "assigned to " + e.grant.To + until
	case ByEmbargo:
		return "embargo" + until
	case ByHoldback:
		return "held back for " + cmp.Or(e.grant.To, "the studio") + until
	case BySole:
		return "sole licence of " + e.grant.To + until
	case ByFirst:
		return "first rights of " + e.grant.To + until
	default:
		return "exclusive of " + e.grant.To + until
	}
}

// conclude makes an answer of its reasons: the code is the first ground in rank.
func conclude(v Verdict, reasons []Reason) Answer {
	a := Answer{Verdict: v, Reasons: reasons}
	for _, r := range reasons {
		if !slices.Contains(a.By, r.ID) {
			a.By = append(a.By, r.ID)
		}
		if a.Code == "" || blockOrder(r.Code) < blockOrder(a.Code) {
			a.Code = r.Code
		}
	}
	return a
}

// open finds what has to be asked about a request that nothing blocks.
func (b *Book) open(q *question, f *facts) (Answer, error) {
	var t tally
	f.consents(q, &t)
	for _, w := range q.works {
		asked := q.on(w)
		for e := range b.on(w) {
			if b.liveOption(e, q.today) && !e.grant.names(q.By) {
				offered := box{axes: e.axes, days: b.window(&e.grant, wide).span()}
				if asked.meets(&offered) {
					t.because(e.grant.ID, ByOption, "to be offered to "+e.grant.To+" first")
				}
			}
		}
	}
	f.claims(&t)
	if len(t.reasons) == 0 {
		return Answer{Verdict: Yes, Code: Clear}, nil
	}
	return conclude(Check, t.reasons), nil
}

// liveOption reports whether an option can still be taken up.
func (b *Book) liveOption(e *entry, today Day) bool {
	g := &e.grant
	if g.Kind != Option || !g.inForce() {
		return false
	}
	w := b.window(g, wide)
	return today <= wide.end(g.Until, maxDay) && today <= w.end && today <= w.version.hi && today >= w.version.lo
}

// needs reports whether a policy's word (a purpose, a medium, or anything else,
// which is taken to apply) concerns a request.
func needs(q *question, word string) bool {
	switch word {
	case "commercial":
		return q.axes.purpose&commercial != 0
	case "noncommercial":
		return q.axes.purpose&noncommercial != 0
	}
	if media.Check(word) == nil && word != "*" {
		return q.axes.media.Meets(pathset.Dotted.Of([]string{word}, nil))
	}
	return true
}

// limited names the works of a fact in its error.
func limited(kind, id string, err error) error {
	return fmt.Errorf("%s %s: %w", kind, id, err)
}
