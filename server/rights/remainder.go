package rights

import (
	"strings"

	"platarium/server/rights/pathset"
	"platarium/server/rights/territory"
)

// describeFree writes boxes as scopes that read back exactly, and in words that
// mention only the axes on which they differ from what was asked.
func describeFree(q *question, boxes []box) ([]Scope, string) {
	var scopes []Scope
	var texts []string
	for i := range boxes {
		scopes = append(scopes, boxes[i].scopes()...)
		texts = append(texts, q.words(&boxes[i]))
	}
	return scopes, strings.Join(texts, "; and ")
}

// scopes writes a box as scopes. More than one is needed only where an
// inclusion lies beneath a removal, which no single list can say.
func (b *box) scopes() []Scope {
	var out []Scope
	for _, work := range b.work.Layers() {
		for _, medium := range b.media.Layers() {
			for _, lang := range b.lang.Layers() {
				s := Scope{
					Works: list(pathset.Parts, work), Media: list(pathset.Dotted, medium),
					Territory: b.terr.Codes(), Languages: list(pathset.Tags, lang),
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
		parts = append(parts, q.describePlaces(b.terr))
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

// describePlaces lists what is left, or what was asked with what is missing, whichever is shorter.
func (q *question) describePlaces(s territory.Set) string {
	asked := q.Scope.Territory
	if len(asked) == 0 {
		asked = []string{"WORLD"}
	}
	var left []string
	if gone := q.axes.terr.Minus(s); len(asked)+gone.Countries() < s.Countries() {
		left = asked
		for _, code := range gone.Codes() {
			if removes(code) { // a split country is not removed in one word
				left = nil
				break
			}
			left = append(left[:len(left):len(left)], "-"+code)
		}
	}
	if left == nil {
		left = s.Codes()
	}
	var include, exclude []string
	for _, code := range left {
		if removes(code) {
			exclude = append(exclude, code[1:])
		} else {
			include = append(include, code)
		}
	}
	return except(include, exclude)
}

func removes(code string) bool { return strings.HasPrefix(code, "-") }
