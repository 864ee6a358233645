package iiif

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"fmt"
	"io"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// shape walks a document of Presentation API 3.0 and reports what the standard forbids: ids that are no http address or stand twice, resources without type, labels that
// aren't lists of text by language, sizes that aren't whole numbers above 0, rights of no known registry, and links without label or format.
type shape struct {
	t   *testing.T
	ids map[string]bool
}

var language = regexp.MustCompile(`^[a-zA-Z-]+$`)

func (s shape) texts(where string, v any) {
	s.t.Helper()
	m, ok := v.(map[string]any)
	if !ok || len(m) == 0 {
		s.t.Errorf("%s: %v is no text by language", where, v)
	}
	for l, list := range m {
		texts, ok := list.([]any)
		if !language.MatchString(l) || !ok || len(texts) == 0 {
			s.t.Errorf("%s: %q: %v", where, l, list)
		}
		for _, x := range texts {
			if text, ok := x.(string); !ok || text == "" {
				s.t.Errorf("%s: text %v", where, x)
			}
		}
	}
}

// plain says that a text in angle brackets, which would be read as HTML (section 4.5), isn't among those of a value.
func (s shape) plain(where string, v any) {
	s.t.Helper()
	for _, list := range v.(map[string]any) {
		for _, x := range list.([]any) {
			if text := x.(string); strings.HasPrefix(text, "<") && strings.HasSuffix(text, ">") {
				s.t.Errorf("%s: %q would be read as HTML", where, text)
			}
		}
	}
}

func (s shape) walk(where string, v any) {
	s.t.Helper()
	switch v := v.(type) {
	case []any:
		if len(v) == 0 { // sections 3.1 to 3.4: lists have at least one item
			s.t.Errorf("%s: nothing in a list", where)
		}
		for i, x := range v {
			s.walk(fmt.Sprintf("%s[%d]", where, i), x)
		}
	case map[string]any:
		s.resource(where, v)
		for key, x := range v {
			switch key {
			case "label", "summary", "value":
				if _, plain := x.(string); !plain || v["type"] != "TextualBody" {
					s.texts(where+"."+key, x)
				}
			case "language": // section 3.2; that of a TextualBody is one text, by the Web Annotation Data Model
				list, ok := x.([]any)
				if one, plain := x.(string); v["type"] == "TextualBody" && plain && language.MatchString(one) {
					continue
				}
				if !ok || len(list) == 0 || !language.MatchString(fmt.Sprint(list[0])) {
					s.t.Errorf("%s.language: %v", where, x)
				}
			case "requiredStatement":
				s.pair(where+"."+key, x)
			case "metadata":
				if len(x.([]any)) == 0 {
					s.t.Errorf("%s: metadata without a line", where)
				}
				for _, p := range x.([]any) {
					s.pair(where+"."+key, p)
				}
			case "width", "height":
				if n, ok := x.(float64); !ok || n <= 0 || n != float64(int(n)) {
					s.t.Errorf("%s.%s: %v", where, key, x)
				}
			case "rights":
				if !regexp.MustCompile(`^http://(creativecommons\.org/(licenses|publicdomain)|rightsstatements\.org/vocab)/`).MatchString(x.(string)) {
					s.t.Errorf("%s.rights: %v", where, x)
				}
			default:
				s.walk(where+"."+key, x)
			}
		}
	}
}

func (s shape) pair(where string, v any) {
	s.t.Helper()
	p, ok := v.(map[string]any)
	if !ok || len(p) != 2 {
		s.t.Fatalf("%s: %v, want label and value", where, v)
	}
	s.texts(where, p["label"])
	s.texts(where, p["value"])
	s.plain(where, p["value"])
}

func (s shape) resource(where string, v map[string]any) {
	s.t.Helper()
	kind, _ := v["type"].(string)
	if kind == "TextualBody" {
		return
	}
	id, _ := v["id"].(string)
	if u, err := url.Parse(id); err != nil || u.Scheme != "http" && u.Scheme != "https" || kind == "" {
		s.t.Errorf("%s: id %q of type %q", where, id, kind)
	}
	owned := slices.Contains([]string{"Manifest", "Canvas", "AnnotationPage", "Annotation"}, kind)
	if owned && s.ids[id] {
		s.t.Errorf("%s: id %s stands twice", where, id)
	}
	if kind == "Agent" { // it isn't its own homepage (section 3.1, provider)
		for _, page := range v["homepage"].([]any) {
			if page.(map[string]any)["id"] == id {
				s.t.Errorf("%s: %s is both an agent and a page", where, id)
			}
		}
	}
	s.ids[id] = true
	need := map[string][]string{
		"Manifest": {"label", "items"}, "Canvas": {"width", "height", "items"}, "AnnotationPage": {"items"}, "Annotation": {"motivation", "target", "body"},
		"Image": {"format", "width", "height", "service"}, "Agent": {"label", "homepage"}, "Text": {"label", "format"}, "Dataset": {"label", "format", "profile"}, "ImageService3": {"profile"},
	}
	fields, known := need[kind]
	if !known {
		s.t.Errorf("%s: type %q", where, kind)
	}
	for _, f := range fields {
		if v[f] == nil {
			s.t.Errorf("%s: a %s without %s", where, kind, f)
		}
	}
}

