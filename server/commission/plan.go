package commission

import (
	"fmt"
	"slices"
	"strings"

	"platarium/indexer/rank"
	pb "platarium/proto/platarium/v1"
	"platarium/server/plan"
	"platarium/server/scale"
)

// plan chooses, and puts everything into the message.
func (j *job) plan(show int) (*pb.Plan, error) {
	maps := j.rayMaps() // of all that was found, before it is cut
	expected := j.expected()
	if err := j.choose(show); err != nil {
		return nil, err
	}
	out := &pb.Plan{
		Brief: j.brief.GetName(), Title: j.brief.GetTitle(), AcceptedName: j.taxon.GetScientificName(), Taxon: j.taxon.GetName(), Sequence: j.sequence,
		Size: j.size.message(), Expected: expected, RayMaps: maps,
	}
	for i := range j.wanted {
		out.Structures = append(out.Structures, j.structure(&j.wanted[i]))
	}
	out.Chosen = j.chosen()
	if j.body != nil {
		body, err := j.bodyMessage()
		if err != nil {
			return nil, err
		}
		out.Body = body
	}
	if _, doubts := published(j.taxon); len(doubts) > 0 {
		for _, d := range doubts {
			j.remark("a published proportion can't be compared: %s", d)
		}
	}
	out.Remarks = j.remarks
	return out, nil
}

func (j *job) structure(w *want) *pb.PlanStructure {
	out := &pb.PlanStructure{Structure: w.structure, View: pb.View(w.view), Note: w.note}
	chosen := -1
	var shown []plan.Shown
	for i, u := range w.uses {
		if u.chosen && chosen < 0 {
			chosen = i
		}
		out.Candidates = append(out.Candidates, j.candidate(w.structure, w.view, u))
		shown = append(shown, u.shown())
	}
	out.Gap = plan.Gap(w.structure, w.view, shown, chosen)
	for _, c := range j.brief.GetChecked() {
		if plan.Fold(c.GetStructure()) == w.structure {
			out.Checked = append(out.Checked, checkedText(c))
		}
	}
	return out
}

func checkedText(c *pb.CheckedCount) string {
	text := fmt.Sprintf("%s on %s against %s", c.GetCheckedBy(), c.GetCheckedOn(), c.GetAgainst())
	if c.GetFormula() != "" {
		text = c.GetFormula() + ", " + text
	}
	if c.GetNote() != "" {
		text += ": " + c.GetNote()
	}
	return text
}

// candidate puts one use into a message.
func (j *job) candidate(structure string, view rank.View, u *use) *pb.PlanCandidate {
	out := &pb.PlanCandidate{
		Picture: u.Picture, AcceptedName: u.animal, Chosen: u.chosen, Score: u.score, Completeness: pb.Completeness(u.completeness), Region: u.region, Mirror: u.mirror,
		Scale: j.scaleMessage(u.sight), Damage: u.damage(structure), Rights: u.rights.text, Proportions: verdicts(j.held(u.sight), false),
	}
	if u.fixed != "" {
		out.Reasons = append(out.Reasons, &pb.Reason{Kind: "choice", Text: u.fixed})
	}
	for _, r := range u.reasons {
		out.Reasons = append(out.Reasons, &pb.Reason{Kind: r.Kind, Text: r.Text, Weight: r.Weight})
	}
	for _, d := range u.differing {
		out.Differences = append(out.Differences, d.Text(u.animal))
	}
	out.Warnings = j.warnings(view, u)
	return out
}

// damage tells in words what a picture shows damaged.
func (u *use) damage(structure string) string {
	var parts []string
	switch u.completeness {
	case rank.Damaged, rank.Partial, rank.Reconstructed:
		parts = append(parts, structure+" "+u.completeness.String())
	default:
	}
	if u.note != "" && len(parts) > 0 {
		parts[0] += ": " + u.note
	}
	if d := u.specimen.GetDamage(); d != "" {
		parts = append(parts, u.specimen.GetName()+": "+d)
	}
	return strings.Join(parts, "; ")
}

// warnings lists what else to keep in mind of a picture.
func (j *job) warnings(view rank.View, u *use) []string {
	var out []string
	if u.mirror {
		out = append(out, fmt.Sprintf("%s: mirror it", u.rank.View))
	} else if v := u.rank.View; v != view && v != rank.AnyView {
		out = append(out, fmt.Sprintf("%s instead of %s", v, view))
	}
	if q := u.GetIdentification().GetQualifier(); q != "" {
		out = append(out, "its identification is open: "+q)
	}
	for _, d := range j.deformations(u.sight) {
		out = append(out, d.Explanation)
	}
	for _, d := range []struct{ what, here, there string }{
		{"sex", j.specimen.GetSex(), u.specimen.GetSex()}, {"life stage", j.specimen.GetLifeStage(), u.specimen.GetLifeStage()},
	} {
		if d.here != "" && d.there != "" && !strings.EqualFold(d.here, d.there) {
			out = append(out, fmt.Sprintf("%s: %s instead of %s", d.what, d.there, d.here))
		}
	}
	if u.region == nil && u.as != "" {
		out = append(out, "the "+u.as+" is not outlined in it")
	}
	if short, _ := scale.ShrinkageNote(u.specimen.GetPreservation(), u.scaled.standardLength); short != "" {
		out = append(out, "specimen "+short)
	}
	return out
}

// bodyMessage puts the body into a candidate of its own.
func (j *job) bodyMessage() (*pb.PlanCandidate, error) {
	u := &use{sight: j.body, mirror: plan.Mirror(j.body.rank.View, j.view, j.lineage, j.ranking), chosen: true}
	scorer := rank.New(j.ranking, rank.Wanted{Lineage: j.lineage, Counts: countsOf(j.target), View: j.view})
	u.score, u.reasons = scorer.Score(u.sight.rank), scorer.Reasons(u.sight.rank)
	if j.brief.GetBody() == j.body.GetName() {
		u.fixed = "chosen by hand as true to life"
	}
	var err error
	if u.rights, err = j.rightsOf(j.body); err != nil {
		return nil, err
	}
	return j.candidate("body", j.view, u), nil
}

// chosen lists the pictures in use with what each serves, in the order of the structures.
func (j *job) chosen() []*pb.ChosenPicture {
	var out []*pb.ChosenPicture
	for i := range j.wanted {
		w := &j.wanted[i]
		for _, u := range w.uses {
			if !u.chosen {
				continue
			}
			k := slices.IndexFunc(out, func(c *pb.ChosenPicture) bool { return c.GetPicture() == u.GetName() })
			if k < 0 {
				k = len(out)
				out = append(out, &pb.ChosenPicture{Picture: u.GetName(), Title: u.GetTitle(), AcceptedName: u.animal})
			}
			out[k].Structures = append(out[k].Structures, w.structure)
		}
	}
	return out
}
