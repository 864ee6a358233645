package demo

import (
	"context"
	"fmt"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// FillBriefs enters the studio's commissions with the work done for them, and delivers those with a plate. Names maps works to pictures, specimens the
// studio's specimens to those of the archive. All of it can be done again: what is there stays.
func FillBriefs(ctx context.Context, c *client.Client, names, specimens map[string]string) error {
	for _, b := range Briefs() {
		record, err := b.record(names, specimens)
		if err != nil {
			return fmt.Errorf("brief %s: %w", b.Key, err)
		}
		_, err = c.Commission.CreateBrief(ctx, &pb.CreateBriefRequest{Brief: record, BriefId: id(b.Key), RequestId: "demo-brief-" + b.Key})
		if err := unlessThere(err); err != nil {
			return fmt.Errorf("brief %s: %w", b.Key, err)
		}
		if b.Plate == "" {
			continue
		}
		there, err := c.Commission.GetBrief(ctx, &pb.GetBriefRequest{Name: "briefs/" + id(b.Key)})
		if err != nil {
			return fmt.Errorf("brief %s: %w", b.Key, err)
		}
		if there.GetPlate() != "" {
			continue
		}
		works, err := pictures(names, append([]string{b.Plate}, b.Copied...))
		if err != nil {
			return fmt.Errorf("brief %s: %w", b.Key, err)
		}
		_, err = c.Commission.DeliverBrief(ctx, &pb.DeliverBriefRequest{Name: there.GetName(), Plate: works[0], Copied: works[1:], RequestId: "demo-delivery-" + b.Key})
		if err != nil {
			return fmt.Errorf("brief %s: deliver: %w", b.Key, err)
		}
	}
	return nil
}

func (b Brief) record(names, specimens map[string]string) (*pb.Brief, error) {
	views := map[string]pb.View{"left lateral": pb.View_VIEW_LEFT_LATERAL, "dorsal": pb.View_VIEW_DORSAL}
	out := &pb.Brief{
		Title: b.Title, Job: b.Job, Identification: &pb.Identification{ScientificName: b.Species}, Printed: &pb.PrintedSize{Measurement: "TL", LengthMm: b.PrintedMM},
		Rendering: pb.Rendering_RENDERING_TONE, Exclusivity: pb.Exclusivity_EXCLUSIVITY_NON_EXCLUSIVE, Client: "parties/" + id(b.Client), DueOn: b.Due,
		Use: &pb.Scope{Media: []string{b.Medium}, Territories: []string{b.Territory}, Languages: []string{b.Language}, From: b.Due},
	}
	if b.Line {
		out.Rendering = pb.Rendering_RENDERING_LINE
	}
	for _, v := range b.Views {
		out.Views = append(out.Views, views[v])
	}
	for _, s := range b.Structures {
		out.Structures = append(out.Structures, &pb.WantedStructure{Structure: s})
	}
	specimen := func(key string) (string, error) {
		if specimens[key] == "" {
			return "", fmt.Errorf("%w: specimen %s was not imported", ErrStudio, key)
		}
		return specimens[key], nil
	}
	var err error
	if b.Specimen != "" {
		if out.Specimen, err = specimen(b.Specimen); err != nil {
			return nil, err
		}
	}
	for _, s := range b.Studies {
		work, err := pictures(names, []string{s.Work})
		if err != nil {
			return nil, err
		}
		out.Studies = append(out.Studies, &pb.BriefStudy{Picture: work[0], Structures: s.Structures})
	}
	for _, t := range b.Ticks {
		against, err := specimen(t.Specimen)
		if err != nil {
			return nil, err
		}
		out.Checked = append(out.Checked, &pb.CheckedCount{Structure: t.Structure, Formula: t.Formula, CheckedBy: t.By, CheckedOn: t.On, Against: against})
	}
	return out, nil
}
