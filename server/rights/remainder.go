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

// inWords describes boxes, a clause each, so that none can be read into another. Axes on which all are as asked aren't mentioned; those on which one isn't are
// told of each.
func (q *question) inWords(boxes []box) string {
	var told mentioned
	for i := range boxes {
		told.note(q, &boxes[i])
	}
	texts := make([]string, len(boxes))
	for i := range boxes {
		texts[i] = q.words(&boxes[i], told)
	}
	return strings.Join(texts, "; also ")
}

// everythingAsked is what boxes are called that leave out nothing.
const everythingAsked = "everything asked"

// mentioned are the axes of which something is told.
type mentioned struct {
	work, media, terr, lang, purpose, days bool
}

func (m *mentioned) note(q *question, b *box) {
	m.work = m.work || !b.work.Equal(q.axes.work)
	m.media = m.media || !b.media.Equal(q.axes.media)
	m.terr = m.terr || !b.terr.Equal(q.axes.terr)
	m.lang = m.lang || !b.lang.Equal(q.axes.lang)
	m.purpose = m.purpose || b.purpose != q.axes.purpose
	m.days = m.days || b.days != q.days
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

// words describes a box on the axes of which something is told.
func (q *question) words(b *box, told mentioned) string {
	var parts []string
	add := func(told bool, text string) {
		if told {
			parts = append(parts, text)
		}
	}
	add(told.work, describeSet(pathset.Parts, b.work))
	add(told.media, describeSet(pathset.Dotted, b.media))
	add(told.terr, describePlaces(q.placesOf(b.terr)))
	add(told.lang, describeSet(pathset.Tags, b.lang))
	add(told.purpose, listed(b.purpose.names()))
	text := strings.Join(parts, ", ")
	switch when := q.when(b.days); {
	case told.days && when == "":
		text += ", at any time"
	case told.days && text == "":
		text = when
	case told.days:
		text += " " + when
	}
	if text == "" {
		return everythingAsked
	}
	return strings.TrimPrefix(text, ", ")
}

// when says which days of those asked; empty for all.
func (q *question) when(days span) string {
	switch from, to := days.lo != q.days.lo, days.hi != q.days.hi; {
	case from && to:
		return "from " + days.lo.String() + " to " + days.hi.String()
	case from:
		return "from " + days.lo.String()
	case to:
		return "to " + days.hi.String()
	default:
		return ""
	}
}

// listed joins words as people do.
func listed(words []string) string {
	if n := len(words); n > 1 {
		return strings.Join(words[:n-1], ", ") + " and " + words[n-1]
	}
	return strings.Join(words, "")
}

func describeSet(h pathset.Hierarchy, s pathset.Set) string {
	var texts []string
	for _, layer := range s.Layers() {
		include, exclude, _ := layer.Names(h)
		for i, name := range include {
			if name == "*" {
				include[i] = allOf(h)
			}
		}
		texts = append(texts, except(include, exclude))
	}
	return strings.Join(texts, ", and ")
}

func allOf(h pathset.Hierarchy) string {
	switch h {
	case pathset.Dotted:
		return "all media"
	case pathset.Tags:
		return "all languages"
	default:
		return "all works"
	}
}

func except(include, exclude []string) string {
	text := listed(include)
	if len(exclude) > 0 {
		text += " except " + listed(exclude)
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
