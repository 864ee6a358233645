package meristic

import (
	"errors"
	"slices"
	"strings"
	"testing"
)

// notations are ways in which authors write counts, beside the published rows: common
// practice, no source; the values are invented. The right side is the canonical form.
var notations = []struct {
	context  Character
	in, want string
}{
	// one fin, several fins
	{0, "D XI,12", "D XI,12"},
	{0, "D. XI 12", "D XI,12"},
	{0, "DXI,12; AIII,8", "D XI,12; A III,8"},
	{0, "D X to XII + 10 to 12", "D X-XII,10-12"},
	{0, "D VIII-IX-I,10", "D1 VIII-IX; D2 I,10"},
	{0, "D V-I-9", "D1 V; D2 I,9"},
	{0, "D 13-16, 17-22, 16-20; A 17-20, 16-19", "D1 13-16; D2 17-22; D3 16-20; A1 17-20; A2 16-19"},
	{0, "D 13, 14 or 15", "D 13 or 14 or 15"},
	{0, "D XIII-XV, 12-16 + 7-10; A 14-16 + 7-9", "D1 XIII-XV; D2 12-16 with 7-10 finlets; A 14-16 with 7-9 finlets"},
	{0, "A II-I,16", "A II+I,16"},
	{Pelvic, "I+3+I", "V II,3"},
	{0, "spinous dorsal fin with VI spines, soft dorsal with I,9 rays", "D1 VI; D2 I,9"},
	{0, "Two dorsal fins, the first with IX spines; the second with I spine and 20 rays", "D1 IX; D2 I,20"},
	{0, "dorsal fins with 10 to 12, 17 to 20 and 18 to 20 rays", "D1 10-12; D2 17-20; D3 18-20"},
	{0, "dorsal and anal fins with 10 and 12 rays, respectively", "D 10; A 12"},
	// older authors
	{0, "D. 10/11, A. 3/8, V. 1/5, P. 16, C. 17, L. lat. 52, L. tr. 6/14", "D X,11; A III,8; V I,5; P 16; C 17; LL 52; Ltr 6/14"},
	{0, "B. vii. D. 7 | 1/9. Caec. pyl. 3.", "B 7; D1 VII; D2 I,9; PC 3"},
	{0, "D. 6-1/9", "D1 VI; D2 I,9"},
	{0, "Head 3½; depth 3; D. VII-I, 14; scales 8-55-11", "D1 VII; D2 I,14; Ltr 8/55/11"},
	// unbranched and branched
	{0, "D iii,8½; A iii,5½", "D iii,8½; A iii,5½"},
	{Dorsal, "3 + 8½", "D iii,8½"},
	{Anal, "11-13½ branched anal rays", "A 11½-13½ branched rays"},
	{0, "dorsal fin with iii unbranched and 8 branched rays", "D iii,8"},
	{Anal, "iv + 18–22 (mode = 20)", "A iv,18-22 (usually 20)"},
	{Anal, "v + 12 = 17", "A 17 (v,12)"},
	{0, "total dorsal-fin rays 11 (ii + II + 7), total anal-fin rays 9 (ii + II + 5)", "D 11 (iv,7); A 9 (iv,5)"},
	{Pectoral, "i,13-14,i", "P i,13-14,i"},
	{Dorsal, "i,9; ii,9 in one paratype", "D i (rarely ii),9(n=1)"},
	{Pectoral, "15 (14 in 2 specimens)", "P 15 or 14(n=2)"},
	{Dorsal, "with 9 rays (one specimen with 10)", "D 9 (rarely 10)"},
	{Pectoral, "15 (i,13,i)", "P 15 (i,13,i)"},
	{Dorsal, "III (6) 7-8 (9)", "D III,7-8 (rarely 6, 9)"},
	// lists, frequencies, types
	{Dorsal, "VIII or IX,13", "D VIII or IX,13"},
	{Pectoral, "i,11(3), i,12*(17) or ii,11(1)", "P i or ii,11(n=4) or 12*(n=17)"},
	{Dorsal, "9 (n=4), 10* (n=20)", "D 9(n=4) or 10*(n=20)"},
	{Dorsal, "13 in 2, 14 in 8", "D 13(n=2) or 14(n=8)"},
	{Pectoral, "16 (15-17)", "P 15-17 (usually 16)"},
	{Pectoral, "15-18 (16-17)", "P 15-18 (usually 16-17)"},
	{Pectoral, "17-19 (rarely 16 or 20)", "P 17-19 (rarely 16, 20)"},
	{Dorsal, "XI (X), 12-13", "D XI (rarely X),12-13"},
	{LateralLine, "52-58 (x̄ = 55)", "LL 52-58"},
	{0, "A 22-25 (mean 23.4)", "A 22-25"},
	{0, "D 10 vs. 12", "D 10"},
	// caudal fin
	{Caudal, "10/9", "C 10+9"},
	{Caudal, "i,9,8,i", "C i,9+8,i"},
	{Caudal, "ii-7-8-ii", "C ii,7+8,ii"},
	{Caudal, "vii–viii,i,9/8,i,vi–vii", "C vii-viii,i,9+8,i,vi-vii"},
	{Caudal, "5-6, 9+8, 5-6", "C 5-6+9+8+5-6"},
	{Caudal, "17 principal rays (9+8)", "C 9+8=17"},
	{Caudal, "caudal fin with 9 branched rays in each lobe", "C 9 upper branched, 9 lower branched"},
	{Caudal, "branched rays 7 + 6 (one specimen with 7 + 7)", "C 7 upper branched with 6 (rarely 7) lower branched"},
	{CaudalProcurrent, "vii dorsal, vi ventral", "Cproc 7+6"},
	{0, "dorsal and ventral procurrent rays 12 and 11 respectively", "Cproc 12+11"},
	// gill rakers, vertebrae
	{0, "Gill rakers (7-8) + (16-18), total 24-25", "GR 7-8+16-18=24-25"},
	{0, "GR 25 = 8+17", "GR 8+17=25"},
	{0, "gill rakers 6-8 (upper), 14-16 (lower)", "GR 6-8+14-16"},
	{0, "lower-limb gill rakers 14", "GR 14 lower"},
	{0, "24 vertebrae (10 precaudal, 14 caudal)", "Vert 10+14=24"},
	{0, "V 10+14", "Vert 10+14"},
	{0, "Myomeres 24-26 (8 preanal + 16-18 postanal)", "Myo 8+16-18=24-26"},
	{0, "37 vertebrae, 14 ribs", "Vert 37"},
	{0, "Vertebrae 33-34 (including the Weberian apparatus, counted as 4 elements)", "Vert 33-34"},
	// scales
	{0, "lateral line 46-51+2-3", "LL 46-51+2-3"},
	{0, "lateral-line scales 17+7", "LL 17+7"},
	{0, "LL 45/46", "LL 45 left, 46 right"},
	{0, "scales in lateral line 33, 5½ above, 3½ below", "LL 33; Ltr 5½/3½"},
	{TransverseScales, "½4/1/3½", "Ltr 4½/1/3½"},
	{0, "pored scales 5-9 in a lateral series of 30-32 scales", "LLp 5-9; LS 30-32"},
	{0, "12 rows of scales around caudal peduncle", "CP 12"},
	{0, "dorsal scutes 11-14; lateral scutes 32-38", "scutesD 11-14; scutesL 32-38"},
	{0, "Pharyngeal teeth 2,5-4,1", "PT 2 leftminor with 5 left with 4 right with 1 rightminor"},
	// snakes
	{BodyRows, "dorsals 17-17-15; V 165-175, SC 60-72", "DSR 17-17-15; VEN 165-175; SC 60-72"},
	{SupralabialShield, "7 (left) and 8 (right)", "SUPL 7/8"},
	{0, "upper labials 8 (4,5), lower labials 10", "SUPL 8; IL 10"},
	{VentralShields, "ventrals 143 + 1/2", "VEN 143"},
	// absence
	{0, "pelvic fins absent", "P2 0"},
	{Dorsal, "no spines, 9-11 soft rays", "D 0 spines, 9-11 rays"},
	// damaged
	{0, "D Xll,9 11; A 111,8", "D XII,9-11; A III,8"},
	{0, "anal fin 3 spmes 8 rays", "A III,8"},
	{0, "dorsl fin with 12 spines", "D XII"},
	{0, "P l5", "P 15"},
	{0, "D X..11", "D X,11"},
}

