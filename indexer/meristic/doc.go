// Package meristic reads, prints and compares the counts of fishes (and of a few
// scale characters of snakes) as ichthyologists write them: "D X-XI,11-13; A III,8".
//
// Parse turns one string into typed statements: a character (first dorsal fin,
// gill rakers, vertebrae), and for each of its elements (spines, branched rays,
// lower limb, caudal vertebrae) an interval with the usual value, the frequencies
// and the holotype's value where the author gave them. Nothing is settled in
// silence: what was assumed, what was repaired and every other reading that the
// notation allows stand beside the result, each with its column.
//
// Print writes one canonical formula, and Parse(Print(x)) has the counts of x.
// Compare puts two records side by side, character by character. Tokens and
// Wanted serve a search index.
//
// Invariants: no input and no output, no clock, no mutable globals; a Parse of any
// bytes ends in time linear in the length (at most MaxInput) and never panics; an
// interval has Min <= Max, both multiples of one half.
//
// Left out: proportions and other continuous measurements, colour, and who
// identified the specimen. Whether a count fits a taxon is Compare's business with
// the taxon's diagnosis; Parse only rejects what cannot be meant in any fish.
//
// Notation. Sources named in comments are these; READ means that the text was seen
// in a stored copy, MEMORY that it was not:
//
//	Kimura     Methods of measurements and counts, after Nakabo 2002 (READ)
//	Hubbs      Hubbs & Lagler's counts as taught (READ)
//	K&F        Kottelat & Freyhof 2007, wording as in FishBase (READ, the meaning of the half MEMORY)
//	Fahay      Early stages of fishes, 2007, meristic tables (READ)
//	FNAM       Fishes of the NE Atlantic and the Mediterranean (READ)
//	Day        The fishes of Malabar era, 1870 (READ)
//	Dictionary Dictionary of Ichthyology (READ)
package meristic
