package web

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"google.golang.org/protobuf/types/known/fieldmaskpb"

	pb "platarium/proto/platarium/v1"
)

// briefFields finds the form's fields of a brief's.
var briefFields = map[string]string{
	"title": "title", "job": "job", "identification": "taxon", "specimen": "specimen", "counts": "counts", "views": "view", "structures": "structure", "printed.measurement": "measure",
	"printed": "printed", "rendering": "rendering", "use.media": "media", "use.territories": "territories", "use.languages": "languages", "use.purposes": "purpose", "use.from": "from", "use.to": "to", "use": "media",
	"exclusivity": "exclusivity", "client": "client", "due_on": "due", "body": "body", "notes": "notes",
}

// briefMask are the fields that the form sets; choices, studies and checks have forms of their own.
var briefMask = []string{"title", "job", "identification", "specimen", "counts", "views", "structures", "printed", "rendering", "use", "exclusivity", "client", "due_on", "body", "notes"}

// briefing is what the form of a brief shows.
type briefing struct {
	*form
	Name       string // briefs/{id}; empty for a new one
	Etag       string
	Clients    []option
	Views      []option // besides that of the whole body
	Structures []structureRow
	Group      string // of the checklist offered
	WrongParts string
}

// structureRow is a structure to be typed.
type structureRow struct {
	N               int
	Structure, Note string
	Views           []option
}

// briefForm shows the form of a new brief, or of one that is kept, and takes it in.
func (s *Site) briefForm(v *visit) error {
	name := ""
	if v.r.PathValue("id") != "" {
		name = v.named("briefs")
	}
	if v.r.Method == http.MethodGet {
		values := url.Values{"taxon": {v.r.URL.Query().Get("taxon")}, "measure": {"TL"}, "languages": {"*"}}
		if name != "" {
			b, err := s.services.commission.GetBrief(v.ctx(), &pb.GetBriefRequest{Name: name})
			if err != nil {
				return err
			}
			values = typedBrief(b)
		}
		return s.showBriefForm(v, http.StatusOK, v.blank(values), name, "")
	}
	f := v.sent()
	switch f.Value("do") {
	case "checklist":
		return s.offerChecklist(v, f, name)
	case "rows":
		return s.showBriefForm(v, http.StatusOK, f, name, "")
	}
	kept, err := s.keepBrief(v, f, name)
	if err != nil {
		return err
	}
	if f.Faults() {
		return s.showBriefForm(v, http.StatusBadRequest, f, name, "")
	}
	return v.redirect("/" + kept.GetName())
}

// keepBrief makes or changes a brief; the form says what is wrong.
func (s *Site) keepBrief(v *visit, f *form, name string) (*pb.Brief, error) {
	b := f.brief()
	if f.Faults() {
		return nil, nil
	}
	var kept *pb.Brief
	var err error
	if name == "" {
		kept, err = s.services.commission.CreateBrief(v.ctx(), &pb.CreateBriefRequest{Brief: b, RequestId: f.Value("once")})
	} else {
		b.Name, b.Etag = name, f.Value("etag")
		mask := briefMask
		if f.Value("taxon") == f.Value("was") { // then who identified it, and when, stays
			mask = slices.DeleteFunc(slices.Clone(mask), func(field string) bool { return field == "identification" })
		}
		kept, err = s.services.commission.UpdateBrief(v.ctx(), &pb.UpdateBriefRequest{Brief: b, UpdateMask: &fieldmaskpb.FieldMask{Paths: mask}})
	}
	return kept, f.refused(err, briefFields)
}

// offerChecklist fills in the structures that usually identify the animal, beside those that stand there.
func (s *Site) offerChecklist(v *visit, f *form, name string) error {
	list, err := s.services.commission.GetChecklist(v.ctx(), &pb.GetChecklistRequest{Taxon: f.Value("taxon")})
	if err := f.refused(err, map[string]string{"taxon": "taxon"}); err != nil {
		return err
	}
	for _, w := range list.GetStructures() {
		if !f.Has("structure", w.GetStructure()) {
			f.addStructure(w)
		}
	}
	code := http.StatusOK
	if f.Faults() {
		code = http.StatusBadRequest
	}
	return s.showBriefForm(v, code, f, name, list.GetGroup())
}

func (f *form) addStructure(w *pb.WantedStructure) {
	f.typed.Add("structure", w.GetStructure())
	f.typed.Add("structureview", word(w.GetView()))
	f.typed.Add("structurenote", w.GetNote())
}

// emptyRows are offered below the structures that stand there.
const emptyRows = 3

func (s *Site) showBriefForm(v *visit, code int, f *form, name, group string) error {
	page := briefing{form: f, Name: name, Etag: f.Value("etag"), Group: group, WrongParts: f.wrong["structure"]}
	var err error
	if page.Clients, err = s.partyOptions(v); err != nil {
		return err
	}
	for _, o := range chosen[pb.View]() {
		o.Chosen = f.Has("besides", o.Value)
		page.Views = append(page.Views, o)
	}
	for _, w := range f.structures() {
		page.Structures = append(page.Structures, newStructureRow(len(page.Structures)+1, w))
	}
	for range emptyRows {
		page.Structures = append(page.Structures, newStructureRow(len(page.Structures)+1, &pb.WantedStructure{}))
	}
	title := "New brief"
	if name != "" {
		title = "Change the brief"
	}
	if name == "" && f.Value("once") == "" {
		f.typed.Set("once", randomHex()[:32])
	}
	return v.show(code, "brief_form.html", title, page)
}

