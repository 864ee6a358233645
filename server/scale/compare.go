package scale

import (
	"errors"
	"fmt"
)

// Verdict says how a proportion stands to an interval.
type Verdict uint8

// Verdicts.
const (
	NotComparable Verdict = iota // a length is missing or too uncertain to tell
	Agrees                       // inside, or outside by no more than the tolerance
	Outside                      // outside beyond the tolerance
)

// String gives the word.
func (v Verdict) String() string {
	switch v {
	case Agrees:
		return "agrees"
	case Outside:
		return "outside"
	default:
		return "not comparable"
	}
}

// Comparison is a proportion held against an interval.
type Comparison struct {
	Want        Interval
	Found       float64 // fraction; 0 if it couldn't be measured
	Uncertainty float64 // standard uncertainty of Found
	Verdict     Verdict
	Off         float64 // how far outside, relative to the interval's nearer end: below 0 too small; 0 inside
	Explanation string
}

// Compare holds a proportion against an interval, with a tolerance of
// Coverage standard uncertainties and slack times the interval's end
// (Tolerances.Published or Tolerances.Body).
func Compare(p Proportion, want Interval, slack float64, t Tolerances) Comparison {
	c := Comparison{Want: want, Found: p.Value, Uncertainty: p.Uncertainty}
	figures := fmt.Sprintf("%s is %s of %s, ± %s; %s gives %s",
		p.Length, share(p.Value), p.Over, share(t.Coverage*p.Uncertainty), or2(want.Against, "the source"), want.figures())
	if p.Length != want.Length || p.Over != want.Over {
		c.Explanation = fmt.Sprintf("%s over %s was measured, %s over %s is wanted", p.Length, p.Over, want.Length, want.Over)
		return c
	}
	if !(p.Uncertainty <= t.Informative*p.Value) {
		c.Explanation = figures + "; the landmarks lie too near each other to tell, a larger picture would"
		return c
	}
	end := p.Value
	switch {
	case p.Value < want.Min:
		end = want.Min
	case p.Value > want.Max:
		end = want.Max
	}
	c.Off = (p.Value - end) / end
	margin := t.Coverage*p.Uncertainty + slack*end
	if p.Value < end-margin || p.Value > end+margin {
		c.Verdict = Outside
		c.Explanation = fmt.Sprintf("%s: %.0f %% %s", figures, 100*abs(c.Off), sign(c.Off, "too large", "too small"))
		return c
	}
	c.Verdict = Agrees
	c.Explanation = figures
	if c.Off != 0 {
		c.Explanation += ", within the tolerance"
	}
	return c
}

// ComparePublished measures what each published interval asks for and holds it
// against that. A length that can't be had makes its comparison not comparable
// and the explanation names the landmark that would give it.
func ComparePublished(p Picture, wants []Interval, t Tolerances) []Comparison {
	return compareAll(p, wants, t.Published, t)
}

// CompareBody holds a picture against another whose proportions are true to
// life; against names that one. It compares whatever both show.
func CompareBody(p, body Picture, against string, t Tolerances) []Comparison {
	var wants []Interval
	for _, b := range Proportions(body, t) {
		if !(b.Uncertainty <= t.Informative*b.Value) {
			continue // tells nothing of the body
		}
		wants = append(wants, Interval{b.Length, b.Over, b.Value - t.Coverage*b.Uncertainty, b.Value + t.Coverage*b.Uncertainty, against})
	}
	return compareAll(p, wants, t.Body, t)
}

func compareAll(p Picture, wants []Interval, slack float64, t Tolerances) []Comparison {
	out := make([]Comparison, 0, len(wants))
	for _, want := range wants {
		found, err := ProportionOf(p, want.Length, want.Over, t)
		if err != nil {
			out = append(out, Comparison{Want: want, Explanation: reason(err)})
			continue
		}
		out = append(out, Compare(found, want, slack, t))
	}
	return out
}

// reason turns an error into a sentence about the picture.
func reason(err error) string {
	if m := (*MissingError)(nil); errors.As(err, &m) {
		return fmt.Sprintf("set the landmark %s to compare %s", quoted(m.Landmarks), m.Measurement)
	}
	return err.Error()
}

func (i Interval) figures() string {
	if i.Min == i.Max {
		return share(i.Min)
	}
	return share(i.Min) + " to " + share(i.Max)
}

func share(f float64) string { return fmt.Sprintf("%.1f %%", 100*f) }

func abs(f float64) float64 { return max(f, -f) }

// sign chooses a word by the sign of f.
func sign(f float64, above, below string) string {
	if f > 0 {
		return above
	}
	return below
}
