package ledger

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Numbers is what is odd about the running numbers of one series, such as those of one year.
type Numbers struct {
	Series  string   `json:"series"` // how they are written, with N for the number
	First   int      `json:"first"`
	Last    int      `json:"last"`
	Missing []string `json:"missing,omitempty"` // numbers, or spans such as 7-12
	Twice   []string `json:"twice,omitempty"`   // numbers that several lines bear, with the lines
}

func (n Numbers) String() string {
	var parts []string
	if len(n.Missing) > 0 {
		parts = append(parts, "missing are "+strings.Join(n.Missing, ", "))
	}
	if len(n.Twice) > 0 {
		parts = append(parts, "several lines bear "+strings.Join(n.Twice, ", "))
	}
	return fmt.Sprintf("%s from %d to %d: %s", n.Series, n.First, n.Last, strings.Join(parts, "; "))
}

var (
	// A number and a year, such as 14/1987: the numbers begin anew with the year.
	withYear = regexp.MustCompile(`^(\D*)(\d{1,9})(\s*[/.-]\s*(?:1[89]|20)\d\d)$`)
	// A number at the end, such as 1987/14 or L-0042.
	atTheEnd = regexp.MustCompile(`^(.*?)(\d{1,9})(\D*)$`)
)

// numbered is a row with its running number.
type numbered struct {
	series string
	n      int
	line   int
}

// readNumber tells the series of a running number and its place there; false for what isn't a number.
func readNumber(s string, line int) (numbered, bool) {
	parts := withYear.FindStringSubmatch(s)
	if parts == nil {
		parts = atTheEnd.FindStringSubmatch(s)
	}
	if parts == nil {
		return numbered{}, false
	}
	n, err := strconv.Atoi(parts[2])
	return numbered{parts[1] + "N" + parts[3], n, line}, err == nil
}

// oddities finds the numbers that no row bears, and those that several do.
func oddities(all []numbered) (out []Numbers) {
	slices.SortFunc(all, func(a, b numbered) int {
		return cmp.Or(strings.Compare(a.series, b.series), cmp.Compare(a.n, b.n), cmp.Compare(a.line, b.line))
	})
	for len(all) > 0 {
		end := 1
		for end < len(all) && all[end].series == all[0].series {
			end++
		}
		one := Numbers{Series: all[0].series, First: all[0].n, Last: all[end-1].n}
		one.look(all[:end])
		if len(one.Missing)+len(one.Twice) > 0 {
			out = append(out, one)
		}
		all = all[end:]
	}
	return out
}

// look goes through the rows of one series, by number.
func (n *Numbers) look(rows []numbered) {
	for i := 0; i < len(rows); {
		same := i + 1
		for same < len(rows) && rows[same].n == rows[i].n {
			same++
		}
		if same-i > 1 {
			var lines []string
			for _, r := range rows[i:same] {
				lines = append(lines, strconv.Itoa(r.line))
			}
			n.Twice = append(n.Twice, fmt.Sprintf("%d (lines %s)", rows[i].n, strings.Join(lines, ", ")))
		}
		if same < len(rows) {
			switch from, to := rows[i].n+1, rows[same].n-1; {
			case from == to:
				n.Missing = append(n.Missing, strconv.Itoa(from))
			case from < to:
				n.Missing = append(n.Missing, fmt.Sprintf("%d-%d", from, to))
			}
		}
		i = same
	}
}