func newStructureRow(n int, w *pb.WantedStructure) structureRow {
	row := structureRow{N: n, Structure: w.GetStructure(), Note: w.GetNote()}
	for _, o := range chosen[pb.View]() {
		o.Chosen = o.Value == word(w.GetView())
		row.Views = append(row.Views, o)
	}
	return row
}

// structures reads the rows of structures; an empty row is none.
func (f *form) structures() []*pb.WantedStructure {
	var out []*pb.WantedStructure
	at := func(name string, i int) string {
		if list := f.typed[name]; i < len(list) {
			return strings.TrimSpace(list[i])
		}
		return ""
	}
	for i := range f.typed["structure"] {
		if what := at("structure", i); what != "" {
			out = append(out, &pb.WantedStructure{Structure: what, View: valueOf[pb.View](at("structureview", i)), Note: at("structurenote", i)})
		}
	}
	return out
}

// brief reads the form.
func (f *form) brief() *pb.Brief {
	b := &pb.Brief{
		Title: f.Value("title"), Job: f.Value("job"), Identification: animal(f.Value("taxon")), Specimen: in("specimens", f.Value("specimen")), Structures: f.structures(),
		Rendering: valueOf[pb.Rendering](f.Value("rendering")), Use: f.scope(), Exclusivity: valueOf[pb.Exclusivity](f.Value("exclusivity")),
		Client: f.Value("client"), DueOn: f.Value("due"), Body: in("pictures", f.Value("body")), Notes: f.Value("notes"),
	}
	if c := f.Value("counts"); c != "" {
		b.Counts = &pb.Counts{Formula: c}
	}
	if main := valueOf[pb.View](f.Value("view")); main != 0 {
		b.Views = append(b.Views, main)
	}
	for _, other := range valuesOf[pb.View](f.values("besides")) {
		if !slices.Contains(b.GetViews(), other) {
			b.Views = append(b.Views, other)
		}
	}
	if mm := f.decimal("printed", "millimeters, such as 180"); mm != 0 {
		b.Printed = &pb.PrintedSize{Measurement: f.Value("measure"), LengthMm: mm}
	}
	return b
}

// scope reads the fields of a use. Nothing typed is no use at all.
func (f *form) scope() *pb.Scope {
	s := &pb.Scope{
		Media: listed(f.Value("media")), Territories: listed(f.Value("territories")), Languages: listed(f.Value("languages")),
		From: f.Value("from"), To: f.Value("to"),
	}
	if p := f.Value("purpose"); p != "" {
		s.Purposes = []string{p}
	}
	if len(s.GetMedia())+len(s.GetTerritories()) == 0 && s.GetFrom()+s.GetTo() == "" {
		return nil
	}
	return s
}

// typedScope is a scope as it stands in a form.
func typedScope(values url.Values, s *pb.Scope) {
	values.Set("media", strings.Join(s.GetMedia(), ", "))
	values.Set("territories", strings.Join(s.GetTerritories(), ", "))
	values.Set("languages", strings.Join(s.GetLanguages(), ", "))
	values.Set("from", s.GetFrom())
	values.Set("to", s.GetTo())
	if len(s.GetPurposes()) == 1 {
		values.Set("purpose", s.GetPurposes()[0])
	}
}

// typedBrief is a brief as it stands in the form.
func typedBrief(b *pb.Brief) url.Values {
	values := url.Values{
		"title": {b.GetTitle()}, "job": {b.GetJob()}, "taxon": {animalWords(b.GetIdentification())}, "specimen": {b.GetSpecimen()}, "counts": {b.GetCounts().GetFormula()},
		"measure": {b.GetPrinted().GetMeasurement()}, "rendering": {word(b.GetRendering())}, "exclusivity": {word(b.GetExclusivity())}, "client": {b.GetClient()}, "due": {b.GetDueOn()}, "body": {b.GetBody()},
		"notes": {b.GetNotes()}, "etag": {b.GetEtag()}, "was": {animalWords(b.GetIdentification())},
	}
	if mm := b.GetPrinted().GetLengthMm(); mm > 0 {
		values.Set("printed", strconv.FormatFloat(mm, 'f', -1, 64))
	}
	for i, view := range b.GetViews() {
		if i == 0 {
			values.Set("view", word(view))
		} else {
			values.Add("besides", word(view))
		}
	}
	f := &form{typed: values}
	for _, w := range b.GetStructures() {
		f.addStructure(w)
	}
	typedScope(values, b.GetUse())
	return values
}

// animalWords is what stands in the field of an animal: the name as written, which the server reads again, or the taxon.
func animalWords(id *pb.Identification) string {
	if n := id.GetScientificName(); n != "" {
		return n
	}
	return id.GetTaxon()
}

// animal reads the field of an animal.
func animal(s string) *pb.Identification {
	if strings.HasPrefix(s, "taxa/") {
		return &pb.Identification{Taxon: s}
	}
	return &pb.Identification{ScientificName: s}
}

// in completes an id to a resource name; an address of this site that was pasted does as well.
func in(collection, s string) string {
	if i := strings.LastIndex(s, "/"+collection+"/"); i >= 0 {
		s = s[i+1:]
	}
	if s == "" || strings.Contains(s, "/") || s == "*" {
		return s
	}
	return collection + "/" + s
}
