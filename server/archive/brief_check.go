package archive

import (
	"errors"
	"math"
	"slices"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
)

// PrepareBrief fills what the server finds out by itself and verifies a brief that isn't to be kept.
func (a *Archive) PrepareBrief(b *pb.Brief) (*pb.Brief, error) {
	next, _ := proto.Clone(b).(*pb.Brief)
	if err := a.prepareBrief(next); err != nil {
		return nil, err
	}
	if strings.TrimSpace(next.GetTitle()) == "" {
		next.Title = "without a title"
	}
	return next, a.dry(func(v *View) error { return v.validBrief(next) })
}

func (a *Archive) prepareBrief(b *pb.Brief) error {
	var c checks
	a.resolveIdentification(&c, "identification", b.Identification)
	readCounts(&c, "counts", b.Counts)
	for _, w := range b.GetStructures() {
		w.Structure = normalStructure(w.GetStructure())
	}
	for _, ch := range b.GetChoices() {
		ch.Structure = normalStructure(ch.GetStructure())
	}
	for _, s := range b.GetStudies() {
		for i, structure := range s.GetStructures() {
			s.Structures[i] = normalStructure(structure)
		}
	}
	for i, ch := range b.GetChecked() {
		ch.Structure = normalStructure(ch.GetStructure())
		if ch.GetFormula() != "" {
			readCounts(&c, indexed("checked", i), &pb.Counts{Formula: ch.GetFormula()})
		}
	}
	return c.err()
}

func (v *View) validBrief(b *pb.Brief) error {
	var c checks
	if strings.TrimSpace(b.GetTitle()) == "" {
		c.add("title", "is missing; want what the commission is called")
	}
	c.text("title", b.GetTitle(), maxTitle)
	c.text("job", b.GetJob(), maxWord)
	c.text("notes", b.GetNotes(), maxText)
	c.identification("identification", b.GetIdentification())
	if b.GetIdentification().GetTaxon() == "" {
		c.add("identification", "is missing; want the animal to be drawn, as taxa/{id} or a scientific name")
	}
	c.known("rendering", int32(b.GetRendering()), pb.Rendering_name)
	c.known("exclusivity", int32(b.GetExclusivity()), pb.Exclusivity_name)
	for i, view := range b.GetViews() {
		c.known(indexed("views", i), int32(view), pb.View_name)
	}
	c.printed(b.GetPrinted())
	c.day("due_on", b.GetDueOn())
	c.intended(b.GetUse(), v.today())
	err := errors.Join(
		v.mustExist(&c, "identification.taxon", b.GetIdentification().GetTaxon(), Taxa, false),
		v.mustExist(&c, "specimen", b.GetSpecimen(), Specimens, false),
		v.mustExist(&c, "client", b.GetClient(), Parties, false),
		v.mustExist(&c, "body", b.GetBody(), Pictures, false),
		v.briefParts(&c, b))
	if err != nil {
		return err
	}
	return c.err()
}

// briefParts verifies the lists of a brief.
func (v *View) briefParts(c *checks, b *pb.Brief) error {
	for _, l := range []struct {
		field string
		n     int
	}{{"structures", len(b.GetStructures())}, {"choices", len(b.GetChoices())}, {"studies", len(b.GetStudies())}, {"checked", len(b.GetChecked())}, {"views", len(b.GetViews())}} {
		if l.n > maxList {
			c.add(l.field, "has %d entries; want at most %d", l.n, maxList)
			return nil
		}
	}
	structure := func(field, s string) {
		if s == "" {
			c.add(field, "is empty; want the part's name, such as first dorsal fin")
		}
		c.text(field, s, maxWord)
	}
	var err error
	for i, w := range b.GetStructures() {
		structure(indexed("structures", i)+".structure", w.GetStructure())
		c.known(indexed("structures", i)+".view", int32(w.GetView()), pb.View_name)
		c.text(indexed("structures", i)+".note", w.GetNote(), maxText)
	}
	for i, ch := range b.GetChoices() {
		structure(indexed("choices", i)+".structure", ch.GetStructure())
		c.text(indexed("choices", i)+".note", ch.GetNote(), maxText)
		err = errors.Join(err, v.mustExist(c, indexed("choices", i)+".picture", ch.GetPicture(), Pictures, true))
	}
	for i, s := range b.GetStudies() {
		c.text(indexed("studies", i)+".note", s.GetNote(), maxText)
		err = errors.Join(err, v.mustExist(c, indexed("studies", i)+".picture", s.GetPicture(), Pictures, true))
	}
	for i, ch := range b.GetChecked() {
		field := indexed("checked", i)
		structure(field+".structure", ch.GetStructure())
		c.text(field+".note", ch.GetNote(), maxText)
		c.text(field+".formula", ch.GetFormula(), maxTitle)
		c.text(field+".checked_by", ch.GetCheckedBy(), maxWord)
		c.text(field+".against", ch.GetAgainst(), maxTitle)
		if strings.TrimSpace(ch.GetCheckedBy()) == "" {
			c.add(field+".checked_by", "is missing; want who verified it")
		}
		if strings.TrimSpace(ch.GetAgainst()) == "" {
			c.add(field+".against", "is missing; want a citation, a specimen or a picture that it was held against")
		}
		if ch.GetCheckedOn() == "" {
			c.add(field+".checked_on", "is missing; want the day")
		}
		c.day(field+".checked_on", ch.GetCheckedOn())
	}
	return err
}

func (c *checks) printed(p *pb.PrintedSize) {
	if p == nil {
		return
	}
	if !slices.Contains([]string{"", "SL", "FL", "TL"}, p.GetMeasurement()) {
		c.add("printed.measurement", "found %q; want SL, FL or TL", p.GetMeasurement())
	}
	const longest = 20_000 // mm: longer than any fish that swims (whale shark, below 20 m; common practice, no source)
	if mm := p.GetLengthMm(); math.IsNaN(mm) || mm <= 0 || mm > longest {
		c.add("printed.length_mm", "found %v; want millimeters above 0 and at most %d", mm, longest)
	}
}

// intended verifies that the intended use can be asked about.
func (c *checks) intended(use *pb.Scope, today time.Time) {
	if use == nil {
		return
	}
	if len(use.GetWorks()) > 0 {
		c.add("use.works", "found %q; want none: what is to be drawn isn't there yet", use.GetWorks())
		return
	}
	asked, _ := proto.Clone(use).(*pb.Scope)
	asked.Works = []string{"*"}
	var found checks
	found.scope("use", asked, today)
	for _, v := range found.found {
		c.add("use."+strings.TrimPrefix(strings.TrimPrefix(v.Field, "scope."), "use."), "%s", v.Description)
	}
}
