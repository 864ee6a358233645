package rights

import (
	"fmt"
	"slices"
)

// LicensedUse judges a use over some grants. The error wraps a *FieldError.
func LicensedUse(u Use, grants []Grant, today Day) (Ruling, error) {
	b, err := NewBook(grants)
	if err != nil {
		return Ruling{}, err
	}
	return b.Licensed(u, today)
}

// candidate is a piece of a grant to the user, at whatever status.
type candidate struct {
	entry *entry
	piece piece
}

// Licensed judges a use: every tuple of it must lie in what the user's grants
// permit on the day, and their conditions must be met. Dates of grants are read
// narrowly; those of the use widely. The error is a *FieldError.
func (b *Book) Licensed(u Use, today Day) (Ruling, error) {
	return b.judge(&judged{use: &u}, today)
}

func (b *Book) judge(j *judged, today Day) (Ruling, error) {
	u := j.use
	q, err := readRequest(Request{By: u.By, Scope: u.Scope}, today)
	if err != nil {
		return Ruling{}, err
	}
	used := box{axes: q.axes, days: q.days}
	if u.By == Studio {
		return b.ownUse(&q), nil
	}
	all := b.candidates(&q)
	left := b.standing(all, used, 0, j)
	if len(left) > 0 {
		return Ruling{Verdict: NotLicensed, Code: Party, Text: axisSteps[0].text}, nil
	}
	for step := 1; step < len(axisSteps)+len(conditions); step++ {
		if left = b.standing(all, used, step, j); len(left) == 0 {
			continue
		}
		code, text := stepName(step)
		near := b.nearest(all, left, step-1, j)
		return Ruling{Verdict: NotLicensed, Code: code, By: []string{near.ID}, Text: detail(code, text, near, j, &q, left)}, nil
	}
	return b.relied(all, used, j, today), nil
}

func stepName(step int) (Code, string) {
	if step < len(axisSteps) {
		return axisSteps[step].code, axisSteps[step].text
	}
	c := conditions[step-len(axisSteps)]
	return c.code, c.text
}

// candidates are the pieces of the grants to the user over the works used, in the order of signature.
func (b *Book) candidates(q *question) []candidate {
	var mine []*entry
	for _, w := range q.works {
		for e := range b.on(w) {
			g := &e.grant
			if g.permits() && (g.Kind == Public || g.names(q.By)) && !slices.Contains(mine, e) {
				mine = append(mine, e)
			}
		}
	}
	slices.SortFunc(mine, inOrder)
	var out []candidate
	for _, e := range mine {
		for _, p := range b.pieces(e, narrow) {
			out = append(out, candidate{e, p})
		}
	}
	return out
}

// upTo is what a candidate covers when only the axes and conditions up to a step
// count; false if a condition fails. The version of the agreement always counts.
func (c *candidate) upTo(step int, j *judged) (box, bool) {
	got := box{axes: anyAxes(), days: always()}
	steps := [...]func(){
		func() { got.work = c.piece.work },
		func() { got.media = c.piece.media },
		func() { got.terr = c.piece.terr },
		func() { got.lang = c.piece.lang },
		func() { got.purpose = c.piece.purpose },
	}
	for i := range min(step+1, len(steps)) {
		steps[i]()
	}
	own := c.piece.own
	if j.use.Act == Distribute {
		own.end = max(own.end, own.sellOff)
	}
	for _, w := range append([]window{own}, c.piece.above...) {
		got.days = got.days.and(w.version)
		if step >= 5 {
			got.days.lo = max(got.days.lo, w.from)
		}
		if step >= 6 {
			got.days.hi = min(got.days.hi, w.end)
		}
		if step >= 7 {
			got.days.lo = max(got.days.lo, w.open)
		}
	}
	for i := range conditions {
		if step >= len(axisSteps)+i && !conditions[i].holds(c.entry, &c.piece, j) {
			return got, false
		}
	}
	return got, true
}

// standing is what of the use no candidate covers up to a step.
func (b *Book) standing(all []candidate, used box, step int, j *judged) []box {
	left := []box{used}
	for i := range all {
		if got, ok := all[i].upTo(step, j); ok {
			left = minusAll(left, []box{got})
		}
	}
	return left
}

