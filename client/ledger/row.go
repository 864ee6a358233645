package ledger

import (
	"crypto/sha256"
	"encoding/hex"
	"strings"

	"google.golang.org/protobuf/proto"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
)

// row is one row, read.
type row struct {
	grant         *pb.Grant
	licensee      string // as written
	number        string // in the old ledger
	document      string // file of the signed document
	fee, currency string
}

// read reads the cells of a row; the faults name their columns.
func read(t *table, rec record) (*row, []string) {
	r := &row{grant: &pb.Grant{Status: pb.GrantStatus_GRANT_STATUS_EXECUTED, Scope: &pb.Scope{}}}
	if rec.torn != "" {
		return r, []string{rec.torn}
	}
	var faults []string
	for i, c := range t.columns {
		cell := rec.cells[i]
		switch {
		case cell != "":
			if err := c.set(r, cell); err != nil {
				faults = append(faults, c.Name+": "+err.Error())
			}
		case c.Required && (c.Name != "licensee" || !public(t, rec)):
			faults = append(faults, c.Name+": is empty; want "+c.Meaning)
		}
	}
	if len(r.grant.GetScope().GetLanguages()) == 0 {
		r.grant.Scope.Languages = []string{"*"}
	}
	if err := r.money(); err != nil {
		faults = append(faults, "fee: "+err.Error())
	}
	if r.number != "" {
		r.grant.Notes = strings.TrimSpace("No. " + r.number + " of the old ledger. " + r.grant.GetNotes())
	}
	return r, faults
}

// public says whether a row is about a public licence, which is to nobody in particular.
func public(t *table, rec record) bool {
	for i, c := range t.columns {
		if c.Name == "kind" {
			return strings.EqualFold(rec.cells[i], "public")
		}
	}
	return false
}

// id derives from what the row says, so that the same row is the same grant however often it is imported.
func (r *row) id() (string, error) {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(r.grant)
	if err != nil {
		return "", err
	}
	sum := sha256.Sum256(b)
	return "ledger-" + hex.EncodeToString(sum[:10]), nil
}

// asGrant is a row in the terms of package rights, to be tried against the rows before it.
func (r *row) asGrant(id string) rights.Grant {
	g := r.grant
	day := func(s string) rights.Date {
		d, _ := rights.ParseDate(s) // read once already
		return d
	}
	s := g.GetScope()
	return rights.Grant{
		ID: id, To: g.GetLicensee(), Kind: kinds[g.GetKind()], Exclusivity: exclusivities[g.GetExclusivity()], Status: statuses[g.GetStatus()], Signed: day(g.GetSignedOn()),
		Scope: rights.Scope{
			Works: s.GetWorks(), Media: s.GetMedia(), Territory: s.GetTerritories(), Languages: s.GetLanguages(), Purposes: s.GetPurposes(),
			From: day(s.GetFrom()), To: day(s.GetTo()),
		},
	}
}

var kinds = map[pb.GrantKind]rights.Kind{
	pb.GrantKind_GRANT_KIND_SUBLICENCE: rights.Sublicence, pb.GrantKind_GRANT_KIND_ASSIGNMENT: rights.Assignment,
	pb.GrantKind_GRANT_KIND_HOLDBACK: rights.Holdback, pb.GrantKind_GRANT_KIND_OPTION: rights.Option, pb.GrantKind_GRANT_KIND_PUBLIC: rights.Public,
}

var exclusivities = map[pb.Exclusivity]rights.Exclusivity{
	pb.Exclusivity_EXCLUSIVITY_SOLE: rights.Sole, pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE: rights.Exclusive, pb.Exclusivity_EXCLUSIVITY_FIRST_RIGHTS: rights.FirstRights,
}

var statuses = map[pb.GrantStatus]rights.Status{
	pb.GrantStatus_GRANT_STATUS_OFFERED: rights.Offered, pb.GrantStatus_GRANT_STATUS_EXECUTED: rights.Executed, pb.GrantStatus_GRANT_STATUS_VOID: rights.Void,
}
