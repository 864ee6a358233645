package odrl

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"platarium/server/rights"
)

// acts says which actions a use in the media under one root takes, besides reproduce.
var acts = map[string][]string{
	"broadcast":  {"present"},
	"digital":    {"distribute", "display"},
	"display":    {"display"},
	"exhibition": {"display"},
	"print":      {"distribute", "print"},
	"product":    {"distribute"},
	"promo":      {"distribute", "display"},
	"*":          {"distribute", "display", "present", "print"},
}

// order is that of the actions in a policy.
var order = []string{"reproduce", "print", "distribute", "display", "present"}

// permissions has one permission for each action that the media take, limited to the media that take it.
func (w *writer) permissions() []object {
	in, out := split(w.g.Media)
	media := map[string][]string{"reproduce": in}
	for _, m := range in {
		root, _, _ := strings.Cut(m, ".")
		for _, action := range acts[root] {
			media[action] = append(media[action], m)
		}
	}
	var list []object
	for _, action := range order {
		if in := media[action]; len(in) > 0 {
			list = append(list, w.permission(action, in, out))
		}
	}
	if w.g.AlterationAllowed {
		list = append(list, w.permission("derive", in, out))
	}
	if w.g.Kind == rights.Assignment {
		list = append(list, w.permission("transfer", in, out))
	}
	return list
}

func (w *writer) permission(action string, media, without []string) object {
	g := w.g
	p := w.rule(action, false)
	w.limit(p, w.scope(media, without)...)
	switch {
	case action == "reproduce" && g.CopiesMax > 0:
		w.limit(p, count(g.CopiesMax, "copy"))
	case action != "derive" && action != "transfer" && action != "reproduce" && g.UsesMax > 0:
		w.limit(p, count(g.UsesMax, "publication"))
	}
	var duties []object
	if g.CreditLine != "" {
		duties = append(duties, object{"action": "attribute", "plt:creditLine": g.CreditLine})
	}
	if g.FeeAmount != "" && g.PaymentFirst {
		duties = append(duties, object{"action": "compensate", "constraint": []object{w.fee()}})
	}
	if len(duties) > 0 {
		p["duty"] = duties
	}
	return p
}

// count bounds copies or publications over all uses under the grant.
func count(most int64, unit string) object {
	return object{"leftOperand": "count", "operator": "lteq", "rightOperand": typed(strconv.FormatInt(most, 10), "integer"), "unit": ref(Profile + ":" + unit), "plt:runAcross": true}
}

func (w *writer) fee() object {
	return object{"leftOperand": "payAmount", "operator": "eq", "rightOperand": typed(w.g.FeeAmount, "decimal"), "unit": ref(urn("currency:" + w.g.FeeCurrency))}
}

// exclusivity is what the studio promised the licensee for the whole scope.
func (w *writer) exclusivity() (prohibitions, obligations []object) {
	switch w.g.Exclusivity {
	case rights.Sole:
		return []object{w.promise("grantUse")}, nil
	case rights.Exclusive:
		return nil, []object{w.promise("ensureExclusivity")}
	case rights.FirstRights:
		r := w.promise("ensureExclusivity")
		if w.g.FirstPublishedOn != "" {
			w.limit(r, w.day("lt", w.g.FirstPublishedOn, false))
		} else {
			w.limit(r, object{"leftOperand": "event", "operator": "lt", "rightOperand": ref(Profile + ":firstPublication")})
		}
		if w.g.FirstPublicationDeadline != "" {
			w.limit(r, w.day("lteq", w.g.FirstPublicationDeadline, true))
		}
		return nil, []object{r}
	default:
		return nil, nil
	}
}

func (w *writer) promise(action string) object {
	r := w.onStudio(action)
	if w.g.ExclusiveTo != "" {
		w.limit(r, w.day("lteq", w.g.ExclusiveTo, true))
	}
	return r
}

// onStudio is a rule for the studio over the whole scope, onLicensee one for the licensee.
func (w *writer) onStudio(action string) object {
	r := w.rule(action, true)
	in, out := split(w.g.Media)
	w.limit(r, w.scope(in, out)...)
	return r
}

func (w *writer) onLicensee(action string) object { return w.rule(action, false) }

// dues is what the licensee owes whether or not it uses the picture.
func (w *writer) dues() []object {
	var list []object
	if w.g.FeeAmount != "" && !w.g.PaymentFirst {
		r := w.rule("compensate", false)
		w.limit(r, w.fee())
		list = append(list, r)
	}
	if w.g.EvidenceDueOn != "" {
		r := w.rule("inform", false)
		r["informedParty"] = party(w.g.Studio)
		w.limit(r, w.day("lteq", w.g.EvidenceDueOn, true))
		list = append(list, r)
	}
	return list
}

func (w *writer) limit(rule object, constraints ...object) {
	if len(constraints) == 0 {
		return
	}
	before, _ := rule["constraint"].([]object)
	rule["constraint"] = append(before, constraints...)
}

// scope limits a rule to media, places, languages, purposes, days and product; all of them must hold. What is not limited has no constraint.
func (w *writer) scope(media, without []string) []object {
	g := w.g
	var list []object
	set := func(operand, prefix string, in, out []string, every string) {
		if len(in) > 0 && !slices.Contains(in, every) {
			list = append(list, object{"leftOperand": operand, "operator": "isAnyOf", "rightOperand": values(prefix, in)})
		}
		if len(out) > 0 {
			list = append(list, object{"leftOperand": operand, "operator": "isNoneOf", "rightOperand": values(prefix, out)})
		}
	}
	set("media", "media:", media, without, "*")
	in, out := split(g.Territories)
	set("spatial", "territory:", in, out, "") // WORLD stays: it isn't every place (XK has no code in ISO 3166)
	in, out = split(g.Languages)
	set("language", "", in, out, "*")
	in, out = split(g.Purposes)
	set("purpose", "purpose:", in, out, "")
	for _, from := range []string{g.From, g.EmbargoUntil} {
		if from != "" {
			list = append(list, w.day("gteq", from, false))
		}
	}
	if g.To != "" {
		list = append(list, w.day("lteq", g.To, true))
	}
	if g.EndedOn != "" {
		list = append(list, w.day("lt", g.EndedOn, false))
	}
	if g.TermAnchor != "" && g.TermMonths > 0 {
		list = append(list, object{"leftOperand": "elapsedTime", "operator": "lteq", "rightOperand": typed(fmt.Sprintf("P%dM", g.TermMonths), "duration"), "plt:termAnchor": g.TermAnchor})
	}
	if g.Product != "" {
		list = append(list, object{"leftOperand": "product", "operator": "eq", "rightOperand": g.Product})
	}
	return list
}

// values are IRIs with a prefix, plain language tags without one.
func values(prefix string, in []string) any {
	if prefix == "" {
		return in
	}
	return refs(prefix, in)
}

func (w *writer) day(operator, day string, last bool) object {
	return object{"leftOperand": "dateTime", "operator": operator, "rightOperand": w.date(day, last)}
}

// date is a day as xsd:date: the first or last that a date known to the month or year can mean.
func (w *writer) date(day string, last bool) object {
	d, err := rights.ParseDate(day)
	if err != nil {
		if w.err == nil {
			w.err = err
		}
		return nil
	}
	if last {
		return typed(d.Last().String(), "date")
	}
	return typed(d.First().String(), "date")
}

func typed(value, kind string) object {
	return object{"@value": value, "@type": "http://www.w3.org/2001/XMLSchema#" + kind}
}
