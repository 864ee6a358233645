package cli

import (
	"context"
	"encoding/csv"
	"strconv"
	"strings"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

// partyHistory writes all grants to and uses by a party: the columns that those who clear permissions keep.
func (a *App) partyHistory(ctx context.Context, c *client.Client, party, format string) error {
	var table *csv.Writer
	if format == "csv" {
		table = csv.NewWriter(a.Out)
		if err := table.Write(partyColumns); err != nil {
			return err
		}
	}
	req := &pb.ListHistoryRequest{Party: party}
	for first := true; ; first = false {
		res, err := c.Licensing.ListHistory(ctx, req)
		if err != nil {
			return err
		}
		if first && format == "text" {
			a.printf("Grants to and uses by %s (%s)\n", res.GetPartyName(), res.GetParty())
		}
		for _, e := range res.GetEntries() {
			switch format {
			case "json":
				err = a.printJSON(e)
			case "csv":
				err = writePartyRow(table, e)
			default:
				a.partyEntry(e)
			}
			if err != nil {
				return err
			}
		}
		if req.PageToken = res.GetNextPageToken(); req.PageToken != "" {
			continue
		}
		if format == "text" {
			a.printf("  as of commit %d, %.16s\n  %s\n", res.GetSequence(), res.GetHead(), res.GetCaution())
		}
		break
	}
	if table != nil {
		table.Flush()
		return table.Error()
	}
	return nil
}

var partyColumns = []string{"item", "title", "scientific_name", "description", "kind_of_clearance", "rights_holder", "date_granted", "restrictions", "credit_line", "fee", "currency",
	"voucher_copies", "from", "to", "state", "publication", "identifier", "copies", "record", "verdict", "remarks"}

func writePartyRow(table *csv.Writer, p *pb.PartyHistoryEntry) error {
	e := p.GetEntry()
	copies := ""
	if e.GetCopies() > 0 {
		copies = strconv.FormatInt(e.GetCopies(), 10)
	}
	row := []string{p.GetPicture(), p.GetTitle(), p.GetScientificName(), p.GetDescription(), clearance(e), p.GetRightsHolder(), e.GetSignedOn(), restrictions(e), e.GetCreditLine(),
		e.GetFee().GetAmount(), e.GetFee().GetCurrency(), p.GetEvidence(), e.GetFrom(), e.GetTo(), e.GetState(), e.GetTitle(), e.GetIdentifier(), copies, e.GetName(), e.GetVerdict(),
		strings.Join(e.GetRemarks(), ";")}
	for i, cell := range row {
		row[i] = SafeCell(cell)
	}
	return table.Write(row)
}

// clearance names the kind of permission: the terms of a grant, or that it is a use.
func clearance(e *pb.HistoryEntry) string {
	if e.GetKind() == "use" {
		return "use"
	}
	return e.GetTerms()
}

// restrictions are the limits of a grant, or the extent of a use, in one cell.
func restrictions(e *pb.HistoryEntry) string {
	var parts []string
	for _, list := range [][]string{e.GetMedia(), e.GetTerritories(), e.GetLanguages(), e.GetPurposes()} {
		if len(list) > 0 {
			parts = append(parts, strings.Join(list, ", "))
		}
	}
	return strings.Join(append(parts, days(e)), "; ")
}

func (a *App) partyEntry(p *pb.PartyHistoryEntry) {
	e := p.GetEntry()
	a.printf("  - %s  %s\n", p.GetPicture(), p.GetTitle())
	about := []string{}
	add := func(label, value string) {
		if value != "" {
			about = append(about, strings.TrimSpace(label+" "+value))
		}
	}
	add("", p.GetDescription())
	add("rights holder", p.GetRightsHolder())
	if len(about) > 0 {
		a.printf("      %s\n", strings.Join(about, "; "))
		about = about[:0]
	}
	add("", clearance(e))
	add("granted", e.GetSignedOn())
	add("", restrictions(e))
	add("", e.GetState())
	add("", e.GetTitle())
	add("", e.GetVerdict())
	if e.GetFee() != nil {
		add("fee", e.GetFee().GetAmount()+" "+e.GetFee().GetCurrency())
	}
	add("credit", e.GetCreditLine())
	add("voucher copies", p.GetEvidence())
	add("", e.GetName())
	a.printf("      %s\n", strings.Join(about, "; "))
	for _, r := range e.GetRemarks() {
		a.printf("      ! %s\n", r)
	}
}
