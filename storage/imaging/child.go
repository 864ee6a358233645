package imaging

import (
	"bufio"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"runtime/debug"
)

// ChildVerb is the hidden first argument with which a Runner starts its own program again; main hands such a call to ChildMain.
const ChildVerb = "decode-picture"

// request is the one line that the parent writes to the child's standard input. The stream stays open: its end tells the child to stop.
type request struct {
	Path   string       `json:"path"`
	Dir    string       `json:"dir"` // for scratch files; the parent removes it
	Limits Limits       `json:"limits"`
	Vips   vipsPrograms `json:"vips"`
	// What to make: the cuts, a pyramid in a folder of its own, or else the previews.
	Cuts    []Cut  `json:"cuts,omitempty"`
	Pyramid string `json:"pyramid,omitempty"`
}

// answer is the child's whole standard output.
type answer struct {
	Derived *Derived     `json:"derived,omitempty"`
	Cuts    []CutInfo    `json:"cuts,omitempty"` // in order, each written to the file cutFile
	Pyramid *PyramidInfo `json:"pyramid,omitempty"`
	Failure *Failure     `json:"failure,omitempty"`
	Error   string       `json:"error,omitempty"` // a failure of the machine rather than of the picture
}

// ChildMain decodes one picture as a Runner asks on stdin and answers on stdout. It confines its process (memory) first, so it must be called
// from main and nothing else may run in the process. The result is the exit code; args are ignored.
func ChildMain(args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	_ = args
	in := bufio.NewReader(stdin)
	var req request
	line, err := in.ReadBytes('\n')
	if err == nil {
		err = json.Unmarshal(line, &req)
	}
	if err == nil {
		err = req.Limits.Validate()
	}
	if err == nil {
		err = confine(req.Limits.Memory)
	}
	if err != nil {
		fmt.Fprintln(stderr, "read request:", err) //nolint:errcheck // the exit code says it too
		return 2
	}
	ctx, cancel := context.WithTimeout(context.Background(), req.Limits.Timeout)
	defer cancel()
	go func() { // ends with the process: the parent closes stdin at the latest when it dies
		_, _ = io.Copy(io.Discard, in)
		cancel()
	}()
	if err := json.NewEncoder(stdout).Encode(serve(ctx, req)); err != nil {
		fmt.Fprintln(stderr, "write answer:", err) //nolint:errcheck // the exit code says it too
		return 1
	}
	return 0
}

// confine bounds the memory of this process and of those it starts. The runtime's limit makes the collector work harder near it; the
// system's, where there is one, ends the process beyond it.
func confine(memory int64) error {
	debug.SetMemoryLimit(memory)
	return confineSystem(memory)
}

func serve(ctx context.Context, req request) answer {
	a, err := made(ctx, req)
	var f *Fault
	switch {
	case err == nil:
		return a
	case errors.As(err, &f):
		return answer{Failure: newFailure(f)}
	case errors.Is(err, context.DeadlineExceeded):
		return answer{Failure: newFailure(slow(req.Limits))}
	default:
		return answer{Error: err.Error()}
	}
}

func made(ctx context.Context, req request) (a answer, err error) {
	switch {
	case len(req.Cuts) > 0:
		a.Cuts, err = cutAll(ctx, req)
	case req.Pyramid != "":
		a.Pyramid = &PyramidInfo{}
		*a.Pyramid, err = makePyramid(ctx, req)
	default:
		a.Derived = &Derived{}
		*a.Derived, err = derive(ctx, req.Path, req.Dir, req.Limits, req.Vips)
	}
	return a, err
}

func slow(lim Limits) *Fault {
	return fault(ErrDecoder, "try again when the machine is less busy, or raise the time limit", "not done after %v", lim.Timeout)
}
