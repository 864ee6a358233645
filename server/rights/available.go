package rights

import (
	"slices"
	"strings"

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
		b.block(&q, &f, w, &t)
	}
	var a Answer
	switch {
	case len(t.reasons) == 0:
		a = b.open(&q, &f)
	case len(t.free) == 0 || q.Indivisible:
		a = conclude(No, t.reasons)
	default:
		a = conclude(Part, t.reasons)
		t.free = join(t.free)
		a.Free, a.FreeText = q.scopes(t.free), q.inWords(t.free)
	}
	a.Warnings = b.warnings(&q, &f)
	return a, nil
}

// warnings finds grants that would block the request if it were about the
// pictures that those asked about resemble.
func (b *Book) warnings(q *question, f *facts) []Reason {
	var t tally
	for _, n := range f.Near {
		if !concerns([]string{n.Work}, q.axes.work) {
			continue
		}
		id, _, _ := strings.Cut(n.Other, "#")
		asked := box{axes: q.axes, days: q.days}
		asked.work = pathset.Parts.Of([]string{n.Other}, nil)
		for e := range b.on(id) {
			for _, shut := range e.against(q.By) {
				if asked.meets(&shut) {
					r := e.reason()
					r.Text = n.Work + " resembles " + n.Other + ": " + r.Text
					t.because(r)
				}
			}
		}
	}
	return t.reasons
}

// tally gathers what blocks a request and what it leaves free.
type tally struct {
	reasons []Reason
	free    []box
	take    []box
}

func (t *tally) because(r Reason) {
	for _, old := range t.reasons {
		if old.ID == r.ID && old.Code == r.Code {
			return
		}
	}
	t.reasons = append(t.reasons, r)
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
				t.because(e.reason())
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
				t.because(Reason{ID: f.own[i].id, Code: OwnUse, Text: "the studio uses it itself", Holder: Studio})
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
		t.because(Reason{ID: e.grant.ID, Code: PublicLicence, Text: "everybody holds a public licence"})
		return
	}
	t.because(Reason{ID: e.grant.ID, Code: PriorNonExclusive, Text: "an earlier licence goes on", Holder: e.grant.To})
}

// reason says how a grant keeps others out, and until when.
func (e *entry) reason() Reason {
	r := Reason{ID: e.grant.ID, Code: e.grant.blockCode(), Holder: e.grant.To}
	r.Text = blockWords(r.Code)
	last := minDay
	for _, b := range e.effect.shuts {
		last = max(last, b.days.hi)
	}
	if last != maxDay {
		r.Text += " until " + last.String()
	}
	return r
}

func blockWords(c Code) string {
	switch c {
	case ByAssignment:
		return "assigned"
	case ByEmbargo:
		return "embargoed"
	case ByHoldback:
		return "held back"
	case BySole:
		return "sole licence"
	case ByFirst:
		return "first rights"
	default:
		return "exclusive"
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
func (b *Book) open(q *question, f *facts) Answer {
	var t tally
	f.consents(q, &t)
	for _, w := range q.works {
		asked := q.on(w)
		for e := range b.on(w) {
			if b.liveOption(e, q.today) && !e.grant.names(q.By) {
				offered := box{axes: e.axes, days: b.window(&e.grant, wide).span()}
				if asked.meets(&offered) {
					t.because(Reason{ID: e.grant.ID, Code: ByOption, Text: "to be offered to the holder of an option first", Holder: e.grant.To})
				}
			}
		}
	}
	f.claims(&t)
	if len(t.reasons) == 0 {
		return Answer{Verdict: Yes, Code: Clear}
	}
	return conclude(Check, t.reasons)
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

// needs reports whether a policy's word concerns a request: a purpose, a medium,
// "exclusive" for any kind of exclusivity, or anything else, which is taken to apply.
func needs(q *question, word string) bool {
	switch word {
	case "commercial":
		return q.axes.purpose&commercial != 0
	case "noncommercial":
		return q.axes.purpose&noncommercial != 0
	case "exclusive":
		return q.Exclusivity != NonExclusive
	}
	if media.Check(word) == nil && word != "*" {
		return q.axes.media.Meets(pathset.Dotted.Of([]string{word}, nil))
	}
	return true
}
