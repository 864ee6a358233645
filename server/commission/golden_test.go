package commission

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
)

var update = flag.Bool("update", false, "write the golden files anew")

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), got); diff != "" {
		t.Errorf("%s differs (-want +got):\n%s", path, diff)
	}
}

// text renders a plan to be read.
func text(p *pb.Plan) string {
	var b strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&b, format+"\n", args...) }
	z := p.GetSize()
	line("%s: %s", p.GetTitle(), p.GetAcceptedName())
	line("SL %.4g mm (%s), in print %.4g mm, x%.3f", z.GetStandardLengthMm(), z.GetBasis(), z.GetPrintedStandardLengthMm(), z.GetMagnification())
	for _, r := range p.GetRemarks() {
		line("* %s", r)
	}
	if p.GetBody() != nil {
		line("\nBODY")
		candidateText(line, p.GetBody())
	}
	for _, s := range p.GetStructures() {
		line("\n%s, %s %s", strings.ToUpper(s.GetStructure()), rank.View(s.GetView()), s.GetNote())
		if s.GetGap() != "" {
			line("  gap: %s", s.GetGap())
		}
		for _, c := range s.GetChecked() {
			line("  checked: %s", c)
		}
		for _, c := range s.GetCandidates() {
			candidateText(line, c)
		}
	}
	line("\nCHOSEN")
	for _, c := range p.GetChosen() {
		line("  %s: %s", c.GetPicture(), strings.Join(c.GetStructures(), ", "))
	}
	line("\nEXPECTED")
	for _, e := range p.GetExpected() {
		hint := ""
		if e.GetFromRelative() {
			hint = ", a hint"
		}
		line("  %s: %s, %s%s", e.GetStructure(), e.GetText(), e.GetSource(), hint)
		for _, c := range e.GetCounts() {
			line("    %s %s %g-%g", c.GetCharacter(), c.GetElement(), c.GetMin(), c.GetMax())
		}
	}
	for _, m := range p.GetRayMaps() {
		line("\nBASES of the %s from %s, %s: %s", m.GetStructure(), m.GetPicture(), m.GetAcceptedName(), strings.Join(m.GetRemarks(), "; "))
		for _, r := range m.GetBases() {
			line("  %v %d: %.3f of the base, %.3f SL, %+.3f", r.GetSpine(), r.GetNumber(), r.GetOfBase(), r.GetOfStandardLength(), r.GetAboveMidline())
		}
	}
	return b.String()
}

func candidateText(line func(string, ...any), c *pb.PlanCandidate) {
	mark := " "
	if c.GetChosen() {
		mark = ">"
	}
	line("%s %s, %s, %s, %.2f points, mirror %v", mark, c.GetPicture().GetName(), c.GetAcceptedName(), rank.Completeness(c.GetCompleteness()), c.GetScore(), c.GetMirror())
	for _, r := range c.GetReasons() {
		line("    %+.2f %s", r.GetWeight(), r.GetText())
	}
	k := c.GetScale()
	line("    scale: %.5g mm/px (%.2f %%, %s), to size %.5g, factor %.3f, %.0f ppi", k.GetMmPerPixel(), 100*k.GetUncertainty(), k.GetBasis(), k.GetToSizeMmPerPixel(), k.GetFactor(), k.GetEffectivePpi())
	for _, l := range []struct {
		what  string
		lines []string
	}{{"scale problem", nonempty(k.GetProblem())}, {"scale warning", k.GetWarnings()}, {"differs", c.GetDifferences()}, {"damage", nonempty(c.GetDamage())}, {"rights", nonempty(c.GetRights())}, {"warning", c.GetWarnings()}} {
		for _, s := range l.lines {
			line("    %s: %s", l.what, s)
		}
	}
	for _, v := range c.GetProportions() {
		line("    %s %s/%s: %s", v.GetVerdict(), v.GetLength(), v.GetOver(), v.GetExplanation())
	}
}

func nonempty(s string) []string {
	if s == "" {
		return nil
	}
	return []string{s}
}

// TestPlan keeps a whole plan as it reads.
func TestPlan(t *testing.T) {
	golden(t, "plan.txt", text(stock(t).plan(t, wallPanel(), 3)))
}
