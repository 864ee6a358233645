package ledger

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"

	pb "platarium/proto/platarium/v1"
	"platarium/server/rights"
	"platarium/server/rights/money"
)

// Column describes one column of a ledger.
type Column struct {
	Name     string `json:"name"`
	Meaning  string `json:"meaning"`
	Example  string `json:"example,omitempty"`
	Required bool   `json:"required,omitempty"` // the header must have it, and every row must fill it

	set func(*row, string) error
}

// Columns lists the columns of a ledger. Their order in the file is free.
func Columns() []Column {
	scope := func(f func(*pb.Scope, string)) func(*row, string) error {
		return func(r *row, s string) error { f(r.grant.GetScope(), s); return nil }
	}
	return []Column{
		{"picture", "the pictures licensed, by id or pictures/{id}, a part after #; several separated by ;", "perch-1987-left; pike-1990#head", true,
			scope(func(sc *pb.Scope, s string) { sc.Works = pictures(s) })},
		{"licensee", "to whom: the id, parties/{id}, or exactly what the party is called", "Reed Press", true,
			func(r *row, s string) error { r.licensee = s; return nil }},
		{"kind", "licence (the default), sublicence, assignment, holdback, option or public", "licence", false,
			func(r *row, s string) error { return parseWord(&r.grant.Kind, s) }},
		{"exclusivity", "non exclusive (the default), sole, exclusive or first rights", "exclusive", false,
			func(r *row, s string) error { return parseWord(&r.grant.Exclusivity, s) }},
		{"media", "media such as print.book, separated by ;, or * for all", "print.book; digital.web", true,
			scope(func(sc *pb.Scope, s string) { sc.Media = parts(s) })},
		{"territories", "country codes such as DE, groups such as 150, or WORLD, separated by ;", "DE; AT; CH", true,
			scope(func(sc *pb.Scope, s string) { sc.Territories = parts(s) })},
		{"languages", "language tags, separated by ;, or * for all (the default)", "de; en", false,
			scope(func(sc *pb.Scope, s string) { sc.Languages = parts(s) })},
		{"purposes", "commercial, noncommercial or both (the default)", "commercial", false,
			scope(func(sc *pb.Scope, s string) { sc.Purposes = parts(s) })},
		{"from", "first day, or its month or year", "1994-03", false, func(r *row, s string) error { return date(&r.grant.Scope.From, s) }},
		{"to", "last day, or its month or year; empty for no end", "1999", false, func(r *row, s string) error { return date(&r.grant.Scope.To, s) }},
		{"signed", "day of signature, or its month or year; required of what is executed", "1994-02-17", false,
			func(r *row, s string) error { return date(&r.grant.SignedOn, s) }},
		{"fee", "the amount as a plain decimal", "450.00", false, func(r *row, s string) error { r.fee = s; return nil }},
		{"currency", "its currency, ISO 4217, historic ones included", "DEM", false, func(r *row, s string) error { r.currency = strings.ToUpper(s); return nil }},
		{"credit", "the credit line as agreed", "© Maren Oltedal", false, func(r *row, s string) error { r.grant.CreditLine = s; return nil }},
		{"copies", "copies allowed in all", "40000", false, func(r *row, s string) (err error) { r.grant.CopiesMax, err = number(s); return err }},
		{"product", "title or edition to which it is bound", "Fishes of the Lake", false, func(r *row, s string) error { r.grant.Product = s; return nil }},
		{"status", "draft, offered, executed (the default) or void", "executed", false, func(r *row, s string) error { return parseWord(&r.grant.Status, s) }},
		{"number", "its running number in the old ledger, such as 14, 1987/14 or 14/1987; kept in the notes, and numbers that are missing are listed", "1987/14", false,
			func(r *row, s string) error { r.number = s; return nil }},
		{"document", "file of the signed document, below the folder of the ledger; it is stored with the grant, and rows without are listed", "scans/1987-14.pdf", false,
			func(r *row, s string) error { r.document = s; return nil }},
		{"notes", "notes; never shown to another party", "from the old card file", false, func(r *row, s string) error { r.grant.Notes = s; return nil }},
		{"reason", "why the row was rejected last time; ignored", "", false, func(*row, string) error { return nil }},
	}
}

// money joins fee and currency once both are read.
func (r *row) money() error {
	if r.fee == "" && r.currency == "" {
		return nil
	}
	if _, err := money.Parse(r.fee, r.currency); err != nil {
		return err
	}
	r.grant.Fee = &pb.Money{Amount: r.fee, Currency: r.currency}
	return nil
}

func parts(s string) (out []string) {
	for p := range strings.SplitSeq(s, ";") {
		if p = strings.TrimSpace(p); p != "" {
			out = append(out, p)
		}
	}
	return out
}

// pictures reads ids and resource names alike.
func pictures(s string) []string {
	out := parts(s)
	for i, p := range out {
		minus := ""
		if rest, ok := strings.CutPrefix(p, "-"); ok {
			minus, p = "-", rest
		}
		if !strings.HasPrefix(p, "pictures/") && p != "*" {
			p = "pictures/" + p
		}
		out[i] = minus + p
	}
	return out
}

func date(to *string, s string) error {
	if _, err := rights.ParseDate(s); err != nil {
		return fmt.Errorf("found %q; want a day, month or year such as 1994-03-31, 1994-03 or 1994", s)
	}
	*to = s
	return nil
}

func number(s string) (n int64, err error) {
	for _, c := range s {
		if c < '0' || c > '9' || n > 1<<50 {
			return 0, fmt.Errorf("found %q; want a whole number such as 40000", s)
		}
		n = 10*n + int64(c-'0')
	}
	return n, nil
}

type enum interface {
	~int32
	protoreflect.Enum
}

// parseWord reads one of an enum's words, whatever its case and with hyphens or underscores for spaces.
func parseWord[E enum](to *E, s string) error {
	var zero E
	values := zero.Descriptor().Values()
	prefix := strings.TrimSuffix(string(values.Get(0).Name()), "UNSPECIFIED")
	key := strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ' ' || r == '_' || r == '-' }), " ")
	var all []string
	for i := 1; i < values.Len(); i++ {
		w := strings.ToLower(strings.ReplaceAll(strings.TrimPrefix(string(values.Get(i).Name()), prefix), "_", " "))
		if w == key || w == strings.ReplaceAll(key, "nonexclusive", "non exclusive") {
			*to = E(values.Get(i).Number())
			return nil
		}
		all = append(all, w)
	}
	return fmt.Errorf("found %q; want one of %s", s, strings.Join(all, ", "))
}

// nearest finds the word most like another; empty if none is.
func nearest(s string, words []string) string {
	best, found := len(s)/2+1, ""
	for _, w := range words {
		if d := distance(s, w); d < best {
			best, found = d, w
		}
	}
	return found
}

// distance counts the letters to change, add or drop.
func distance(a, b string) int {
	x, y := []rune(a), []rune(b)
	before := make([]int, len(y)+1)
	for j := range before {
		before[j] = j
	}
	for i := range x {
		now := slices.Clone(before)
		now[0] = i + 1
		for j := range y {
			cost := 1
			if x[i] == y[j] {
				cost = 0
			}
			now[j+1] = min(before[j+1]+1, now[j]+1, before[j]+cost)
		}
		before = now
	}
	return before[len(y)]
}