func TestNotations(t *testing.T) {
	for _, n := range notations {
		res, err := Parse(n.in, Options{Character: n.context})
		if err != nil {
			t.Errorf("%q: %v", n.in, err)
			continue
		}
		if got := Print(res.Statements); got != n.want {
			t.Errorf("%q: %s, want %s", n.in, got, n.want)
		}
		if p := stable(res.Statements); p != "" {
			t.Errorf("%q is not stable: %s", n.in, p)
		}
	}
}

// Every fault names the column where it stands, in characters and not in bytes.
func TestFaultColumns(t *testing.T) {
	for _, c := range []struct {
		in      string
		columns []int
	}{
		{"D VX,9", []int{3}},
		{"D XIV-XII,9", []int{7}},
		{"D XIV–XII,9", []int{7}},
		{"A III,10–8", []int{10}},
		{"D –XII,9", []int{3}},
		{"D X,", []int{4}},
		{"D X+", []int{4}},
		{"D X(11,12", []int{4}},
		{"D X)11", []int{4}},
		{"½4/1/3½; vertebrae 18+21=40", []int{1, 20}},
		{"D X,11; D IX,12", []int{11, 14}},
		{"C 9+8+7", []int{3}},
		{"P 14/", []int{5}},
		{"D +11", []int{3}},
		{"P 17 to 15", []int{9}},
	} {
		_, err := Parse(c.in, Options{})
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%q: %v, want faults", c.in, err)
			continue
		}
		var got []int
		for _, f := range e.Faults {
			got = append(got, f.Column)
			if f.Want == "" || f.Found == "" {
				t.Errorf("%q: %v doesn't say what was found and what is wanted", c.in, f)
			}
		}
		if !slices.Equal(got, c.columns) {
			t.Errorf("%q: faults %v at %v, want %v", c.in, e, got, c.columns)
		}
	}
}

