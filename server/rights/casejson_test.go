package rights

import (
	"encoding/json"
	"errors"
	"fmt"
)

// caseDate reads a date or null.
type caseDate struct{ Date }

func (d *caseDate) UnmarshalJSON(raw []byte) error {
	var s *string
	if err := json.Unmarshal(raw, &s); err != nil || s == nil {
		return err
	}
	var err error
	d.Date, err = ParseDate(*s)
	return err
}

// oneOrMany reads a string or a list of strings.
type oneOrMany []string

func (l *oneOrMany) UnmarshalJSON(raw []byte) error {
	if len(raw) > 0 && raw[0] == '"' {
		var s string
		if err := json.Unmarshal(raw, &s); err != nil {
			return err
		}
		if s != "" {
			*l = []string{s}
		}
		return nil
	}
	return json.Unmarshal(raw, (*[]string)(l))
}

type caseScope struct {
	Works   oneOrMany `json:"works"`
	Media   oneOrMany `json:"media"`
	Terr    oneOrMany `json:"terr"`
	Lang    oneOrMany `json:"lang"`
	Purpose oneOrMany `json:"purpose"`
	From    caseDate  `json:"from"`
	ToDate  caseDate  `json:"to_date"`
}

func (s caseScope) scope() Scope {
	return Scope{Works: s.Works, Media: s.Media, Territory: s.Terr, Languages: s.Lang, Purposes: s.Purpose, From: s.From.Date, To: s.ToDate.Date}
}

type caseGrant struct {
	caseScope
	ID         string    `json:"id"`
	To         string    `json:"to"`
	Affiliates oneOrMany `json:"affiliates"`
	Kind       string    `json:"kind"`
	Head       string    `json:"head"`
	Survives   bool      `json:"survives"`
	Mode       string    `json:"mode"`
	Until      caseDate  `json:"until"`
	URI        string    `json:"uri"`
	Excl       string    `json:"excl"`
	ExclTo     caseDate  `json:"excl_to"`
	Reserved   oneOrMany `json:"reserved"`
	TermEvent  *struct {
		Anchor string   `json:"anchor"`
		Months int      `json:"months"`
		Date   caseDate `json:"date"`
	} `json:"term_event"`
	FirstPub         caseDate  `json:"first_pub"`
	FirstPubDeadline caseDate  `json:"first_pub_deadline"`
	EmbargoUntil     caseDate  `json:"embargo_until"`
	Signed           caseDate  `json:"signed"`
	Status           string    `json:"status"`
	Amends           string    `json:"amends"`
	Supersedes       oneOrMany `json:"supersedes"`
	Effective        caseDate  `json:"effective"`
	Ended            caseDate  `json:"ended"`
	SelloffTo        caseDate  `json:"selloff_to"`
	SubjectTo        oneOrMany `json:"subject_to"`
	CopiesMax        int64     `json:"copies_max"`
	CopiesDone       int64     `json:"copies_done"`
	UsesMax          int64     `json:"uses_max"`
	UsesDone         int64     `json:"uses_done"`
	Product          string    `json:"product"`
	Credit           string    `json:"credit"`
	EvidenceDue      caseDate  `json:"evidence_due"`
	PaymentCondition bool      `json:"payment_condition"`
	Paid             bool      `json:"paid"`
	Note             string    `json:"note"`
}

// pick looks a word of the file up.
func pick[T any](word string, words map[string]T) (T, error) {
	v, ok := words[word]
	if !ok {
		return v, fmt.Errorf("unknown word %q", word)
	}
	return v, nil
}

