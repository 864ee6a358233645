package iiif

import (
	"context"
	"errors"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	pb "platarium/proto/platarium/v1"
)

const presentationContext = "http://iiif.io/api/presentation/3/context.json"

// node is an object of JSON-LD.
type node map[string]any

// words is a text in a language; "none" for names and titles, which have no language of their own.
func words(language string, texts ...string) map[string][]string {
	return map[string][]string{language: texts}
}

// statement is a label with its value, which is plain text here: a blank behind it keeps readers from taking one in angle brackets for HTML (Presentation API 3.0, section 4.5).
func statement(label, language, value string) node {
	if strings.HasPrefix(value, "<") && strings.HasSuffix(value, ">") {
		value += " "
	}
	return node{"label": words("en", label), "value": words(language, value)}
}

// pictureManifest answers with a picture and its words, as Presentation API 3.0 has them.
func (v *visit) pictureManifest(ctx context.Context, id string) error {
	pic, err := v.getPicture(ctx, id)
	if err != nil {
		return err
	}
	uri := v.base() + "/iiif/pictures/" + url.PathEscape(id) + "/manifest"
	canvas, err := v.canvas(ctx, uri, 1, pic)
	if err != nil {
		return err
	}
	m := v.manifest(uri, pic.GetTitle())
	m["summary"] = words("en", summary(pic))
	lines, err := v.metadata(ctx, pic)
	if err != nil {
		return err
	}
	if len(lines) > 0 {
		m["metadata"] = lines
	}
	m["homepage"] = []node{{"id": v.base() + "/pictures/" + url.PathEscape(id), "type": "Text", "format": "text/html", "language": []string{"en"}, "label": words("none", pic.GetTitle())}}
	m["seeAlso"] = []node{{ // read with the same key as the manifest
		"id": v.base() + "/v1/pictures/" + url.PathEscape(id), "type": "Dataset", "format": "application/json", "profile": v.base() + "/v1/openapi.json", "label": words("en", "Record"),
	}}
	m["thumbnail"] = canvas["thumbnail"]
	if line := credit(pic); line != "" {
		m["requiredStatement"] = statement("Credit", "none", line)
	}
	if rights := rightsURI(pic.GetRightsStatement()); rights != "" {
		m["rights"] = rights
	}
	m["items"] = []node{canvas}
	return v.sendJSON(m, presentationContext, 3)
}

// briefManifest answers with what was drawn and chosen for a brief: the plate, the studies, the body, and the pictures chosen for structures.
func (v *visit) briefManifest(ctx context.Context, id string) error {
	brief, err := v.commission.GetBrief(ctx, &pb.GetBriefRequest{Name: "briefs/" + id})
	if err != nil {
		return err
	}
	uri := v.base() + "/iiif/briefs/" + url.PathEscape(id) + "/manifest"
	var canvases []node
	for _, name := range briefPictures(brief) {
		pic, err := v.archive.GetPicture(ctx, &pb.GetPictureRequest{Name: name})
		var canvas node
		if err == nil {
			canvas, err = v.canvas(ctx, uri, len(canvases)+1, pic)
		}
		switch {
		case err == nil:
			canvases = append(canvases, canvas)
		case errors.Is(err, errNothing), errors.Is(err, errLater), status.Code(err) == codes.NotFound: // it has no image, or not yet
		default:
			return err
		}
	}
	if len(canvases) == 0 {
		return errNothing
	}
	m := v.manifest(uri, brief.GetTitle())
	lines := filled([]row{
		{"Taxon", "none", taxonName(brief.GetIdentification())}, {"Counts", "none", brief.GetCounts().GetFormula()}, {"Due", "none", brief.GetDueOn()}, {"Delivered", "none", brief.GetDeliveredOn()},
	})
	if len(lines) > 0 {
		m["metadata"] = lines
	}
	m["thumbnail"] = canvases[0]["thumbnail"]
	m["items"] = canvases
	return v.sendJSON(m, presentationContext, 3)
}

