package web

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	pb "platarium/proto/platarium/v1"
)

// timeline is a licensing history as a drawing: a row for each medium and territory, a bar for each term, a mark for each use. Lengths are in units of the drawing.
type timeline struct {
	Width, Height int
	Left          int // where the years begin
	Rows          []timeRow
	Years         []timeYear
	Today         int // of today's line
	Summary       string
}

type timeRow struct {
	Y                 int
	Medium, Territory string
	Bars              []timeBar
	Uses              []timeUse
}

type timeBar struct {
	X, Y, Width int
	Exclusive   bool   // shuts others out: drawn hatched
	Over        bool   // no longer, or not yet, in force: drawn in outline
	Open        bool   // ends with the legal term alone
	Text        string // the terms, in words
	Title       string
}

type timeUse struct {
	X, Y     int
	Licensed bool
	Title    string
}

// Measures of the drawing.
const (
	timeWidth  = 960
	timeLeft   = 250 // for the names of the rows
	timeHead   = 26  // for the years
	barHeight  = 18
	barStep    = 22
	rowPadding = 8
	mostYears  = 12 // labels
)

// drawTimeline lays a history out; nil if there is nothing to draw.
func drawTimeline(h *pb.History, today time.Time) *timeline {
	first, last := today.Year(), today.Year()+1
	for _, e := range h.GetEntries() {
		if from, ok := day(e.GetFrom(), false); ok {
			first = min(first, from.Year())
		}
		if to, ok := day(e.GetTo(), true); ok {
			last = max(last, min(to.Year()+1, today.Year()+15)) // a term of a century would press all else together
		}
	}
	if len(h.GetEntries()) == 0 {
		return nil
	}
	d := &timeline{Width: timeWidth, Left: timeLeft}
	from, to := time.Date(first, 1, 1, 0, 0, 0, 0, time.UTC), time.Date(last+1, 1, 1, 0, 0, 0, 0, time.UTC)
	at := func(t time.Time) int {
		share := float64(t.Sub(from)) / float64(to.Sub(from))
		return timeLeft + int(share*float64(timeWidth-timeLeft))
	}
	for y, every := first, (last-first)/mostYears+1; y <= last; y += every {
		d.Years = append(d.Years, timeYear{at(time.Date(y, 1, 1, 0, 0, 0, 0, time.UTC)), strconv.Itoa(y)})
	}
	rows := map[string]int{}
	row := func(e *pb.HistoryEntry) *timeRow {
		medium, territory := strings.Join(e.GetMedia(), ", "), strings.Join(e.GetTerritories(), ", ")
		i, ok := rows[medium+"|"+territory]
		if !ok {
			i = len(d.Rows)
			rows[medium+"|"+territory] = i
			d.Rows = append(d.Rows, timeRow{Medium: shortened(medium), Territory: shortened(territory)})
		}
		return &d.Rows[i]
	}
	for _, e := range h.GetEntries() {
		r := row(e)
		begin, ok := day(e.GetFrom(), false)
		if !ok {
			continue
		}
		if e.GetKind() == "use" {
			r.Uses = append(r.Uses, timeUse{X: at(begin), Licensed: e.GetVerdict() == "licensed", Title: fmt.Sprintf("%s: %s, %s; %s", e.GetFrom(), e.GetParty(), e.GetTitle(), e.GetVerdict())})
			continue
		}
		end, ends := day(e.GetTo(), true)
		if !ends || end.After(to) {
			end = to
		}
		r.Bars = append(r.Bars, timeBar{
			X: at(begin), Width: max(at(end)-at(begin), 3), Text: e.GetTerms(), Exclusive: shutsOut(e.GetTerms()), Over: e.GetState() != "in force", Open: !ends,
			Title: fmt.Sprintf("%s to %s: %s, %s; %s", e.GetFrom(), orWords(e.GetTo(), "the legal term"), e.GetParty(), e.GetTerms(), e.GetState()),
		})
	}
	d.stack()
	d.Today = at(today)
	d.Summary = fmt.Sprintf("Terms and uses from %d to %d in %d rows by medium and territory; the list below says the same.", first, last, len(d.Rows))
	return d
}

type timeYear struct {
	X    int
	Text string
}

// stack puts bars below each other within their rows, and uses beside them.
func (d *timeline) stack() {
	y := timeHead + rowPadding
	for i := range d.Rows {
		r := &d.Rows[i]
		r.Y = y
		for j := range r.Bars {
			r.Bars[j].Y = y
			y += barStep
		}
		if len(r.Uses) > 0 {
			for j := range r.Uses {
				r.Uses[j].Y = y + barHeight/2
			}
			y += barStep
		}
		y = max(y, r.Y+2*barStep-4) + rowPadding // two lines of words
	}
	d.Height = y
}

// shutsOut says whether terms keep others from using the picture.
func shutsOut(terms string) bool {
	for _, w := range []string{"exclusive", "sole", "first rights", "holdback", "assignment"} {
		if strings.HasPrefix(terms, w) {
			return true
		}
	}
	return false
}

// day reads a date, month or year: its first day, or its last.
func day(s string, last bool) (time.Time, bool) {
	for layout, next := range map[string][3]int{"2006-01-02": {0, 0, 0}, "2006-01": {0, 1, -1}, "2006": {1, 0, -1}} {
		if t, err := time.Parse(layout, s); err == nil {
			if last {
				t = t.AddDate(next[0], next[1], next[2])
			}
			return t, true
		}
	}
	return time.Time{}, false
}

func shortened(s string) string {
	const most = 36 // characters that fit beside the years
	if r := []rune(s); len(r) > most {
		return string(r[:most-1]) + "…"
	}
	return s
}

func orWords(s, otherwise string) string {
	if s == "" {
		return otherwise
	}
	return s
}
