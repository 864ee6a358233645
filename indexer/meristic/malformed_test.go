package meristic

import (
	"errors"
	"regexp"
	"strings"
	"testing"
)

// treatment is what the published row expects of a careful reader.
type treatment int

const (
	wantReject    treatment = iota // an error; nothing is silently taken
	wantRecover                    // read, with a warning; the counts as written in the row
	wantFlag                       // read or not, but with a warning, another reading or an error
	wantQuiet                      // read without error, flagged by a later check
	wantAmbiguous                  // read without error, with another reading
	wantUnlikely                   // read without error, flagged as implausible
	wantResolve                    // read, saying by what rule, or flagged
)

// classify derives the treatment from the column "expected". The first rule that
// matches holds; the words are those of the column.
func classify(expected string) treatment {
	e := strings.ToLower(expected)
	switch {
	case strings.HasPrefix(e, "reject"), strings.HasPrefix(e, "error"), strings.Contains(e, "then error"):
		return wantReject
	case strings.HasPrefix(e, "parse") && strings.Contains(e, "plausib"):
		return wantUnlikely
	case strings.HasPrefix(e, "parse") && strings.Contains(e, "ambiguous"):
		return wantAmbiguous
	case strings.HasPrefix(e, "parse"):
		return wantQuiet
	case strings.HasPrefix(e, "resolve"):
		return wantResolve
	case strings.Contains(e, "must be flagged"), strings.HasPrefix(e, "flag"), strings.Contains(e, "or flag"):
		return wantFlag
	case strings.HasPrefix(e, "recover"):
		return wantRecover
	default:
		return wantFlag
	}
}

var (
	recoveredFormula = regexp.MustCompile(`^recover[^:]*: *(.+)$`)
	recoveredCount   = regexp.MustCompile(`^recover(?: with warning)? as ([0-9ivxIVX-]+)`)
	recoveredAs      = regexp.MustCompile(`recover as ([0-9ivxIVX-]+)`)
)

// recovered gives the counts that the row writes out, if it does.
func recovered(expected string) (string, bool) {
	for _, re := range []*regexp.Regexp{recoveredFormula, recoveredCount, recoveredAs} {
		if m := re.FindStringSubmatch(expected); m != nil {
			return m[1], true
		}
	}
	return "", false
}

func TestPublishedMalformed(t *testing.T) {
	rows := table(t, "PLATARIUM_FORMULAE_MALFORMED", "formulae-malformed.tsv")
	passed := 0
	for _, row := range rows {
		if problem := malformedProblem(row["string"], row["expected"]); problem != "" {
			t.Logf("%s %q (%s): %s", row["id"], row["string"], row["expected"], problem)
			continue
		}
		passed++
	}
	t.Logf("malformed formulae: %d of %d", passed, len(rows))
	if len(rows) == 0 || passed*100 < len(rows)*95 {
		t.Errorf("%d of %d malformed formulae treated as the rows say, want 95 in a hundred", passed, len(rows))
	}
}

func malformedProblem(s, expected string) string {
	opt := Options{}
	if e, ok := firstFault(s); ok && strings.Contains(e.Found, "no character") {
		// Such strings stand in a field of their own; those about paired fins are the most.
		opt.Character = Pectoral
	}
	res, err := Parse(s, opt)
	flagged := err != nil || len(res.Warnings) > 0 || len(res.Alternatives) > 0 || len(Implausible(res.Statements)) > 0
	switch classify(expected) {
	case wantReject:
		if err == nil {
			return "taken as " + dump(&res)
		}
		return pointless(err)
	case wantFlag:
		if !flagged {
			return "not flagged: " + dump(&res)
		}
	case wantResolve:
		if !flagged && len(res.Assumptions) == 0 {
			return "resolved in silence: " + dump(&res)
		}
	case wantRecover:
		switch {
		case err != nil:
			return "refused: " + err.Error()
		case len(res.Warnings) == 0:
			return "no warning: " + dump(&res)
		}
		if strings.Contains(expected, "strict") {
			opt.Strict = true
			if _, err := Parse(s, opt); err == nil {
				return "taken in strict mode"
			}
		}
		if want, ok := recovered(expected); ok {
			return recoveredProblem(want, &res)
		}
	case wantAmbiguous:
		if err != nil || len(res.Alternatives) == 0 {
			return "no other reading: " + dump(&res)
		}
	case wantUnlikely:
		if err != nil || len(Implausible(res.Statements)) == 0 {
			return "not called implausible: " + dump(&res)
		}
	default:
		if err != nil {
			return "refused: " + err.Error()
		}
	}
	return ""
}

func firstFault(s string) (Fault, bool) {
	_, err := Parse(s, Options{})
	var e *Error
	if !errors.As(err, &e) {
		return Fault{}, false
	}
	return e.Faults[0], true
}

// pointless reports an error that names no column or no wish.
func pointless(err error) string {
	var e *Error
	if !errors.As(err, &e) {
		return ""
	}
	for _, f := range e.Faults {
		if f.Column < 1 || f.Want == "" || f.Found == "" {
			return "the error doesn't say where and what: " + err.Error()
		}
	}
	return ""
}

func recoveredProblem(want string, res *Result) string {
	if regexp.MustCompile(`^[0-9ivxIVX-]+$`).MatchString(want) {
		w, err := Parse(want, Options{Character: Branchiostegals})
		if err != nil {
			return err.Error()
		}
		for _, s := range res.Statements {
			for _, c := range s.Counts {
				if c.Interval == w.Statements[0].Counts[0].Interval {
					return ""
				}
			}
		}
		return "want " + want + ", got " + dump(res)
	}
	w, err := Parse(want, Options{})
	if err != nil {
		return "the row's own formula: " + err.Error()
	}
	for i := range w.Statements {
		s, ok := res.Statement(w.Statements[i].Character)
		if !ok {
			return "want " + want + ", got " + dump(res)
		}
		for _, c := range w.Statements[i].Counts {
			if got, ok := s.Count(c.Element); !ok || got.Interval != c.Interval {
				return "want " + want + ", got " + dump(res)
			}
		}
	}
	return ""
}
