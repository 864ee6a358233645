package web_test

import (
	"net/http"
	"net/url"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// TestFormsKeepWhatWasTyped sends each form with one mistake: it comes back with the message beside the field, and with everything typed.
func TestFormsKeepWhatWasTyped(t *testing.T) {
	h := open(t, nil)
	v := h.visit(t, "assistant")
	for _, tt := range []struct {
		name, path string
		form       url.Values
		wrong      string // id of the field at fault
		says       string
		kept       string
	}{
		{"a brief without a title", "/briefs/new", url.Values{"taxon": {"Perca fluviatilis"}, "job": {"J-77"}, "structure": {"opercle", ""}, "structureview": {"dorsal", ""}, "structurenote": {"the spine", ""}}, "title", "is missing", `value="the spine"`},
		{"a size that is no number", "/briefs/new", url.Values{"title": {"Panel & more"}, "taxon": {"Perca fluviatilis"}, "printed": {"a span"}}, "printed", "want millimeters", `value="Panel &amp; more"`},
		{"an unknown animal", "/briefs/new", url.Values{"title": {"Panel"}, "taxon": {"Nonesuch nemo"}, "due": {"2026-09-01"}}, "taxon", "found", `value="2026-09-01"`},
		{"an unknown medium", "/briefs/panel/edit", url.Values{"title": {"Perch"}, "taxon": {"Perca fluviatilis"}, "media": {"print.bok"}, "territories": {"DE"}, "languages": {"*"}}, "media", "print.book", `value="print.bok"`},
		{"a tick by nobody", "/briefs/panel/checked", url.Values{"structure": {"opercle"}, "against": {"specimens/perch-7"}}, "by", "want who verified it", `value="specimens/perch-7"`},
		{"a study that isn't there", "/briefs/panel/studies", url.Values{"picture": {"no-such"}, "note": {"first try"}}, "picture", "found", `value="first try"`},
		{"a delivery of a study", "/briefs/panel/deliver", url.Values{"plate": {"perch-study"}}, "plate", "want a plate", `value="perch-study"`},
		{"a fee without a currency", "/grants/new", url.Values{"licensee": {"parties/otterbach"}, "works": {"ruffe-plate"}, "fee": {"450"}, "credit": {"© Studio Ebbvik"}}, "fee", "450.00 EUR", `value="© Studio Ebbvik"`},
		{"a grant of no medium", "/grants/new", url.Values{"licensee": {"parties/otterbach"}, "works": {"ruffe-plate"}, "territories": {"FR"}, "languages": {"fr"}, "signed": {"2026-05-01"}}, "media", "is missing", `value="2026-05-01"`},
		{"a use without a title", "/uses/new", url.Values{"user": {"parties/quillfin"}, "works": {"perch-plate"}, "media": {"print.book"}, "territories": {"GB"}, "languages": {"en"}, "from": {"2025-05"}, "copies": {"2000"}}, "title", "is missing", `value="2000"`},
		{"a party without a name", "/parties/new", url.Values{"role": {"museum"}}, "called", "is missing", `value="museum"`},
	} {
		t.Run(tt.name, func(t *testing.T) {
			before := h.archive.Journal().Position().Seq
			a := v.post(tt.path, tt.form)
			_, beside, found := strings.Cut(a.text, `id="`+tt.wrong+`-wrong">`)
			message, _, _ := strings.Cut(beside, "<")
			if a.code != http.StatusBadRequest || !found || !strings.Contains(message, tt.says) {
				t.Errorf("answered %d, and beside %s: %q; want %q", a.code, tt.wrong, message, tt.says)
			}
			if !strings.Contains(a.text, tt.kept) {
				t.Errorf("the form lost %s", tt.kept)
			}
			if after := h.archive.Journal().Position().Seq; after != before {
				t.Errorf("something was written")
			}
		})
	}
}

// TestNothingChangesWithoutTheToken sends forms as another site could make a browser do.
func TestNothingChangesWithoutTheToken(t *testing.T) {
	h := open(t, &fakeImporter{})
	v := h.visit(t, "owner")
	before := h.archive.Journal().Position().Seq
	for path, form := range map[string]url.Values{
		"/briefs/new": {"title": {"x"}, "taxon": {"Perca fluviatilis"}}, "/briefs/panel/edit": {"title": {"x"}}, "/briefs/panel/plan": {"structure": {"opercle"}, "picture": {"pictures/perch-plate"}, "do": {"choose"}},
		"/briefs/panel/delete": {}, "/briefs/panel/deliver": {"plate": {"perch-plate"}}, "/choose": {"brief": {"panel"}, "picture": {"perch-plate"}, "structure": {"opercle"}, "do": {"choose"}}, "/grants/guide": {"do": {"end"}, "endedon": {"2026-01-01"}},
		"/grants/new": {"licensee": {"parties/otterbach"}}, "/uses/new": {"title": {"x"}}, "/parties/new": {"called": {"x"}}, "/import/step": {"do": {"run"}},
	} {
		for _, token := range []string{"", strings.Repeat("0", 64)} {
			form.Set("token", token)
			if a := v.post(path, form); a.code != http.StatusForbidden {
				t.Errorf("%s with the token %q was answered %d", path, token, a.code)
			}
		}
	}
	if after := h.archive.Journal().Position().Seq; after != before {
		t.Error("something was written")
	}
}

// TestWorkOnABrief writes one, chooses, logs, ticks and delivers, all by plain forms.
func TestWorkOnABrief(t *testing.T) {
	h := open(t, nil)
	v := h.visit(t, "assistant")
	step := func(path string, form url.Values) answer {
		t.Helper()
		a := v.post(path, form)
		if a.code != http.StatusSeeOther {
			t.Fatalf("%s was answered %d: %s", path, a.code, a.text)
		}
		return a
	}
	made := step("/briefs/new", url.Values{"title": {"Ruffe"}, "taxon": {"Perca fluviatilis"}, "view": {"left lateral"}, "besides": {"dorsal"}, "printed": {"180,5"}, "measure": {"SL"}, "structure": {"Opercle", "head"}, "structureview": {"", "dorsal"},
		"structurenote": {"", ""}, "rendering": {"line"}, "client": {"parties/otterbach"}})
	step("/choose", url.Values{"brief": {made.to[1:]}, "picture": {"perch-plate"}, "structure": {"opercle"}, "do": {"choose"}, "note": {"cleanest edge"}})
	step("/choose", url.Values{"brief": {made.to[1:]}, "picture": {"ruffe-plate"}, "structure": {"opercle"}, "do": {"leave out"}})
	step(made.to+"/body", url.Values{"body": {h.at + "/pictures/perch-plate"}})
	step(made.to+"/studies", url.Values{"picture": {"pictures/perch-study"}, "structure": {"opercle"}})
	step(made.to+"/checked", url.Values{"structure": {"head"}, "by": {"Maren Oltedal"}, "against": {"pictures/perch-plate"}})
	step(made.to+"/deliver", url.Values{"plate": {"ruffe-plate"}, "copied": {"pictures/perch-study"}})
	b, err := h.archive.GetBrief(made.to[1:])
	if err != nil {
		t.Fatal(err)
	}
	if b.GetPrinted().GetLengthMm() != 180.5 || len(b.GetViews()) != 2 || len(b.GetStructures()) != 2 || b.GetStructures()[1].GetView() != pb.View_VIEW_DORSAL || len(b.GetChoices()) != 2 || !b.GetChoices()[1].GetLeftOut() ||
		len(b.GetStudies()) != 1 || b.GetChecked()[0].GetCheckedOn() != "2026-05-04" || b.GetPlate() != "pictures/ruffe-plate" || b.GetBody() != "pictures/perch-plate" {
		t.Errorf("the brief is now %v", b)
	}
	plate, err := h.archive.GetPicture("pictures/ruffe-plate")
	if err != nil || len(plate.GetDerivedFrom()) != 2 {
		t.Errorf("the plate derives from %v, %v", plate.GetDerivedFrom(), err)
	}
	if a := v.get(made.to + "/plan"); a.code != http.StatusOK || strings.Contains(a.text, `value="choose"`) {
		t.Errorf("the plan of a delivered brief: %d", a.code)
	}
}

// TestLifeOfAGrant drafts, executes, amends and ends one by plain forms; one that collides is refused by name.
func TestLifeOfAGrant(t *testing.T) {
	h := open(t, nil)
	v := h.visit(t, "owner")
	form := url.Values{"licensee": {"parties/otterbach"}, "works": {h.at + "/pictures/perch-plate"}, "media": {"print.book"}, "territories": {"GB"}, "languages": {"en"}, "from": {"2026-05-05"}, "to": {"2028-12-31"}, "copies": {"3000"}}
	draft := v.post("/grants/new", form)
	if draft.code != http.StatusSeeOther {
		t.Fatalf("the draft was answered %d: %s", draft.code, draft.text)
	}
	if a := v.post(draft.to, url.Values{"do": {"execute"}, "signed": {"2026-05-04"}}); a.code != http.StatusBadRequest || !strings.Contains(a.text, "grants/guide") || !strings.Contains(a.text, `value="2026-05-04"`) {
		t.Errorf("a colliding grant was executed, or nobody was told why: %d", a.code)
	}
	form.Set("territories", "FR")
	if a := v.post(draft.to+"/edit", form); a.code != http.StatusSeeOther {
		t.Fatalf("changing the draft: %d %s", a.code, a.text)
	}
	if a := v.post(draft.to, url.Values{"do": {"execute"}, "signed": {"2026-05-04"}}); a.code != http.StatusSeeOther {
		t.Fatalf("executing: %d %s", a.code, a.text)
	}
	if a := v.post(draft.to, url.Values{"do": {"end"}, "endedon": {"2026-05-06"}, "reason": {"reversion"}}); a.code != http.StatusSeeOther {
		t.Fatalf("ending: %d %s", a.code, a.text)
	}
	g, err := h.archive.GetGrant(draft.to[1:])
	if err != nil || g.GetStatus() != pb.GrantStatus_GRANT_STATUS_EXECUTED || g.GetEndedOn() != "2026-05-06" || g.GetScope().GetTerritories()[0] != "FR" || g.GetCopiesMax() != 3000 {
		t.Errorf("the grant is now %v, %v", g, err)
	}
	use := v.post("/uses/new", url.Values{"user": {"parties/quillfin"}, "grant": {"guide"}, "title": {"Perches at a glance"}, "works": {"perch-plate"}, "media": {"print.book"}, "territories": {"FR"}, "languages": {"en"}, "from": {"2025-06-01"}})
	if use.code != http.StatusSeeOther {
		t.Fatalf("recording a use: %d %s", use.code, use.text)
	}
	if a := v.get(use.to); !strings.Contains(a.text, "Not licensed.") {
		t.Errorf("a use beyond its territory is told as %s", a.text)
	}
	if a := v.get("/licences?days=60"); !strings.Contains(a.text, `href="/grants/guide"`) || !strings.Contains(a.text, "2026-06-10") {
		t.Error("the term that ends in June isn't among what falls due")
	}
	if a := v.get("/licences?days=20"); strings.Contains(a.text, "2026-06-10") {
		t.Error("what falls due in 37 days is shown for 20")
	}
}

// TestPublishersView asks every page with a publisher's key: its own grants in full, others not at all, and nothing of the studio's desk.
func TestPublishersView(t *testing.T) {
	h := open(t, nil)
	v := h.visit(t, "quillfin")
	for path, want := range map[string]int{
		"/briefs": http.StatusForbidden, "/briefs/panel": http.StatusForbidden, "/briefs/panel/plan": http.StatusForbidden, "/briefs/panel/files/sheets": http.StatusForbidden, "/choose?picture=perch-plate": http.StatusForbidden,
		"/parties": http.StatusNotFound, "/parties/otterbach": http.StatusNotFound, "/parties/otterbach/history": http.StatusNotFound, "/grants/new": http.StatusNotFound, "/uses/new": http.StatusNotFound, "/import": http.StatusNotFound,
		"/grants/silent": http.StatusNotFound, "/grants/silent/files/odrl": http.StatusNotFound, "/grants/guide": http.StatusOK, "/grants/guide/files/odrl": http.StatusOK, "/licences": http.StatusOK, "/grants": http.StatusOK, "/available": http.StatusOK,
	} {
		a := v.get(path)
		if a.code != want {
			t.Errorf("%s is answered %d; want %d", path, a.code, want)
		}
		for _, secret := range []string{"private words", "Otterbach", "otterbach", "Perch wall panel"} {
			if strings.Contains(strings.ReplaceAll(a.text, path, ""), secret) && !strings.Contains(path, secret) {
				t.Errorf("%s tells a publisher %q", path, secret)
			}
		}
		for _, staff := range []string{`"/briefs"`, `"/import"`, `"/parties"`, `"/grants/new"`} {
			if strings.Contains(a.text, "href="+staff) {
				t.Errorf("%s shows a publisher the way to %s", path, staff)
			}
		}
	}
	if a := v.get("/grants/guide"); !strings.Contains(a.text, "450.00 EUR") || !strings.Contains(a.text, "your house") || strings.Contains(a.text, "What comes next") {
		t.Errorf("its own grant reads %s", a.text)
	}
	ask := "&media=print.book&territories=DE&languages=de&from=2027-01-01&to=2027-12-31"
	a := v.get("/available?works=ruffe-plate" + ask)
	if !strings.Contains(a.text, "To be checked") || strings.Contains(a.text, "silent") || strings.Contains(a.text, "2030") || !strings.Contains(a.text, "the signed agreement governs") {
		t.Errorf("a confidential grant in the way is answered %s", a.text)
	}
	many := v.get("/available?each=yes&works=ruffe-plate+perch-plate+nothing" + ask)
	if strings.Count(many.text, "<tr><td>") != 3 || strings.Count(many.text, "Yes, it is free.") != 1 || !strings.Contains(many.text, "No answer.") {
		t.Errorf("three pictures are answered %s", many.text)
	}
}
