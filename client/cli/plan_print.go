package cli

import (
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	pb "platarium/proto/platarium/v1"
)

// planText writes a plan for a person.
type planText struct {
	w     io.Writer
	short bool
}

func (t planText) line(format string, args ...any) { _, _ = fmt.Fprintf(t.w, format+"\n", args...) }

// PrintPlan writes a plan for a person: structure by structure what serves it, why, at which factor, and what is missing; then what is to be known of each
// picture, and the counts. If short, it keeps to the pictures chosen.
func PrintPlan(w io.Writer, p *pb.Plan, short bool) {
	t := planText{w, short}
	head := p.GetTitle()
	if p.GetBrief() != "" {
		head += " (" + p.GetBrief() + ")"
	}
	t.line("Plan for %s: %s", head, p.GetAcceptedName())
	t.size(p.GetSize())
	if b := p.GetBody(); b != nil {
		t.line("  body: %s", candidateLine(b))
		t.candidate("        ", b)
	} else {
		t.line("  body: none with a scale")
	}
	for _, s := range p.GetStructures() {
		t.structure(s)
	}
	pictures := picturesOf(p)
	t.use(p.GetChosen(), pictures)
	if !short {
		t.about(pictures)
		t.counts(p.GetExpected())
		t.rays(p.GetRayMaps())
	}
	for _, r := range p.GetRemarks() {
		t.line("! %s", r)
	}
}

func (t planText) size(s *pb.PlanSize) {
	if s == nil {
		return
	}
	text := "  size unknown"
	if s.GetStandardLengthMm() > 0 {
		text = fmt.Sprintf("  %s mm SL", short3(s.GetStandardLengthMm()))
		if s.GetBasis() != "" {
			text += " (" + s.GetBasis() + ")"
		}
	}
	if s.GetPrintedStandardLengthMm() > 0 {
		text += fmt.Sprintf(", printed at %s mm SL", short3(s.GetPrintedStandardLengthMm()))
	}
	if s.GetMagnification() > 0 {
		text += fmt.Sprintf(", %s times true size", short3(s.GetMagnification()))
	}
	t.line("%s", text)
}

func (t planText) structure(s *pb.PlanStructure) {
	t.line("\n%s", inView(s.GetStructure(), s.GetView()))
	if s.GetNote() != "" {
		t.line("  note: %s", s.GetNote())
	}
	for i, c := range s.GetCandidates() {
		switch {
		case c.GetChosen():
			t.line("  use %s", candidateLine(c))
		case t.short:
			continue
		default:
			t.line("  %3d %s", i+1, candidateLine(c))
		}
		t.candidate("      ", c)
	}
	if s.GetGap() != "" {
		t.line("  missing: %s", s.GetGap())
	}
	for _, c := range s.GetChecked() {
		t.line("  checked: %s", c)
	}
}

// candidateLine names a picture and how well it shows the structure.
func candidateLine(c *pb.PlanCandidate) string {
	text := fmt.Sprintf("%s  %s  (%s)", c.GetPicture().GetName(), c.GetPicture().GetTitle(), c.GetAcceptedName())
	if shown := word(c.GetCompleteness()); shown != "" {
		text += "; " + shown
	}
	if c.GetMirror() {
		text += "; mirrored"
	}
	return text
}

// candidate writes why a picture stands where it does for a structure, how much it is enlarged, and what of it must not be copied.
func (t planText) candidate(indent string, c *pb.PlanCandidate) {
	if why := reasonTexts(c.GetReasons()); why != "" {
		t.line("%swhy: %s", indent, why)
	}
	if s := c.GetScale(); s != nil {
		t.line("%s%s", indent, inPrint(s))
	}
	for _, d := range c.GetDifferences() {
		t.line("%s! don't copy: %s", indent, d)
	}
	if c.GetDamage() != "" {
		t.line("%sdamage: %s", indent, c.GetDamage())
	}
}

// plannedPicture is a picture of a plan with the cautions of every structure for which it could serve.
type plannedPicture struct {
	*pb.PlanCandidate
	cautions []string
}

// picturesOf lists every picture of a plan once, in the order in which it names them.
func picturesOf(p *pb.Plan) []plannedPicture {
	var out []plannedPicture
	at := map[string]int{}
	add := func(c *pb.PlanCandidate) {
		name := c.GetPicture().GetName()
		if _, known := at[name]; !known && c != nil {
			at[name] = len(out)
			out = append(out, plannedPicture{PlanCandidate: c})
		}
		for _, w := range c.GetWarnings() {
			if l := &out[at[name]].cautions; !slices.Contains(*l, w) {
				*l = append(*l, w)
			}
		}
	}
	add(p.GetBody())
	for _, s := range p.GetStructures() {
		for _, c := range s.GetCandidates() {
			add(c)
		}
	}
	return out
}

