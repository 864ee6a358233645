package cli

import (
	"fmt"
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	terminal "golang.org/x/term"

	"platarium/client/manifest"
)

// progress shows how far an import has come on the standard error: a bar at a terminal, else a line now and then.
type progress struct {
	app   *App
	quiet bool
	bar   *progressbar.ProgressBar
	last  time.Duration // when the last line was written, since the beginning
}

// Pauses between two signs of life.
const (
	barEvery  = 100 * time.Millisecond
	lineEvery = 10 * time.Second
	barSteps  = 1000
)

func (a *App) progress(quiet bool) *progress {
	p := &progress{app: a, quiet: quiet}
	if f, ok := a.Err.(*os.File); ok && !quiet && terminal.IsTerminal(int(f.Fd())) {
		p.bar = progressbar.NewOptions(barSteps, progressbar.OptionSetWriter(a.Err), progressbar.OptionThrottle(barEvery), progressbar.OptionClearOnFinish(),
			progressbar.OptionSetPredictTime(false), progressbar.OptionSetElapsedTime(false), progressbar.OptionSetWidth(30))
	}
	return p
}

// show is told of every step; calls come one by one.
func (p *progress) show(s manifest.Progress) {
	switch {
	case p.quiet:
	case p.bar != nil:
		if s.Elapsed-p.last < barEvery && s.Fraction() < 1 {
			return
		}
		p.last = s.Elapsed
		p.bar.Describe(progressText(s))
		_ = p.bar.Set(int(s.Fraction() * barSteps)) // a bar that can't be drawn is no reason to stop
	case s.Elapsed-p.last >= lineEvery:
		p.last = s.Elapsed
		p.app.notef("%s\n", progressText(s))
	}
}

func progressText(s manifest.Progress) string {
	text := fmt.Sprintf("%s: %d of %d rows", s.Stage, s.Rows, s.AllRows)
	if took := s.Elapsed.Seconds(); took > 0 {
		if s.All > 0 {
			text += fmt.Sprintf(", %s of %s, %s/s", manifest.Bytes(s.Sent), manifest.Bytes(s.All), manifest.Bytes(int64(float64(s.Sent)/took)))
		} else {
			text += fmt.Sprintf(", %.0f rows/s", float64(s.Rows)/took)
		}
	}
	if left := s.Left(); left > 0 {
		text += ", " + seconds(left) + " left"
	}
	return text
}

// clear makes room for a line.
func (p *progress) clear() {
	if p.bar != nil {
		_ = p.bar.Clear()
	}
}

// end takes the bar away.
func (p *progress) end() { p.clear() }
