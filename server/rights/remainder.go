package rights

import (
	"slices"
	"strings"

	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// scopes writes boxes as scopes that read back exactly on the day of the question.
func (q *question) scopes(boxes []box) []Scope {
	var out []Scope
	for i := range boxes {
		out = append(out, boxes[i].scopes(q.placesOf(boxes[i].terr))...)
	}
	return out
}

// inWords describes boxes, mentioning only the axes on which they differ from what was asked.
func (q *question) inWords(boxes []box) string {
	texts := make([]string, len(boxes))
	for i := range boxes {
		texts[i] = q.words(&boxes[i])
	}
	return strings.Join(texts, "; and ")
}

// scopes writes a box as scopes, given its territories. More than one is needed
// only where an inclusion lies beneath a removal, which no single list can say.
func (b *box) scopes(places []string) []Scope {
	var out []Scope
	for _, work := range b.work.Layers() {
		for _, medium := range b.media.Layers() {
			for _, lang := range b.lang.Layers() {
				s := Scope{
					Works: list(pathset.Parts, work), Media: list(pathset.Dotted, medium),
					Territory: places, Languages: list(pathset.Tags, lang),
					From: b.days.lo.Date(), To: b.days.hi.Date(),
				}
				if b.purpose != anyPurpose {
					s.Purposes = b.purpose.names()
				}
				out = append(out, s)
			}
		}
	}
	return out
}

func list(h pathset.Hierarchy, s pathset.Set) []string {
	include, exclude, _ := s.Names(h)
	for _, e := range exclude {
		include = append(include, "-"+e)
	}
	return include
}

// words describes a box against what was asked.
func (q *question) words(b *box) string {
	var parts []string
	if !b.work.Equal(q.axes.work) {
		parts = append(parts, describeSet(pathset.Parts, b.work))
	}
	if !b.media.Equal(q.axes.media) {
		parts = append(parts, describeSet(pathset.Dotted, b.media))
	}
	if !b.terr.Equal(q.axes.terr) {
		parts = append(parts, describePlaces(q.placesOf(b.terr)))
	}
	if !b.lang.Equal(q.axes.lang) {
		parts = append(parts, describeSet(pathset.Tags, b.lang))
	}
	if b.purpose != q.axes.purpose {
		parts = append(parts, strings.Join(b.purpose.names(), ", "))
	}
	switch from, to := b.days.lo != q.days.lo, b.days.hi != q.days.hi; {
	case from && to:
		parts = append(parts, b.days.lo.String()+" to "+b.days.hi.String())
	case from:
		parts = append(parts, "from "+b.days.lo.String())
	case to:
		parts = append(parts, "to "+b.days.hi.String())
	}
	if len(parts) == 0 {
		return "everything asked"
	}
	return strings.Join(parts, ", ")
}

func describeSet(h pathset.Hierarchy, s pathset.Set) string {
	var texts []string
	for _, layer := range s.Layers() {
		include, exclude, _ := layer.Names(h)
		texts = append(texts, except(include, exclude))
	}
	return strings.Join(texts, ", and ")
}

func except(include, exclude []string) string {
	text := strings.Join(include, ", ")
	if len(exclude) > 0 {
		text += " except " + strings.Join(exclude, ", ")
	}
	return text
}

// placesOf lists what is left, or what was asked with what is missing, whichever
// is shorter. Groups as at signature are written out: the list must not move.
func (q *question) placesOf(s territory.Set) []string {
	gone := q.axes.terr.Minus(s)
	if len(q.places)+gone.Countries() >= s.Countries() || slices.Contains(q.places, "EU") || slices.Contains(q.places, "EEA") {
		return s.Codes()
	}
	missing := gone.Codes()
	if slices.ContainsFunc(missing, removes) { // a split country is not removed in one word
		return s.Codes()
	}
	out := make([]string, 0, len(q.places)+len(missing))
	out = append(out, q.places...)
	for _, code := range missing {
		out = append(out, "-"+code)
	}
	return out
}

func describePlaces(places []string) string {
	var include, exclude []string
	for _, code := range places {
		if removes(code) {
			exclude = append(exclude, code[1:])
		} else {
			include = append(include, code)
		}
	}
	return except(include, exclude)
}

func removes(code string) bool { return strings.HasPrefix(code, "-") }