// about writes once for each picture what holds for all of it: scale, proportions and cautions.
func (t planText) about(list []plannedPicture) {
	if len(list) == 0 {
		return
	}
	t.line("\nThe pictures")
	for _, c := range list {
		t.line("  %s  %s  (%s)", c.GetPicture().GetName(), c.GetPicture().GetTitle(), c.GetAcceptedName())
		if s := c.GetScale(); s != nil {
			t.line("      scale: %s", scaleLine(s))
			for _, w := range s.GetWarnings() {
				t.line("      ! %s", w)
			}
		}
		var agreeing []string
		for _, v := range c.GetProportions() {
			switch v.GetVerdict() {
			case agrees:
				agreeing = append(agreeing, v.GetLength()+"/"+v.GetOver())
			case outside:
				t.line("      ! proportion outside: %s", proportionLine(v))
			}
		}
		if agreeing != nil {
			slices.Sort(agreeing)
			t.line("      proportions that agree: %s", strings.Join(slices.Compact(agreeing), ", "))
		}
		if c.GetRights() != "" {
			t.line("      rights: %s", c.GetRights())
		}
		for _, w := range c.cautions {
			t.line("      ! %s", w)
		}
	}
}

func reasonTexts(list []*pb.Reason) string {
	texts := make([]string, len(list))
	for i, r := range list {
		texts[i] = r.GetText()
	}
	return strings.Join(texts, "; ")
}

// scaleLine writes what a pixel stands for, and on what that rests.
func scaleLine(s *pb.PictureScale) string {
	if s.GetMmPerPixel() == 0 {
		return "unknown: " + s.GetProblem()
	}
	text := short3(s.GetMmPerPixel()) + " mm a pixel"
	if s.GetUncertainty() > 0 {
		text += fmt.Sprintf(" ± %s %%", strconv.FormatFloat(100*s.GetUncertainty(), 'f', 1, 64))
	}
	if s.GetBasis() != "" {
		text += ", " + s.GetBasis()
	}
	if s.GetProblem() != "" {
		text += "; doubtful: " + s.GetProblem()
	}
	return text
}

// inPrint writes what becomes of a picture in print.
func inPrint(s *pb.PictureScale) string {
	if s.GetFactor() == 0 {
		return "factor unknown"
	}
	text := "factor " + short3(s.GetFactor())
	if s.GetEffectivePpi() > 0 {
		text += fmt.Sprintf(", %.0f ppi in print", s.GetEffectivePpi())
	}
	return text
}

// use lists the pictures chosen, with what has to be asked before more than facts are taken from them.
func (t planText) use(list []*pb.ChosenPicture, known []plannedPicture) {
	if len(list) == 0 {
		return
	}
	t.line("\nPictures to use")
	for _, c := range list {
		t.line("  %s  %s  (%s): %s", c.GetPicture(), c.GetTitle(), c.GetAcceptedName(), strings.Join(c.GetStructures(), ", "))
		for _, k := range known {
			if t.short && k.GetPicture().GetName() == c.GetPicture() && k.GetRights() != "" { // else it stands with the picture
				t.line("      rights: %s", k.GetRights())
			}
		}
	}
}

// counts writes each count once: a formula has several intervals.
func (t planText) counts(list []*pb.ExpectedCount) {
	if len(list) == 0 {
		return
	}
	t.line("\nCounts to draw")
	said := map[string]bool{}
	for _, e := range list {
		text := e.GetText()
		if e.GetStructure() != "" {
			text = e.GetStructure() + ": " + text
		}
		hint := ""
		if e.GetFromRelative() {
			hint = ", a hint only"
		}
		text = fmt.Sprintf("  %s  (%s%s)", text, e.GetSource(), hint)
		if !said[text] {
			said[text] = true
			t.line("%s", text)
		}
	}
}

func (t planText) rays(list []*pb.RayMap) {
	if len(list) == 0 {
		return
	}
	t.line("\nRay bases, standard lengths behind the snout tip")
	for _, m := range list {
		t.line("  %s, after %s (%s)", m.GetStructure(), m.GetPicture(), m.GetAcceptedName())
		for _, kind := range []struct {
			label string
			spine bool
		}{{"spines", true}, {"rays", false}} {
			var at []string
			for _, b := range m.GetBases() {
				if b.GetSpine() == kind.spine {
					at = append(at, strconv.FormatFloat(b.GetOfStandardLength(), 'f', 3, 64))
				}
			}
			if len(at) > 0 {
				t.line("    %d %s: %s", len(at), kind.label, strings.Join(at, " "))
			}
		}
		for _, r := range m.GetRemarks() {
			t.line("    ! %s", r)
		}
	}
}

// short3 writes a number with three significant digits.
func short3(v float64) string { return strconv.FormatFloat(v, 'g', 3, 64) }