// grouper is an invented record of a real species.
func grouper() *pb.Picture {
	return &pb.Picture{
		Title: "Grouper, left side", Identification: &pb.Identification{ScientificName: "Epinephelus marginatus", Qualifier: "cf."}, View: pb.View_VIEW_LEFT_LATERAL,
		Stage: pb.Stage_STAGE_FINAL_ART, Counts: &pb.Counts{Formula: "D XI,14-16; A III,8"}, Technique: "watercolor", Creators: []string{"<A. Painter>"}, Created: "2021",
		CreditParts: []string{"A. Painter", "House of Fins"}, RightsStatement: "https://rightsstatements.org/vocab/InC/1.0/", Notes: "secret-notes", Job: "secret-job", Specimen: "specimens/grouper-one",
		Structures: []*pb.Structure{
			{Structure: "dorsal fin", Completeness: pb.Completeness_COMPLETENESS_COMPLETE, Region: &pb.Region{X: 0.25, Y: 0.1, Width: 0.5, Height: 0.25}, Note: "secret-remark"},
			{Structure: "opercle"},
		},
	}
}

func (h *house) grouper(t testing.TB) {
	t.Helper()
	_, err := pb.NewArchiveServiceClient(h.conn).CreateSpecimen(h.as(t, "desk"), &pb.CreateSpecimenRequest{SpecimenId: "grouper-one", Specimen: &pb.Specimen{
		Institution: "HOF", CatalogNumber: "1204", Locality: "secret-reef", Sensitivity: 1, Identification: &pb.Identification{ScientificName: "Epinephelus marginatus"},
	}})
	check(t, err)
	h.hang(t, "grouper-left", plasma(2000, 400), grouper())
}

func testPictureManifest(t *testing.T, h *house) {
	for key, width := range map[string]int{"desk": 2000, "press": 1600} {
		m := h.json(t, key, "/iiif/pictures/grouper-left/manifest")
		if m["@context"] != "http://iiif.io/api/presentation/3/context.json" || m["type"] != "Manifest" || m["id"] != h.web.URL+"/iiif/pictures/grouper-left/manifest" || m["rights"] != "http://rightsstatements.org/vocab/InC/1.0/" {
			t.Errorf("%s: %v", key, m)
		}
		delete(m, "@context")
		shape{t, map[string]bool{}}.walk(key, m)
		b, err := json.Marshal(m)
		check(t, err)
		all := string(b)
		for _, want := range []string{"Grouper, left side", "Epinephelus cf. marginatus", "D XI,14-16; A III,8", "left lateral", "final art", "A. Painter / House of Fins", "House of Fins", "dorsal fin (complete)",
			fmt.Sprintf("canvas/1#xywh=%d,%d,%d,%d", width/4, width/50, width/2, width/20), "/iiif/3/grouper-left", h.web.URL + `/v1/pictures/grouper-left"`, h.web.URL + `/v1/openapi.json"`} {
			if !strings.Contains(all, want) {
				t.Errorf("%s: %q isn't there", key, want)
			}
		}
		if strings.Contains(all, "secret") || strings.Contains(all, "opercle") {
			t.Errorf("%s: says what it shouldn't: %s", key, all)
		}
		if says := strings.Contains(all, "HOF 1204"); says != (key == "desk") {
			t.Errorf("%s: says the catalog number: %v", key, says)
		}
		canvas := m["items"].([]any)[0].(map[string]any)
		if canvas["width"] != float64(width) || canvas["height"] != float64(width/5) {
			t.Errorf("%s: canvas %v by %v", key, canvas["width"], canvas["height"])
		}
		// The addresses given lead to the pictures they describe.
		painting := canvas["items"].([]any)[0].(map[string]any)["items"].([]any)[0].(map[string]any)["body"].(map[string]any)
		for _, image := range []map[string]any{painting, m["thumbnail"].([]any)[0].(map[string]any)} {
			got := h.picture(t, key, strings.TrimPrefix(image["id"].(string), h.web.URL))
			if float64(got.Bounds().Dx()) != image["width"] || float64(got.Bounds().Dy()) != image["height"] {
				t.Errorf("%s: %v is %v, told %v by %v", key, image["id"], got.Bounds(), image["width"], image["height"])
			}
		}
	}
}

