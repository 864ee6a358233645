package odrl

import (
	"strings"

	"platarium/server/rights"
)

// writer gathers a policy; err is the first date that couldn't be read.
type writer struct {
	g   Grant
	err error
}

// urn is the IRI of something of the archive's.
func urn(name string) string { return "urn:x-platarium:" + name }

func ref(iri string) object { return object{"@id": iri} }

// ownContext adds the profile's prefix to ODRL's context, and two terms that some of its editions lack: a processor drops in silence what it has no term for.
func ownContext() object {
	return object{
		"plt": Profile + ":", "obligation": object{"@id": "http://www.w3.org/ns/odrl/2/obligation", "@type": "@id"}, "AssetCollection": "http://www.w3.org/ns/odrl/2/AssetCollection",
	}
}

func (w *writer) policy() object {
	g := w.g
	p := object{
		"@context": []any{Context, ownContext()},
		"@type":    "Agreement", "uid": urn(g.Name), "profile": Profile,
	}
	if g.Status == Offered || g.Kind == rights.Public {
		p["@type"] = "Offer"
	}
	var permissions, prohibitions, obligations []object
	switch g.Kind {
	case rights.Holdback:
		p["plt:holdback"] = g.HoldbackMode
		prohibitions = append(prohibitions, w.onStudio("grantUse"))
		if g.HoldbackMode == "all" {
			prohibitions = append(prohibitions, w.onStudio("use"))
		}
	case rights.Option:
		offer := w.onStudio("plt:offerFirst")
		w.limit(offer, w.day("lteq", g.OptionUntil, true))
		obligations = append(obligations, offer)
	default:
		permissions = w.permissions()
		prohibitions, obligations = w.exclusivity()
		if !g.AlterationAllowed && g.Kind != rights.Assignment && g.Kind != rights.Public {
			prohibitions = append(prohibitions, w.onLicensee("derive"))
		}
	}
	obligations = append(obligations, w.dues()...)
	for name, rules := range map[string][]object{"permission": permissions, "prohibition": prohibitions, "obligation": obligations} {
		if len(rules) > 0 {
			p[name] = rules
		}
	}
	w.ties(p)
	return p
}

// ties adds what joins the policy to others, and other facts of the profile.
func (w *writer) ties(p object) {
	g := w.g
	text := func(term, value string) {
		if value != "" {
			p["plt:"+term] = value
		}
	}
	link := func(term, name string) {
		if name != "" {
			p["plt:"+term] = ref(urn(name))
		}
	}
	link("amends", g.Amends)
	link("supersedes", g.Supersedes)
	link("head", g.Head)
	if len(g.SubjectTo) > 0 {
		p["plt:subjectTo"] = refs("", g.SubjectTo)
	}
	if g.Head != "" {
		p["plt:survivesHead"] = g.SurvivesHead
	}
	for term, day := range map[string]string{"effectiveOn": g.EffectiveOn, "signedOn": g.SignedOn, "endedOn": g.EndedOn, "sellOffTo": g.SelloffTo} {
		if day != "" {
			p["plt:"+term] = w.date(day, term == "sellOffTo")
		}
	}
	if g.Kind != rights.Holdback && g.Kind != rights.Option && g.Kind != rights.Assignment {
		p["plt:exclusivity"] = exclusivityWord(g.Exclusivity)
	}
	text("creditLine", g.CreditLine)
	text("publicLicence", g.PublicLicence)
	text("termAnchor", g.TermAnchor)
	text("tables", g.Tables)
	if len(g.ReservedMedia) > 0 {
		p["plt:reservedMedia"] = refs("media:", g.ReservedMedia)
	}
}

func exclusivityWord(e rights.Exclusivity) string {
	switch e {
	case rights.Sole:
		return "sole"
	case rights.Exclusive:
		return "exclusive"
	case rights.FirstRights:
		return "first-rights"
	default:
		return "non-exclusive"
	}
}

// target is the works: one asset, several, or everything but some.
func (w *writer) target() any {
	in, out := split(w.g.Works)
	if len(out) > 0 || len(in) == 1 && in[0] == "*" {
		c := object{"@type": "AssetCollection", "uid": urn("pictures")}
		if len(in) != 1 || in[0] != "*" {
			c = object{"@type": "AssetCollection", "uid": urn(w.g.Name + "/works"), "plt:works": refs("", in)}
		}
		if len(out) > 0 {
			c["plt:without"] = refs("", out)
		}
		return c
	}
	if len(in) == 1 {
		return urn(in[0])
	}
	list := make([]string, len(in))
	for i, name := range in {
		list[i] = urn(name)
	}
	return list
}

// split parts a list of a scope into what is in and what is taken out.
func split(list []string) (in, out []string) {
	for _, s := range list {
		if taken, is := strings.CutPrefix(s, "-"); is {
			out = append(out, taken)
		} else {
			in = append(in, s)
		}
	}
	return in, out
}

func refs(prefix string, names []string) []object {
	out := make([]object, len(names))
	for i, n := range names {
		out[i] = ref(urn(prefix + n))
	}
	return out
}

func party(p Party) object {
	o := object{"@type": "Party", "uid": urn(p.Name)}
	if p.Label != "" {
		o["plt:name"] = p.Label
	}
	return o
}

func (w *writer) licensees() any {
	if len(w.g.Licensees) == 1 {
		return party(w.g.Licensees[0])
	}
	list := make([]object, len(w.g.Licensees))
	for i, p := range w.g.Licensees {
		list[i] = party(p)
	}
	return list
}

// rule is a rule that one side lays on, or gives to, the other, without limits yet.
func (w *writer) rule(action string, toStudio bool) object {
	r := object{"action": action, "target": w.target()}
	from, to := "assigner", "assignee"
	if toStudio {
		from, to = to, from
	}
	r[from] = party(w.g.Studio)
	if len(w.g.Licensees) > 0 {
		r[to] = w.licensees()
	}
	return r
}
