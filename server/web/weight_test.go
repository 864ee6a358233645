package web_test

import (
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
)

// mostWeight is the most that a page of hits may weigh with its style sheet and scripts, and without the previews, bytes as sent.
const mostWeight = 150_000

// TestSearchIsLight weighs a full page of hits with all that it loads.
func TestSearchIsLight(t *testing.T) {
	h := open(t, nil)
	for i := range 40 {
		p := &pb.Picture{
			Kind: pb.Kind_KIND_PLATE, Title: fmt.Sprintf("Perca fluviatilis, left lateral, final art, number %d of a long series", i), Identification: &pb.Identification{ScientificName: "Perca fluviatilis"},
			View: pb.View_VIEW_LEFT_LATERAL, Stage: pb.Stage_STAGE_FINAL_ART, Counts: &pb.Counts{Formula: "D XIV,I,14; A II,9; P 14; V I,5; C 17; LL 60"}, Creators: []string{fmt.Sprintf("Illustrator %d", i)}, Created: fmt.Sprint(1980 + i),
		}
		for _, s := range []string{"head", "mouth", "eye", "opercle", "first dorsal fin", "second dorsal fin", "anal fin", "caudal fin", "pectoral fin", "pelvic fin", "lateral line", "scales"} {
			p.Structures = append(p.Structures, &pb.Structure{Structure: s, Completeness: pb.Completeness_COMPLETENESS_COMPLETE})
		}
		must(t)(h.archive.CreatePicture(t.Context(), system, p, fmt.Sprintf("perch-%02d", i)))
	}
	v := h.visit(t, "assistant")
	page := v.get("/search?near=Perca+fluviatilis&counts=D+XIV,I,14&structures=opercle,+anal+fin&view=left+lateral&printed=120&q=final")
	if page.code != http.StatusOK || strings.Count(page.text, `class="find"`) < 20 {
		t.Fatalf("the page was answered %d with %d hits", page.code, strings.Count(page.text, `class="find"`))
	}
	weight := len(page.text)
	for _, m := range regexp.MustCompile(`(?:href|src)="(/assets/[^"]+)"`).FindAllStringSubmatch(page.text, -1) {
		weight += len(v.get(m[1]).text)
	}
	if weight > mostWeight {
		t.Errorf("a page of hits weighs %d bytes with what it loads; want at most %d", weight, mostWeight)
	}
	t.Logf("a page of hits weighs %d bytes, %d of them the page itself", weight, len(page.text))
}
