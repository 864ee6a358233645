package rights

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
)

// AlarmKind is what an alarm is about.
type AlarmKind string

// The kinds of alarm.
const (
	TermEnds          AlarmKind = "TERM_ENDS"
	ExclusivityEnds   AlarmKind = "EXCLUSIVITY_ENDS"
	SellOffEnds       AlarmKind = "SELL_OFF_ENDS"
	OverRun           AlarmKind = "OVER_RUN"
	UsesExceeded      AlarmKind = "USES_EXCEEDED"
	EvidenceMissing   AlarmKind = "EVIDENCE_MISSING"
	ConditionUnpaid   AlarmKind = "CONDITION_UNPAID"
	OptionOpen        AlarmKind = "OPTION_OPEN"
	EventOutstanding  AlarmKind = "EVENT_OUTSTANDING"
	FirstRightsLapses AlarmKind = "FIRST_RIGHTS_LAPSE"
)

// Alarm is something about a grant that somebody should look at.
type Alarm struct {
	Grant string
	Kind  AlarmKind
	Day   Day // when it falls due; today for what is wrong already
	Text  string
}

// Alarms lists what falls due from today until so many days later, and what is
// overdue, by day and grant. Ends known imprecisely count from their first day.
func (b *Book) Alarms(today Day, within int) []Alarm {
	var out []Alarm
	for _, e := range b.entries {
		if !e.grant.inForce() {
			continue
		}
		if v := b.version(&e.grant, narrow); e.grant.Kind != Public && v.hi < today {
			continue // a later version governs
		}
		out = append(out, b.alarms(e, today, today+Day(within))...)
	}
	slices.SortFunc(out, func(x, y Alarm) int {
		return cmp.Or(cmp.Compare(x.Day, y.Day), strings.Compare(x.Grant, y.Grant), strings.Compare(string(x.Kind), string(y.Kind)))
	})
	return out
}

func (b *Book) alarms(e *entry, today, limit Day) []Alarm {
	g := &e.grant
	var out []Alarm
	add := func(kind AlarmKind, day Day, format string, args ...any) {
		out = append(out, Alarm{Grant: g.ID, Kind: kind, Day: day, Text: fmt.Sprintf(format, args...)})
	}
	due := func(kind AlarmKind, day Day, what string) {
		if day >= today && day <= limit {
			add(kind, day, "%s on %s", what, day)
		}
	}
	w := b.window(g, narrow)
	over := w.end < today
	if g.permits() {
		due(TermEnds, w.end, "the term ends")
		due(SellOffEnds, w.sellOff, "the sell-off ends")
	}
	if g.shuts() {
		end := exclusiveDays(g, w, narrow).hi
		if g.Exclusivity == FirstRights && g.FirstPublished.IsZero() && !g.FirstDeadline.IsZero() {
			due(FirstRightsLapses, end, "first rights lapse unpublished")
		} else if end != w.end || !g.permits() {
			due(ExclusivityEnds, end, "exclusivity ends")
		}
	}
	if g.CopiesMax > 0 && g.CopiesDone > g.CopiesMax {
		add(OverRun, today, "%d copies of %d agreed: %d too many", g.CopiesDone, g.CopiesMax, g.CopiesDone-g.CopiesMax)
	}
	if g.UsesMax > 0 && g.UsesDone > g.UsesMax {
		add(UsesExceeded, today, "%d uses of %d agreed", g.UsesDone, g.UsesMax)
	}
	if day := wide.end(g.EvidenceDue, maxDay); g.EvidenceReceived.IsZero() && day <= limit {
		add(EvidenceMissing, day, "voucher copy or other proof due on %s has not come", day)
	}
	if g.PaymentCondition && !g.Paid && !over {
		add(ConditionUnpaid, today, "payment is a condition and has not been made")
	}
	if b.liveOption(e, today) {
		add(OptionOpen, min(wide.end(g.Until, maxDay), w.end, limit), "option open%s", until(min(wide.end(g.Until, maxDay), w.end)))
	}
	if g.Term != nil && g.Term.Date.IsZero() && !over {
		add(EventOutstanding, today, "the term hangs on %q, which is not recorded", g.Term.Anchor)
	}
	return out
}