// briefPictures lists each picture once.
func briefPictures(brief *pb.Brief) []string {
	all := []string{brief.GetPlate()}
	for _, s := range brief.GetStudies() {
		all = append(all, s.GetPicture())
	}
	all = append(all, brief.GetBody())
	for _, c := range brief.GetChoices() {
		if !c.GetLeftOut() {
			all = append(all, c.GetPicture())
		}
	}
	var out []string
	for _, name := range all {
		if name != "" && !slices.Contains(out, name) {
			out = append(out, name)
		}
	}
	return out
}

func (v *visit) manifest(uri, title string) node {
	m := node{"@context": presentationContext, "id": uri, "type": "Manifest", "label": words("none", title)}
	if v.conf.Studio != "" {
		m["provider"] = []node{{
			"id": v.base() + "/#studio", "type": "Agent", "label": words("none", v.conf.Studio),
			"homepage": []node{{"id": v.base() + "/", "type": "Text", "format": "text/html", "language": []string{"en"}, "label": words("none", v.conf.Studio)}},
		}}
	}
	return m
}

// canvas is one picture with its image service and, as annotations, the structures that were outlined in it.
func (v *visit) canvas(ctx context.Context, manifest string, number int, pic *pb.Picture) (node, error) {
	s, err := v.subjectFrom(ctx, pic)
	if err != nil {
		return nil, err
	}
	uri := fmt.Sprintf("%s/canvas/%d", strings.TrimSuffix(manifest, "/manifest"), number)
	serviceURI := v.base() + "/iiif/3/" + url.PathEscape(strings.TrimPrefix(pic.GetName(), "pictures/"))
	service := []node{{"id": serviceURI, "type": "ImageService3", "profile": "level2"}}
	largest := request{version: 3, region: region{0, 0, s.width, s.height}}
	largest.fit(maxEdge, maxEdge, false)
	small := largest
	small.fit(thumbnailEdge, thumbnailEdge, false)
	body := node{
		"id": serviceURI + "/full/max/0/default.jpg", "type": "Image", "format": "image/jpeg", "width": largest.width, "height": largest.height, "service": service,
	}
	canvas := node{
		"id": uri, "type": "Canvas", "label": words("none", pic.GetTitle()), "width": s.width, "height": s.height,
		"items": []node{{"id": uri + "/page", "type": "AnnotationPage", "items": []node{{
			"id": uri + "/image", "type": "Annotation", "motivation": "painting", "target": uri, "body": body,
		}}}},
		"thumbnail": []node{{
			"id": fmt.Sprintf("%s/full/%d,%d/0/default.jpg", serviceURI, small.width, small.height), "type": "Image", "format": "image/jpeg", "width": small.width, "height": small.height, "service": service,
		}},
	}
	if notes := structures(uri, s); len(notes) > 0 {
		canvas["annotations"] = []node{{"id": uri + "/structures", "type": "AnnotationPage", "label": words("en", "Structures"), "items": notes}}
	}
	return canvas, nil
}

const thumbnailEdge = 320 // pixels, that of the small preview

// structures describes each structure that has a region, at that region.
func structures(canvas string, s *subject) []node {
	var out []node
	for i, part := range s.pic.GetStructures() {
		r := part.GetRegion()
		if r == nil {
			continue
		}
		text := part.GetStructure()
		if c := part.GetCompleteness(); c != pb.Completeness_COMPLETENESS_UNSPECIFIED {
			text += " (" + enum(c.String(), "COMPLETENESS_") + ")"
		}
		x, w := wholePixels(r.GetX(), r.GetWidth(), s.width)
		y, h := wholePixels(r.GetY(), r.GetHeight(), s.height)
		out = append(out, node{
			"id": fmt.Sprintf("%s/structure/%d", canvas, i+1), "type": "Annotation", "motivation": "describing",
			"body":   node{"type": "TextualBody", "value": text, "format": "text/plain", "language": "en"},
			"target": fmt.Sprintf("%s#xywh=%d,%d,%d,%d", canvas, x, y, w, h),
		})
	}
	return out
}

