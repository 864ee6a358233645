package commission

import (
	"strings"
	"testing"

	pb "platarium/proto/platarium/v1"
	"platarium/server/scale"
)

// Lines lose weight with the picture: the plan says how much, and when they may break up. Hairlines below 0.1 mm: common practice, no source.
func TestLineWeight(t *testing.T) {
	for _, c := range []struct {
		as      pb.Rendering
		printed float64 // mm of a stretch that is 100 mm long on the original
		says    string
	}{
		{pb.Rendering_RENDERING_LINE, 80, "a line of 0.25 mm on the original prints at 0.2 mm; one below 0.12 mm may break up"},
		{pb.Rendering_RENDERING_COMBINATION, 25, "a line of 0.25 mm on the original prints at 0.062 mm: below 0.1 mm it may break up; draw it at least 0.4 mm"},
		{pb.Rendering_RENDERING_LINE, 100, ""},
		{pb.Rendering_RENDERING_LINE, 150, ""},
		{pb.Rendering_RENDERING_TONE, 25, ""},
	} {
		r, err := scale.Reproduce(scale.Frame{Width: 4000, Height: 2000, PPIX: 508, PPIY: 508}, 2000, c.printed, scale.Rendering(c.as), scale.DefaultTolerances())
		if err != nil {
			t.Fatal(err)
		}
		if got := lineWeight(c.as, r); got != c.says {
			t.Errorf("%v at %g mm: %q; want %q", strings.ToLower(c.as.String()), c.printed, got, c.says)
		}
	}
}