// What the notation leaves open is reported with the other reading, whole.
func TestAlternatives(t *testing.T) {
	for _, c := range []struct {
		in      string
		opt     Options
		reading Reading
		taken   string
		other   string
	}{
		{"D I-II,8", Options{}, ReadRomanHyphenSeparates, "D I-II,8", "D1 I; D2 II,8"},
		{"P 12(13)", Options{}, ReadBracketFrequency, "P 12 (rarely 13)", "P 12(n=13)"},
		{"P 14(13-15)", Options{}, ReadBracketParatypes, "P 13-15 (usually 14)", "P 13-15 or 14*"},
		{"D III,8", Options{SoftRayed: true}, ReadCapitalSpine, "D iii,8", "D III,8"},
		{"Ltr 6-12", Options{}, ReadHyphenTransverse, "Ltr 6-12", "Ltr 6/12"},
		{"LL 45+3", Options{}, ReadPlusInterrupted, "LL 45+3", "LL 48, 45 forepart, 3 hindpart"},
		{"V 14", Options{}, ReadLabelVertebrae, "P2 14", "Vert 14"},
		{"Dorsal: spines total 3, soft rays total 8", Options{}, ReadCapitalUnbranched, "D III,8", "D 3 unbranched rays, 8 rays"},
	} {
		res, err := Parse(c.in, c.opt)
		if err != nil || Print(res.Statements) != c.taken {
			t.Errorf("%q: %s %v, want %s", c.in, Print(res.Statements), err, c.taken)
		}
		if len(res.Alternatives) != 1 || res.Alternatives[0].Reading != c.reading || res.Alternatives[0].Text == "" {
			t.Errorf("%q: alternatives %+v", c.in, res.Alternatives)
			continue
		}
		if got := Print(res.Alternatives[0].Statements); got != c.other {
			t.Errorf("%q otherwise: %s, want %s", c.in, got, c.other)
		}
	}
}

func TestConventions(t *testing.T) {
	for in, want := range map[string]Convention{
		"gill rakers including rudiments 22-24":     {Rudiments: RudimentsIncluded},
		"GR 20 (excluding rudiments)":               {Rudiments: RudimentsExcluded},
		"GR 5+1+10":                                 {Angle: AngleApart},
		"D iii,8½":                                  {LastRays: LastRaysOneAndHalf},
		"A iii,8, last two rays counted as one":     {LastRays: LastRaysOne},
		"A iii,16-18, last ray divided at its base": {LastRays: LastRaysOne},
		"D X,11": {},
		"lateral-line scales 45, including the pitted ones": {},
		"gill rakers 7+12": {},
	} {
		if got := mustParse(t, in)[0].Convention; got != want {
			t.Errorf("%q: %+v, want %+v", in, got, want)
		}
	}
}

func TestLimits(t *testing.T) {
	if _, err := Parse(strings.Repeat("D X,11; ", 1<<17), Options{}); !errors.Is(err, ErrTooLong) {
		t.Errorf("one MiB: %v", err)
	}
	for _, s := range []string{"", "   ", "D", "falcate, with a dusky margin", "A new species from the reef", "in 1987, at 30 m depth"} {
		if res, err := Parse(s, Options{}); err == nil {
			t.Errorf("%q read as %s", s, Print(res.Statements))
		}
	}
	if _, err := Parse("D IIII,10", Options{Strict: true}); err == nil {
		t.Error("a misprint taken in strict mode")
	}
}

// Text that is all brackets, signs or conjunctions takes time in proportion.
func TestNoiseIsBounded(t *testing.T) {
	for _, unit := range []string{"(", "9(", "9 and ", "I,", "9+", "i,", "9-", "dorsal ", "= ", "9 or ", "x̄ ", "½", "(9) "} {
		s := strings.Repeat(unit, MaxInput/len(unit))
		res, _ := Parse(s, Options{Character: Dorsal})
		if n := len(Tokens(res.Statements)); n > 50*entryMost {
			t.Errorf("%q repeated: %d tokens", unit, n)
		}
	}
}
