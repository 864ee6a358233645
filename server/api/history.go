package api

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	pb "platarium/proto/platarium/v1"
	"platarium/server/archive"
	"platarium/server/rights"
)

const notNamed = "not named"

func (s licensingService) GetHistory(ctx context.Context, req *pb.GetHistoryRequest) (*pb.History, error) {
	p := caller(ctx)
	pic, err := s.visiblePicture(p, req.GetPicture())
	if err != nil {
		return nil, err
	}
	at := s.archive.Journal().Position()
	h := &pb.History{
		Picture: pic.GetName(), Title: pic.GetTitle(), ScientificName: s.archive.AcceptedName(pic.GetIdentification()), CreditLine: creditLine(pic),
		Sequence: at.Seq, Head: at.Head.String(), Caution: rights.Caution, RightsHolder: s.holder(pic),
	}
	if h.Entries, err = s.teller(p).entries(pic.GetName()); err != nil {
		return nil, err
	}
	h.Standing, err = s.archive.StandingText(pic.GetName(), p.outsider())
	return h, err
}

// records is what a history is told from: the archive as it stands, or as it stood after a commit.
type records interface {
	GetGrant(name string) (*pb.Grant, error)
	GrantsOver(picture string) ([]*pb.Grant, error)
	GrantsTo(party string) ([]*pb.Grant, error)
	UsesOf(picture string) ([]*pb.Use, error)
	UsesBy(party string) ([]*pb.Use, error)
	VerdictOn(u *pb.Use, day time.Time) (rights.Ruling, error)
	PartyName(name string) string
}

// teller puts grants and uses into words for one caller, as they stand on a day.
type teller struct {
	records
	p   principal
	day time.Time
}

// teller tells of the archive as it stands today.
func (s *Server) teller(p principal) teller { return teller{s.archive, p, s.archive.Today()} }

// entries lists the grants and uses of a picture that the caller may know, by date.
func (t teller) entries(picture string) ([]*pb.HistoryEntry, error) {
	var entries []*pb.HistoryEntry
	grants, err := t.GrantsOver(picture)
	if err != nil {
		return nil, err
	}
	for _, g := range grants {
		if e := t.grant(g); e != nil {
			entries = append(entries, e)
		}
	}
	uses, err := t.UsesOf(picture)
	if err != nil {
		return nil, err
	}
	for _, u := range uses {
		e, err := t.use(u)
		if err != nil {
			return nil, err
		}
		if e != nil {
			entries = append(entries, e)
		}
	}
	slices.SortStableFunc(entries, func(a, b *pb.HistoryEntry) int {
		return cmp.Or(strings.Compare(firstDay(a), firstDay(b)), strings.Compare(a.GetKind(), b.GetKind()), strings.Compare(a.GetName(), b.GetName()))
	})
	return entries, nil
}

func firstDay(e *pb.HistoryEntry) string { return cmp.Or(e.GetFrom(), e.GetSignedOn()) }

// creditLine joins the parts of a credit.
func creditLine(pic *pb.Picture) string {
	if parts := pic.GetCreditParts(); len(parts) > 0 {
		return strings.Join(parts, " / ")
	}
	return strings.Join(pic.GetCreators(), ", ")
}

// grant is one line of a history; nil for what the caller may not know of. Staff sees everything; a publisher its own grants in full, of others what was
// made known: in summary and unnamed unless the grant says so.
func (t teller) grant(g *pb.Grant) *pb.HistoryEntry {
	mine := !t.p.outsider() || isParty(t.p, g)
	executed := g.GetStatus() == pb.GrantStatus_GRANT_STATUS_EXECUTED
	if !mine && (g.GetDisclosure() == pb.Disclosure_DISCLOSURE_CONFIDENTIAL || !executed) {
		return nil
	}
	sc := g.GetScope()
	e := &pb.HistoryEntry{
		Kind: "grant", Party: notNamed, Terms: termsOf(g), Media: sc.GetMedia(), Territories: sc.GetTerritories(), Languages: sc.GetLanguages(), Purposes: sc.GetPurposes(),
		From: sc.GetFrom(), To: sc.GetTo(), State: stateOn(g, t.day),
	}
	if mine || g.GetDisclosure() == pb.Disclosure_DISCLOSURE_FULL {
		e.Party = t.licensee(g)
	}
	if !mine {
		return e
	}
	e.Name, e.SignedOn, e.CreditLine, e.Copies = g.GetName(), g.GetSignedOn(), g.GetCreditLine(), g.GetCopiesMax()
	own := !t.p.outsider() || g.GetLicensee() == t.p.party
	if own {
		e.Fee = g.GetFee()
	}
	e.Remarks = remarksOf(g, t.p.outsider(), own)
	return e
}

// user is who published: the studio itself where nobody else is named.
func (t teller) user(u *pb.Use) string {
	if u.GetOwn() {
		return "the studio"
	}
	return t.PartyName(u.GetUser())
}

func (t teller) licensee(g *pb.Grant) string {
	if g.GetLicensee() == "" {
		return "everybody"
	}
	return t.PartyName(g.GetLicensee())
}

// ownGrant is the name of a grant if an outsider is a party to it, else nothing.
func (t teller) ownGrant(name string) string {
	g, err := t.GetGrant(name)
	if err != nil || !isParty(t.p, g) {
		return ""
	}
	return name
}

