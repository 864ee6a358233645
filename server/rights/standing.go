package rights

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// State is the standing of a work in one word, to search by.
type State string

// The states, from the most to the least that can still be sold.
const (
	Free         State = "free"       // nothing granted, nothing promised
	Granted      State = "licensed"   // non-exclusive licences run; anything but exclusivity can be sold
	OpenLicences State = "open"       // a public licence runs: no exclusivity is left within it, ever
	Limited      State = "restricted" // somebody is promised exclusivity in some scope, now or later
	Assigned     State = "assigned"   // owned by another in some scope
)

// Standing is what can be said of a work in a line. It names no party.
type Standing struct {
	State State
	Text  string // such as "exclusive until 2027-03-31 in DE"
}

// Standing says how a work stands on a day and after, for lists of search
// results: the strongest promise first, and how many more there are.
func (b *Book) Standing(work string, today Day) Standing {
	var promises []promise
	running, public, option := false, false, ""
	for e := range b.on(work) {
		for i := range e.effect.shuts {
			if x := &e.effect.shuts[i]; x.days.hi >= today {
				promises = append(promises, promise{e, x})
			}
		}
		for i := range e.effect.permits {
			if p := &e.effect.permits[i]; p.days.hi >= today {
				public = public || e.grant.Kind == Public
				running = true
			}
		}
		if b.liveOption(e, today) {
			option = "; option open" + until(wide.end(e.grant.Until, maxDay))
		}
	}
	switch {
	case len(promises) > 0:
		s := strongest(promises, work, today)
		s.Text += option
		return s
	case public:
		return Standing{OpenLicences, "open licences only" + option}
	case running:
		return Standing{Granted, "licensed, not exclusively" + option}
	default:
		return Standing{Free, "free" + option}
	}
}

// promise is one box that a grant shuts others out of.
type promise struct {
	*entry
	box *box
}

func strongest(all []promise, work string, today Day) Standing {
	slices.SortStableFunc(all, func(x, y promise) int {
		return cmp.Or(cmp.Compare(rankOf(x, today), rankOf(y, today)), cmp.Compare(y.box.days.hi, x.box.days.hi))
	})
	p := all[0]
	s := Standing{State: Limited}
	code := p.grant.blockCode()
	if code == ByAssignment {
		s.State = Assigned
	}
	parts := []string{blockWords(code)}
	if p.box.days.lo > today {
		parts = append(parts, "from "+p.box.days.lo.String())
	}
	if t := until(p.box.days.hi); t != "" {
		parts = append(parts, strings.TrimPrefix(t, " "))
	}
	if where := places(p.box.terr); where != "" {
		parts = append(parts, "in "+where)
	}
	if !p.box.media.IsAll() {
		parts = append(parts, "for "+describeMedia(p.box))
	}
	if part := partOf(p.box, work); part != "" {
		parts = append(parts, "("+part+" only)")
	}
	s.Text = strings.Join(parts, " ")
	if others := countGrants(all) - 1; others > 0 {
		s.Text += fmt.Sprintf(", and %d more", others)
	}
	return s
}

// partOf names the parts of the work that a box is limited to, or "".
func partOf(b *box, work string) string {
	this := pathset.Parts.Of([]string{work}, nil)
	if b.work.HasName(pathset.Parts, work) {
		return ""
	}
	include, _, _ := b.work.And(this).Names(pathset.Parts)
	for i := range include {
		include[i] = strings.TrimPrefix(include[i], work+"#")
	}
	return strings.Join(include, ", ")
}

// rankOf puts what binds today before what will, and ownership before exclusivity before holdbacks.
func rankOf(p promise, today Day) int {
	rank := 0
	switch p.grant.blockCode() {
	case ByEmbargo, ByAssignment:
	case ByExclusive:
		rank = 1
	case BySole:
		rank = 2
	case ByFirst:
		rank = 3
	default:
		rank = 4
	}
	if p.box.days.lo > today {
		rank += 5
	}
	return rank
}

func countGrants(all []promise) int {
	ids := map[string]bool{}
	for _, p := range all {
		ids[p.grant.ID] = true
	}
	return len(ids)
}

func until(d Day) string {
	if d == maxDay {
		return ""
	}
	return " until " + d.String()
}

// places names a set of places briefly: nothing for the world, codes while they are few.
func places(s territory.Set) string {
	if s.IsWorld() {
		return ""
	}
	if name, ok := s.Group(); ok {
		return name
	}
	codes := s.Codes()
	if len(codes) <= 4 {
		return strings.Join(codes, ", ")
	}
	if rest := territory.All().Minus(s).Codes(); len(rest) <= 4 {
		return "WORLD except " + strings.Join(rest, ", ")
	}
	return fmt.Sprintf("%s and %d more places", strings.Join(codes[:3], ", "), len(codes)-3)
}

func describeMedia(b *box) string {
	text := describeSet(pathset.Dotted, b.media)
	if strings.HasPrefix(text, "* except ") {
		return "all media" + strings.TrimPrefix(text, "*")
	}
	return text
}
