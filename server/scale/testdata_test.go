package scale

import (
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// row is one line of a published table by column name.
type row map[string]string

// table reads a tab-separated file of published values.
func table(t *testing.T, name string) []row {
	t.Helper()
	data, err := os.ReadFile("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimRight(string(data), "\n"), "\n")
	head := strings.Split(lines[0], "\t")
	var out []row
	for _, line := range lines[1:] {
		r := row{}
		for i, cell := range strings.Split(line, "\t") {
			r[head[i]] = cell
		}
		out = append(out, r)
	}
	if len(out) == 0 {
		t.Fatalf("%s holds no rows", name)
	}
	return out
}

func (r row) number(t *testing.T, column string) float64 {
	t.Helper()
	f, err := strconv.ParseFloat(r[column], 64)
	if err != nil {
		t.Fatalf("%s: %v in %v", column, err, r)
	}
	return f
}

// body is an invented animal in mm: x from the snout toward the tail, y toward the back.
type body map[string]vec

// perchlike is an invented fish of 100 mm SL, HL 32, BD 30, ED 8.
func perchlike() body {
	return body{
		SnoutTip: {0, 0}, HypuralEnd: {100, 0}, Fork: {112, 0}, TailTip: {120, 4},
		OpercleEdge: {32, 0}, EyeFront: {9, 3}, EyeRear: {17, 3},
		Back: {40, 17}, Belly: {40, -13}, DorsalOrigin: {36, 16}, AnalOrigin: {64, -11},
	}
}

// look is how a body lies in a picture.
type look struct {
	frame  Frame
	px     float64 // pixels (across) to the mm
	angle  float64 // radians
	mirror bool    // head to the right
	x, y   float64 // of the snout, fractions
}

// plain shows the fish level, head to the left, 20 pixels to the mm.
func plain() look {
	return look{frame: Frame{Width: 4000, Height: 3000}, px: 20, x: 0.2, y: 0.5}
}

func (l look) at(v vec) Point {
	x, y := v.x*l.px, -v.y*l.px
	if l.mirror {
		x = -x
	}
	sin, cos := math.Sincos(l.angle)
	origin := vec{l.x * float64(l.frame.Width), l.y * float64(l.frame.Height) * l.frame.aspect()}
	return l.frame.point(origin.plus(vec{x*cos - y*sin, x*sin + y*cos}))
}

func (l look) show(b body) Picture {
	p := Picture{Frame: l.frame, Landmarks: map[string]Point{}}
	for name, v := range b {
		p.Landmarks[name] = l.at(v)
	}
	return p
}

// looks are similar pictures of one body: turned, enlarged, mirrored, with oblong pixels.
func looks() map[string]look {
	turned, small, mirrored, oblong := plain(), plain(), plain(), plain()
	turned.angle, turned.px, turned.x = 0.4, 15, 0.3
	small.px = 9
	mirrored.mirror, mirrored.x = true, 0.8
	oblong.frame.PPIX, oblong.frame.PPIY, oblong.frame.Height = 600, 300, 1500
	both := oblong
	both.mirror, both.angle, both.x, both.px = true, -0.3, 0.8, 14
	return map[string]look{"plain": plain(), "turned": turned, "small": small, "mirrored": mirrored, "oblong pixels": oblong, "all": both}
}

func near(t *testing.T, what string, got, want, within float64) {
	t.Helper()
	if !(math.Abs(got-want) <= within) {
		t.Errorf("%s: found %.8g, want %.8g within %.2g", what, got, want, within)
	}
}
