package archive

import (
	"regexp"
	"strings"
	"time"
)

var (
	edtfDate  = regexp.MustCompile(`^[0-9]{4}(-[0-9]{2}(-[0-9]{2})?)?[?~%]?$`)
	edtfMasks = regexp.MustCompile(`^([0-9]{3}X|[0-9]{2}XX|[0-9]{4}-XX|[0-9]{4}-[0-9]{2}-XX|[0-9]{4}-XX-XX)$`)
)

// edtf verifies a date of making in EDTF (ISO 8601-2:2019, level 0 and of level 1 the qualifiers ? ~ %, X for unknown digits, and open intervals).
func (c *checks) edtf(field, s string) {
	if s == "" {
		return
	}
	from, to, interval := strings.Cut(s, "/")
	ok := edtfPart(from, interval)
	if interval {
		ok = ok && edtfPart(to, true) && (from != ".." && from != "" || to != ".." && to != "")
	}
	if !ok {
		c.add(field, "found %q; want a date such as 1987, 1987-06, 1987-06-15, 198X, 1987~ or 1987/1990 (EDTF)", s)
	}
}

func edtfPart(s string, inInterval bool) bool {
	if inInterval && (s == "" || s == "..") {
		return true
	}
	if edtfMasks.MatchString(s) {
		return true
	}
	if !edtfDate.MatchString(s) {
		return false
	}
	s = strings.TrimRight(s, "?~%")
	_, err := time.Parse("2006-01-02"[:len(s)], s)
	return err == nil
}

// day verifies an exact calendar day.
func (c *checks) day(field, s string) (time.Time, bool) {
	if s == "" {
		return time.Time{}, false
	}
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		c.add(field, "found %q; want a day such as 2026-03-31", s)
		return time.Time{}, false
	}
	return t, true
}