// termsOf names kind and exclusivity of a grant.
func termsOf(g *pb.Grant) string {
	exclusivity := map[pb.Exclusivity]string{
		pb.Exclusivity_EXCLUSIVITY_SOLE: "sole", pb.Exclusivity_EXCLUSIVITY_EXCLUSIVE: "exclusive", pb.Exclusivity_EXCLUSIVITY_FIRST_RIGHTS: "first rights",
	}[g.GetExclusivity()]
	exclusivity = cmp.Or(exclusivity, "non-exclusive")
	switch g.GetKind() {
	case pb.GrantKind_GRANT_KIND_SUBLICENCE:
		return exclusivity + " sublicence"
	case pb.GrantKind_GRANT_KIND_ASSIGNMENT:
		return "assignment"
	case pb.GrantKind_GRANT_KIND_HOLDBACK:
		return "holdback"
	case pb.GrantKind_GRANT_KIND_OPTION:
		return "option"
	case pb.GrantKind_GRANT_KIND_PUBLIC:
		return "public licence " + g.GetPublicLicence()
	default:
		return exclusivity
	}
}

// stateOn says how a grant stands on a day.
func stateOn(g *pb.Grant, day time.Time) string {
	switch g.GetStatus() {
	case pb.GrantStatus_GRANT_STATUS_OFFERED:
		return "offered"
	case pb.GrantStatus_GRANT_STATUS_VOID:
		return "void"
	case pb.GrantStatus_GRANT_STATUS_EXECUTED:
	default:
		return "draft"
	}
	today := day.Format("2006-01-02")
	switch {
	case g.GetEndedOn() != "" && g.GetEndedOn() <= today:
		return "ended " + g.GetEndedOn()
	case g.GetScope().GetTo() != "" && lastDay(g.GetScope().GetTo()) < today:
		return "expired"
	case g.GetScope().GetFrom() != "" && g.GetScope().GetFrom() > today:
		return "not yet"
	default:
		return "in force"
	}
}

// lastDay is the last day that a date known to the month or year can mean, in a form that compares as text.
func lastDay(s string) string {
	d, err := rights.ParseDate(s)
	if err != nil {
		return s
	}
	return d.Last().String()
}

// remarksOf is what else a party to a grant may learn; payment is a matter of the licensee.
func remarksOf(g *pb.Grant, outsider, own bool) []string {
	var out []string
	add := func(when bool, format string, args ...any) {
		if when {
			out = append(out, fmt.Sprintf(format, args...))
		}
	}
	add(g.GetExclusiveTo() != "", "exclusive until %s", g.GetExclusiveTo())
	add(g.GetProduct() != "", "for %s", g.GetProduct())
	add(len(g.GetReservedMedia()) > 0, "the studio keeps %s for itself", strings.Join(g.GetReservedMedia(), ", "))
	add(g.GetUsesMax() > 0, "at most %d uses", g.GetUsesMax())
	add(own && g.GetPaymentIsCondition() && g.GetPaidOn() == "", "payment is a condition and hasn't come in")
	add(g.GetEvidenceDueOn() != "" && g.GetEvidenceReceivedOn() == "", "evidence of publication due %s", g.GetEvidenceDueOn())
	if !outsider {
		add(g.GetAmends() != "", "amends %s", g.GetAmends())
		add(g.GetSupersedes() != "", "replaces %s", g.GetSupersedes())
		add(len(g.GetCollidesWith()) > 0, "recorded although it collides with %s", strings.Join(g.GetCollidesWith(), ", "))
		add(g.GetDocumentSha256() == "", "no signed document on file")
		add(g.GetEndedReason() != "", "ended: %s", g.GetEndedReason())
	}
	return out
}

// use is one publication in a history; nil for what the caller may not know of. A publisher sees its own; others' only as far as their grant is disclosed.
func (t teller) use(u *pb.Use) (*pb.HistoryEntry, error) {
	mine := !t.p.outsider() || u.GetUser() == t.p.party
	if !mine {
		g, err := t.GetGrant(u.GetGrant())
		if err != nil && !errors.Is(err, archive.ErrNotFound) {
			return nil, err
		}
		if g.GetDisclosure() != pb.Disclosure_DISCLOSURE_FULL {
			return nil, nil // a use whose grant isn't disclosed, or is unknown, isn't told to outsiders
		}
	}
	sc := u.GetScope()
	e := &pb.HistoryEntry{
		Kind: "use", Party: t.user(u), Media: sc.GetMedia(), Territories: sc.GetTerritories(), Languages: sc.GetLanguages(), Purposes: sc.GetPurposes(),
		From: sc.GetFrom(), To: sc.GetTo(), Title: productTitle(u), Identifier: u.GetIdentifier(),
	}
	if !mine {
		return e, nil
	}
	e.Name, e.Grant, e.Copies, e.CreditLine = u.GetName(), u.GetGrant(), u.GetCopies(), u.GetCreditAsPrinted()
	if t.p.outsider() {
		e.Grant = t.ownGrant(u.GetGrant())
	}
	ruling, err := t.VerdictOn(u, t.day)
	if err != nil {
		return nil, fmt.Errorf("judge %s: %w", u.GetName(), err)
	}
	e.Verdict = verdictWord(ruling.Verdict)
	if ruling.Verdict != rights.Licensed && !t.p.outsider() {
		e.Remarks = explain(ruling)
	}
	return e, nil
}

func productTitle(u *pb.Use) string {
	if u.GetEdition() == "" {
		return u.GetTitle()
	}
	return u.GetTitle() + ", " + u.GetEdition()
}

// inField says which entry of a list an error is about, if it is about the field at all.
func inField(err error, name string, i int) error {
	if violations := violationsOf(err); violations != nil {
		return field(fmt.Sprintf("%s[%d]", name, i), "%s", violations[0].Description)
	}
	return err
}