func testBriefManifest(t *testing.T, h *house) {
	h.hang(t, "grouper-fin", plasma(300, 200), &pb.Picture{Kind: pb.Kind_KIND_STUDY, Title: "Dorsal fin", Stage: pb.Stage_STAGE_OUTLINE})
	h.hang(t, "grouper-not", plasma(301, 200), &pb.Picture{Kind: pb.Kind_KIND_STUDY, Title: "Left out", Stage: pb.Stage_STAGE_OUTLINE})
	_, err := pb.NewCommissionServiceClient(h.conn).CreateBrief(h.as(t, "desk"), &pb.CreateBriefRequest{BriefId: "grouper-brief", Brief: &pb.Brief{
		Title: "A grouper for a field guide", Identification: &pb.Identification{ScientificName: "Epinephelus marginatus"}, Body: "pictures/grouper-left", Notes: "secret-notes",
		Studies: []*pb.BriefStudy{{Picture: "pictures/grouper-fin", Structures: []string{"dorsal fin"}}},
		Choices: []*pb.Choice{{Structure: "dorsal fin", Picture: "pictures/grouper-fin"}, {Structure: "anal fin", Picture: "pictures/grouper-not", LeftOut: true}},
	}})
	check(t, err)
	m := h.json(t, "desk", "/iiif/briefs/grouper-brief/manifest")
	delete(m, "@context")
	shape{t, map[string]bool{}}.walk("brief", m)
	var titles []string
	for _, c := range m["items"].([]any) {
		titles = append(titles, fmt.Sprint(c.(map[string]any)["label"]))
	}
	if got := strings.Join(titles, " "); got != "map[none:[Dorsal fin]] map[none:[Grouper, left side]]" {
		t.Errorf("canvases: %s", got)
	}
	hidden, absent := h.get(t, "press", "/iiif/briefs/grouper-brief/manifest"), h.get(t, "press", "/iiif/briefs/no-such-brief/manifest")
	if hidden.status != 404 || absent.status != 404 || string(hidden.body) != string(absent.body) {
		t.Errorf("a publisher is answered %d %s and %d %s", hidden.status, hidden.body, absent.status, absent.body)
	}
	if a := h.get(t, "desk", "/iiif/briefs/no-such-brief/manifest"); a.status != 404 {
		t.Errorf("absent: %d", a.status)
	}
}

// Parts of a canvas lie within it (Presentation API 3.0, section 5.3: nothing is associated with space outside its dimensions).
func TestWholePixels(t *testing.T) {
	for _, tt := range []struct {
		from, length float64
		edge         int
		start, size  int
	}{
		{0, 1, 101, 0, 101}, {0.25, 0.5, 2000, 500, 1000}, {0.5, 0, 101, 51, 1}, {1, 0, 101, 100, 1}, {0.9999, 0.0001, 101, 100, 1}, {0, 0.0001, 7, 0, 1}, {0.9, 0.3, 10, 9, 1}, {-0.5, 1, 10, 0, 5},
	} {
		if start, size := wholePixels(tt.from, tt.length, tt.edge); start != tt.start || size != tt.size {
			t.Errorf("%v from %v of %d: %d from %d, want %d from %d", tt.length, tt.from, tt.edge, size, start, tt.size, tt.start)
		}
	}
	for edge := 1; edge < 300; edge++ { // halves of odd edges round apart
		for from := range edge {
			for _, f := range []float64{float64(from) / float64(edge), (float64(from) + 0.5) / float64(edge)} {
				if start, size := wholePixels(f, 1-f, edge); start < 0 || size < 1 || start+size != edge {
					t.Fatalf("from %v of %d: %d from %d", f, edge, size, start)
				}
			}
		}
	}
}

// A manifest is sent compressed to those who take that (Presentation API 3.0, section 6.3), and says the same.
func testCompression(t *testing.T, h *house) {
	const path = "/iiif/pictures/grouper-left/manifest"
	plain := h.get(t, "desk", path, "Accept-Encoding", "identity")
	for accepted, want := range map[string]string{"gzip": "gzip", "br, GZIP;q=0.5": "gzip", "gzip;q=0": "", "br": "", "gzip; q=0.0, br": ""} {
		a := h.get(t, "desk", path, "Accept-Encoding", accepted)
		if got := a.header.Get("Content-Encoding"); got != want || !strings.Contains(a.header.Get("Vary"), "Accept-Encoding") {
			t.Errorf("%q: encoded as %q, want %q", accepted, got, want)
			continue
		}
		if want == "gzip" {
			z, err := gzip.NewReader(bytes.NewReader(a.body))
			check(t, err)
			a.body, err = io.ReadAll(z)
			check(t, err)
		}
		if !bytes.Equal(a.body, plain.body) {
			t.Errorf("%q: another document", accepted)
		}
	}
}

func TestTaxonName(t *testing.T) {
	for want, id := range map[string]*pb.Identification{
		"":                          nil,
		"Sparus aurata":             {ScientificName: "Sparus aurata"},
		"Sparus cf. aurata":         {ScientificName: "Sparus aurata", Qualifier: "cf."},
		"Sparus aurata ?":           {ScientificName: "Sparus aurata", Qualifier: "?"},
		"Sparus aff.":               {ScientificName: "Sparus", Qualifier: "aff."},
		"Sparus aff. aurata aurata": {ScientificName: "Sparus aurata aurata", Qualifier: "aff."},
	} {
		if got := taxonName(id); got != want {
			t.Errorf("%v: %q, want %q", id, got, want)
		}
	}
}
