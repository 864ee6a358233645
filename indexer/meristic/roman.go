package meristic

// romanMax is the largest count that is read from a roman numeral. No fish has nearly
// as many spines; larger counts are in figures, and C alone is the caudal fin.
const romanMax = 99

// romanDigit gives the value of one numeral in either case, 0 for any other byte.
func romanDigit(b byte) int {
	switch b {
	case 'I', 'i':
		return 1
	case 'V', 'v':
		return 5
	case 'X', 'x':
		return 10
	case 'L', 'l':
		return 50
	case 'C', 'c':
		return 100
	default:
		return 0
	}
}

type romanForm uint8

const (
	romanInvalid   romanForm = iota // out of order: VX, IC
	romanAdditive                   // understandable but not canonical: IIII, VIIII
	romanCanonical                  //
)

// roman reads a numeral of one case. Canonical means that printing the value gives
// the same letters again.
func roman(s string) (n int, form romanForm) {
	if s == "" || len(s) > 12 {
		return 0, romanInvalid
	}
	additive := true
	for i := 0; i < len(s); i++ {
		d := romanDigit(s[i])
		if d == 0 {
			return 0, romanInvalid
		}
		if i+1 < len(s) && d < romanDigit(s[i+1]) {
			additive = false
			n -= d
		} else {
			n += d
		}
	}
	var buf [24]byte
	switch {
	case n <= 0 || n > romanMax:
		return 0, romanInvalid
	case sameFold(appendRoman(buf[:0], n), s):
		return n, romanCanonical
	case additive && repeats(s) <= 4:
		return n, romanAdditive
	default:
		return 0, romanInvalid
	}
}

func sameFold(upper []byte, s string) bool {
	if len(upper) != len(s) {
		return false
	}
	for i := range upper {
		if upper[i] != s[i]&^0x20 {
			return false
		}
	}
	return true
}

// repeats is the longest run of one letter; five strokes are a misprint, not a count.
func repeats(s string) int {
	longest, run := 1, 1
	for i := 1; i < len(s); i++ {
		if s[i] == s[i-1] {
			run++
			longest = max(longest, run)
		} else {
			run = 1
		}
	}
	return longest
}

// appendRoman writes n (1 to romanMax) in upper-case numerals.
func appendRoman(dst []byte, n int) []byte {
	for _, r := range [...]struct {
		v int
		s string
	}{{100, "C"}, {90, "XC"}, {50, "L"}, {40, "XL"}, {10, "X"}, {9, "IX"}, {5, "V"}, {4, "IV"}, {1, "I"}} {
		for n >= r.v {
			dst = append(dst, r.s...)
			n -= r.v
		}
	}
	return dst
}
