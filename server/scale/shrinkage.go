package scale

import (
	"fmt"
	"strings"
)

// Shrinkage is what a publication found of the change of length in a preserved
// fish. It is only ever noted for a person: fishes of one jar differ more than
// publications do, so no length is corrected by it.
type Shrinkage struct {
	Medium                 Medium
	MinPercent, MaxPercent float64 // of the length alive
	// UpToMM is the standard length up to which it was found; 0 for no limit stated.
	UpToMM float64
	Of     string // which fishes and lengths
	Source string
}

// Medium is what a specimen is kept in.
type Medium uint8

// Media.
const (
	OtherMedium Medium = iota
	Formalin
	Alcohol
	Frozen
)

// String is such as "fork length of walleye pollock, frozen: shorter by up to 1.8 % (source)".
func (s Shrinkage) String() string {
	span := fmt.Sprintf("by %.3g to %.3g %%", s.MinPercent, s.MaxPercent)
	switch s.MinPercent {
	case 0:
		span = fmt.Sprintf("by up to %.3g %%", s.MaxPercent)
	case s.MaxPercent:
		span = fmt.Sprintf("by about %.3g %%", s.MaxPercent)
	}
	return fmt.Sprintf("%s: shorter %s (%s)", s.Of, span, s.Source)
}

// PublishedShrinkages gives what the program knows of shrinkage. Publications
// agree on little more than that it is small in grown fishes and large in larvae.
func PublishedShrinkages() []Shrinkage {
	const (
		review = "Nordeide 2019, Journal of Fish Biology: review of 35 species"
		young  = "Canadian Journal of Fisheries and Aquatic Sciences 43 (1986): 1079-1081"
		larvae = "Fey 2002, Bulletin of the Sea Fisheries Institute 155: 47-51"
		frozen = "study of walleye pollock, capelin and eulachon, abstract (J. Fish Biol. 2005, from memory)"
	)
	return []Shrinkage{
		{Formalin, 2, 2, 0, "body length of small fishes in formalin, on average", review},
		{Formalin, 0, 4.9, 0, "young freshwater fishes, fixed and preserved; head least, trunk most", young},
		{Alcohol, 0, 4.9, 0, "young freshwater fishes, fixed and preserved; head least, trunk most", young},
		{Alcohol, 8, 18, 20, "larvae of herring and smelt of 12 mm SL, formalin then alcohol", larvae},
		{Alcohol, 0, 2, 30, "young herring and smelt of 28 mm SL, formalin then alcohol", larvae},
		{Frozen, 0, 1.8, 0, "fork length of walleye pollock, frozen", frozen},
		{Frozen, 0, 5.6, 0, "fork length of capelin, frozen", frozen},
		{Frozen, 0, 2.7, 0, "fork length of eulachon, frozen", frozen},
		// From memory, wide: older jars of museums pass through both.
		{Alcohol, 0, 10, 0, "grown fishes fixed in formalin and kept in alcohol", "from memory, a wide range"},
	}
}

// ParseMedium reads a preservation in words, such as "75 % ethanol, fixed in formalin": what it is kept in now, or else was fixed in.
func ParseMedium(preservation string) Medium {
	s := strings.ToLower(preservation)
	for _, w := range []struct {
		word string
		m    Medium
	}{
		{"ethanol", Alcohol}, {"alcohol", Alcohol}, {"etoh", Alcohol}, {"isopropanol", Alcohol}, {"spirit", Alcohol},
		{"formalin", Formalin}, {"formaldehyde", Formalin}, {"formol", Formalin},
		{"frozen", Frozen}, {"freez", Frozen}, {"froze", Frozen},
	} {
		if strings.Contains(s, w.word) {
			return w.m
		}
	}
	return OtherMedium
}

// ShrinkageNote says what is to be kept in mind of a specimen preserved so, in short and with all that was found in other fishes and where; slMM is its standard length, 0 if
// unknown. Both are empty for a fresh one.
func ShrinkageNote(preservation string, slMM float64) (short, full string) {
	m := ParseMedium(preservation)
	if m == OtherMedium {
		return "", ""
	}
	var found []string
	most := 0.0
	for _, s := range PublishedShrinkages() {
		if s.Medium == m && (s.UpToMM == 0 || (slMM > 0 && slMM <= s.UpToMM)) {
			found = append(found, s.String())
			most = max(most, s.MaxPercent)
		}
	}
	short = fmt.Sprintf("kept as %q: its lengths may be up to some %.2g %% short of those alive, and nothing was corrected for it", preservation, most)
	return short, short + "; found in other fishes: " + strings.Join(found, "; ")
}