// nearest is the first grant that covers something of what failed, as far as the step before.
func (b *Book) nearest(all []candidate, left []box, step int, j *judged) *Grant {
	for i := range all {
		got, ok := all[i].upTo(step, j)
		if ok && slices.ContainsFunc(left, func(l box) bool { return l.meets(&got) }) {
			return &all[i].entry.grant
		}
	}
	return &all[0].entry.grant
}

// relied names the grants that cover the use, without breach if that can be.
func (b *Book) relied(all []candidate, used box, j *judged, today Day) Ruling {
	last := len(axisSteps) + len(conditions) - 1
	clean, broken := []candidate{}, []candidate{}
	for _, c := range all {
		if breach(&c.entry.grant, j.use, today) == "" {
			clean = append(clean, c)
		} else {
			broken = append(broken, c)
		}
	}
	if by, ok := coverWith(clean, used, last, j); ok {
		return Ruling{Verdict: Licensed, Code: Clear, By: by, Text: "inside the grant"}
	}
	by, _ := coverWith(append(clean, broken...), used, last, j)
	r := Ruling{Verdict: Breach}
	for _, c := range broken {
		code := breach(&c.entry.grant, j.use, today)
		if !slices.Contains(by, c.entry.grant.ID) || slices.Contains(r.By, c.entry.grant.ID) {
			continue
		}
		r.By = append(r.By, c.entry.grant.ID)
		if r.Code != Credit {
			r.Code = code
		}
	}
	r.Text = breachText(r.Code)
	return r
}

// coverWith picks grants that together cover the use: the first that covers it
// alone, or else each in turn that adds something.
func coverWith(from []candidate, used box, step int, j *judged) ([]string, bool) {
	byGrant := map[string][]box{}
	var order []string
	for i := range from {
		if got, ok := from[i].upTo(step, j); ok {
			id := from[i].entry.grant.ID
			if byGrant[id] == nil {
				order = append(order, id)
			}
			byGrant[id] = append(byGrant[id], got)
		}
	}
	for _, id := range order {
		if len(minusAll([]box{used}, byGrant[id])) == 0 {
			return []string{id}, true
		}
	}
	left := []box{used}
	var by []string
	for _, id := range order {
		if !slices.ContainsFunc(left, func(l box) bool {
			return slices.ContainsFunc(byGrant[id], func(g box) bool { return l.meets(&g) })
		}) {
			continue
		}
		left = minusAll(left, byGrant[id])
		by = append(by, id)
	}
	return by, len(left) == 0
}

// breach is the duty that a use inside the grant fails, or "".
func breach(g *Grant, u *Use, today Day) Code {
	switch {
	case g.Credit != "" && !sameWords(g.Credit, u.Credit):
		return Credit
	case !g.EvidenceDue.IsZero() && g.EvidenceReceived.IsZero() && g.EvidenceDue.Last() < today:
		return Evidence
	default:
		return ""
	}
}

func breachText(c Code) string {
	if c == Credit {
		return "inside the grant, but the credit line is not the one agreed"
	}
	return "inside the grant, but the voucher copy or other proof is overdue"
}

// detail adds the figures to a failure.
func detail(c Code, text string, g *Grant, j *judged, q *question, left []box) string {
	switch c {
	case Overrun:
		made := j.made(g).Copies
		return fmt.Sprintf("%s: %d made and %d more exceed %d by %d", text, made, j.use.Copies, g.CopiesMax, made+j.use.Copies-g.CopiesMax)
	case Product:
		return fmt.Sprintf("%s: agreed %q, found %q", text, g.Product, j.use.Product)
	case Medium, Territory, Language, Purpose:
		if words := q.inWords(join(left)); words != everythingAsked {
			return text + ": " + words
		}
		return text
	default:
		return text
	}
}

// ownUse judges a use by the studio: it needs no grant, but must keep its promises.
func (b *Book) ownUse(q *question) Ruling {
	var t tally
	for _, w := range q.works {
		asked := q.on(w)
		for e := range b.on(w) {
			for _, shut := range e.against(Studio) {
				if asked.meets(&shut) {
					t.because(e.reason())
				}
			}
		}
	}
	if len(t.reasons) == 0 {
		return Ruling{Verdict: Licensed, Code: Clear, Text: "the studio's own work"}
	}
	a := conclude(NotLicensed, t.reasons)
	return Ruling{Verdict: NotLicensed, Code: a.Code, By: a.By, Text: t.reasons[0].Text}
}