// wholePixels turns a part of an edge, given in fractions, into whole pixels: at least one, and none beyond the edge (Presentation API 3.0, section 5.3).
func wholePixels(from, length float64, edge int) (start, size int) {
	at := func(f float64) int { return int(math.Round(min(1, max(0, f)) * float64(edge))) }
	start = min(at(from), edge-1)
	return start, max(1, at(from+length)-start)
}

// row is one line of metadata.
type row struct{ label, language, value string }

func filled(rows []row) []node {
	var out []node
	for _, r := range rows {
		if r.value != "" {
			out = append(out, statement(r.label, r.language, r.value))
		}
	}
	return out
}

// metadata says what the caller may see of a picture. Places are left out for everybody: a manifest is copied from hand to hand.
func (v *visit) metadata(ctx context.Context, pic *pb.Picture) ([]node, error) {
	specimen, err := v.specimen(ctx, pic.GetSpecimen())
	if err != nil {
		return nil, err
	}
	return filled([]row{
		{"Taxon", "none", taxonName(pic.GetIdentification())},
		{"Counts", "none", pic.GetCounts().GetFormula()},
		{"Kind", "en", enum(pic.GetKind().String(), "KIND_")},
		{"View", "en", enum(pic.GetView().String(), "VIEW_")},
		{"Stage", "en", enum(pic.GetStage().String(), "STAGE_")},
		{"Technique", "none", pic.GetTechnique()},
		{"Creator", "none", strings.Join(pic.GetCreators(), "; ")},
		{"Date", "none", pic.GetCreated()},
		{"Specimen", "none", specimen},
	}), nil
}

// specimen is institution and catalog number; nothing for a caller to whom the contract doesn't show the specimen.
func (v *visit) specimen(ctx context.Context, name string) (string, error) {
	if name == "" {
		return "", nil
	}
	s, err := v.archive.GetSpecimen(ctx, &pb.GetSpecimenRequest{Name: name})
	switch status.Code(err) {
	case codes.OK:
		return strings.TrimSpace(s.GetInstitution() + " " + s.GetCatalogNumber()), nil
	case codes.NotFound, codes.PermissionDenied:
		return "", nil
	default:
		return "", err
	}
}

func taxonName(id *pb.Identification) string {
	if id.GetQualifier() == "" {
		return id.GetScientificName()
	}
	genus, rest, ok := strings.Cut(id.GetScientificName(), " ")
	if !ok || id.GetQualifier() == "?" {
		return id.GetScientificName() + " " + id.GetQualifier()
	}
	return genus + " " + id.GetQualifier() + " " + rest // cf. and aff. stand before what is open
}

func summary(pic *pb.Picture) string {
	parts := []string{enum(pic.GetStage().String(), "STAGE_"), enum(pic.GetView().String(), "VIEW_") + " view"}
	if pic.GetView() == pb.View_VIEW_UNSPECIFIED {
		parts = parts[:1]
	}
	if pic.GetStage() == pb.Stage_STAGE_UNSPECIFIED {
		parts[0] = enum(pic.GetKind().String(), "KIND_")
	}
	text := strings.Join(parts, ", ")
	if name := taxonName(pic.GetIdentification()); name != "" {
		text = name + ": " + text
	}
	return text
}

// enum puts a value of the contract in words; nothing for one not stated.
func enum(value, prefix string) string {
	s := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(value, prefix), "_", " "))
	if s == "unspecified" {
		return ""
	}
	return s
}

func credit(pic *pb.Picture) string {
	if parts := pic.GetCreditParts(); len(parts) > 0 {
		return strings.Join(parts, " / ")
	}
	return strings.Join(pic.GetCreators(), ", ")
}