func (c caseGrant) grant() (Grant, error) {
	kind, err1 := pick(c.Kind, map[string]Kind{"licence": Licence, "sublicence": Sublicence, "assignment": Assignment,
		"holdback": Holdback, "option": Option, "public": Public})
	excl, err2 := pick(c.Excl, exclusivities())
	status, err3 := pick(c.Status, map[string]Status{"draft": Draft, "offered": Offered, "executed": Executed, "void": Void})
	mode, err4 := pick(c.Mode, map[string]Mode{"": ThirdParty, "third-party": ThirdParty, "all": Everyone})
	g := Grant{
		ID: c.ID, To: c.To, Affiliates: c.Affiliates, Scope: c.scope(), Reserved: c.Reserved,
		Kind: kind, Exclusivity: excl, Status: status, Mode: mode,
		ExclusiveTo: c.ExclTo.Date, FirstPublished: c.FirstPub.Date, FirstDeadline: c.FirstPubDeadline.Date,
		EmbargoUntil: c.EmbargoUntil.Date, Signed: c.Signed.Date, Amends: c.Amends, Supersedes: c.Supersedes,
		Effective: c.Effective.Date, Ended: c.Ended.Date, SellOffTo: c.SelloffTo.Date, Head: c.Head, Survives: c.Survives,
		Until: c.Until.Date, URI: c.URI, SubjectTo: c.SubjectTo, CopiesMax: c.CopiesMax, CopiesDone: c.CopiesDone,
		UsesMax: c.UsesMax, UsesDone: c.UsesDone, Product: c.Product, Credit: c.Credit, EvidenceDue: c.EvidenceDue.Date,
		PaymentCondition: c.PaymentCondition, Paid: c.Paid,
	}
	if t := c.TermEvent; t != nil {
		g.Term = &TermEvent{Anchor: t.Anchor, Months: t.Months, Date: t.Date.Date}
	}
	return g, errors.Join(err1, err2, err3, err4)
}

func exclusivities() map[string]Exclusivity {
	return map[string]Exclusivity{"": NonExclusive, "N": NonExclusive, "S": Sole, "E": Exclusive, "F": FirstRights}
}

type caseEvent struct {
	caseScope
	ID string `json:"id"`
	By string `json:"by"`
}

type caseFacts struct {
	Owner    string `json:"owner"`
	Coowners []struct {
		ID, Role string
		Consent  any
	} `json:"coowners"`
	Sources []struct {
		ID, Kind, Use, Status string
		Scope                 *caseScope
	} `json:"sources"`
	Policies []struct {
		ID, Kind string
		Needs    oneOrMany `json:"needs_approval_for"`
		Approved bool
	} `json:"policies"`
	Adverse []struct {
		ID   string
		Open bool
	} `json:"adverse"`
	OwnUses   []caseEvent `json:"own_uses"`
	Published []caseEvent `json:"published"`
}

func (c caseFacts) facts() Facts {
	var f Facts
	if c.Owner != "" {
		f.Titles = []Title{{ID: "owner", Owner: c.Owner}}
	}
	for _, o := range c.Coowners {
		given := o.Consent == true || o.Consent == "yes" || o.Consent == "given" || o.Consent == "granted"
		f.CoOwners = append(f.CoOwners, CoOwned{ID: o.ID, Role: o.Role, Consent: given})
	}
	for _, s := range c.Sources {
		src := Source{ID: s.ID, Kind: s.Kind, FactsOnly: s.Use == "facts-only", Free: s.Status == "public-domain" || s.Status == "own"}
		if s.Scope != nil && s.Status != "unknown" {
			scope := s.Scope.scope()
			src.Scope = &scope
		}
		f.Sources = append(f.Sources, src)
	}
	for _, p := range c.Policies {
		f.Policies = append(f.Policies, Approval{ID: p.ID, Kind: p.Kind, NeedsFor: p.Needs, Approved: p.Approved})
	}
	for _, a := range c.Adverse {
		f.Adverse = append(f.Adverse, Claim{ID: a.ID, Open: a.Open})
	}
	events := func(in []caseEvent) []Event {
		var out []Event
		for _, e := range in {
			out = append(out, Event{ID: e.ID, Scope: e.scope()})
		}
		return out
	}
	f.OwnUses, f.Published = events(c.OwnUses), events(c.Published)
	return f
}

type caseUse struct {
	caseScope
	By                string `json:"by"`
	Excl              string `json:"excl"`
	Indivisible       bool   `json:"indivisible"`
	SubjectToExisting bool   `json:"subject_to_existing"`
	Copies            int64  `json:"copies"`
	Product           string `json:"product"`
	Credit            string `json:"credit"`
	Attributed        *bool  `json:"attributed"`
	Altered           bool   `json:"altered"`
	Act               string `json:"act"`
}

func (c caseUse) request() Request {
	return Request{By: c.By, Exclusivity: exclusivities()[c.Excl], Scope: c.scope(),
		Indivisible: c.Indivisible, SubjectToExisting: c.SubjectToExisting}
}

func (c caseUse) use() Use {
	u := Use{By: c.By, Scope: c.scope(), Copies: c.Copies, Product: c.Product, Credit: c.Credit, Altered: c.Altered,
		Unattributed: c.Attributed != nil && !*c.Attributed}
	if c.Act == "distribute" {
		u.Act = Distribute
	}
	return u
}
