package imaging

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"time"

	"golang.org/x/sync/semaphore"
)

// Decoders says which decoders a Runner may use.
type Decoders int

const (
	// BestDecoder takes libvips when its programs are on PATH, else pure Go.
	BestDecoder Decoders = iota
	// OnlyGo never starts libvips.
	OnlyGo
	// OnlyVips refuses to work without libvips.
	OnlyVips
)

// Config describes a Runner.
type Config struct {
	// Executable is the program to start as child, which must hand ChildVerb to ChildMain; empty means this program.
	Executable string
	// Concurrency is how many pictures are decoded at once; 0 means 1. Each may take Limits.Memory.
	Concurrency int
	// Limits bound each picture; the zero value means DefaultLimits.
	Limits Limits
	// TempDir holds the temporary copy of each original; empty means the system's.
	TempDir  string
	Decoders Decoders
}

// Runner makes previews in child processes. Safe for concurrent use.
type Runner struct {
	cfg  Config
	vips vipsPrograms
	sem  *semaphore.Weighted
}

// grace is how long a child that was told to stop may take before it is killed.
const grace = 2 * time.Second

// maxAnswer bounds what is read from a child: two previews are a few megabytes at most.
const maxAnswer = 64 << 20

// NewRunner checks cfg and looks for libvips.
func NewRunner(cfg Config) (*Runner, error) {
	if cfg.Limits == (Limits{}) {
		cfg.Limits = DefaultLimits()
	}
	if err := cfg.Limits.Validate(); err != nil {
		return nil, err
	}
	if cfg.Executable == "" {
		exe, err := os.Executable()
		if err != nil {
			return nil, fmt.Errorf("find this program: %w", err)
		}
		cfg.Executable = exe
	}
	cfg.Concurrency = max(cfg.Concurrency, 1)
	r := &Runner{cfg: cfg, sem: semaphore.NewWeighted(int64(cfg.Concurrency))}
	if cfg.Decoders != OnlyGo {
		r.vips = findVips()
	}
	if cfg.Decoders == OnlyVips && !r.vips.found() {
		return nil, fault(ErrUnsupported, rightVips, "the programs vips and vipsthumbnail aren't on PATH")
	}
	return r, nil
}

// HasVips says whether libvips will be used.
func (r *Runner) HasVips() bool { return r.vips.found() }

// Derive copies an original to a temporary file and makes its previews. A *Fault says that this picture gets none and why; store it with
// NewInfo. Any other error (the context's, or of this machine) says nothing about the picture.
func (r *Runner) Derive(ctx context.Context, original io.Reader) (Derived, error) {
	var d Derived
	err := r.work(ctx, original, request{}, func(a answer, _ string) error {
		if a.Derived == nil {
			return errEmptyAnswer
		}
		d = *a.Derived
		return nil
	})
	return d, err
}

// work has a child do what req asks of an original, and hands its answer on, with the folder of the files that it wrote, while that is there.
func (r *Runner) work(ctx context.Context, original io.Reader, req request, done func(a answer, dir string) error) error {
	if err := r.sem.Acquire(ctx, 1); err != nil {
		return err
	}
	defer r.sem.Release(1)
	dir, err := os.MkdirTemp(r.cfg.TempDir, "picture-")
	if err != nil {
		return fmt.Errorf("make a temporary folder: %w", err)
	}
	defer os.RemoveAll(dir) //nolint:errcheck // nothing depends on it; the system clears its temporary folder
	req.Path, req.Dir, req.Vips = filepath.Join(dir, "original"), dir, r.vips
	if req.Limits == (Limits{}) {
		req.Limits = r.cfg.Limits
	}
	if err := r.spool(ctx, req.Path, original); err != nil {
		return err
	}
	a, err := r.child(ctx, req)
	if err != nil {
		return err
	}
	return done(a, dir)
}

func (r *Runner) spool(ctx context.Context, path string, original io.Reader) (err error) {
	f, err := os.OpenFile(path, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	n, err := io.Copy(f, io.LimitReader(contextReader{ctx.Err, original}, r.cfg.Limits.FileBytes+1))
	switch {
	case err != nil:
		return fmt.Errorf("copy the original to a temporary file: %w", err)
	case n > r.cfg.Limits.FileBytes:
		return fault(ErrTooBig, "raise the file limit if the picture is sound", "more than %d bytes", r.cfg.Limits.FileBytes)
	default:
		return nil
	}
}

// contextReader stops a long copy when its context ends.
type contextReader struct {
	done func() error
	r    io.Reader
}

func (c contextReader) Read(p []byte) (int, error) {
	if err := c.done(); err != nil {
		return 0, err
	}
	return c.r.Read(p)
}

// child runs one request. Whatever the child does, the result is an answer or an error, and no process is left behind.
func (r *Runner) child(ctx context.Context, req request) (answer, error) {
	line, err := json.Marshal(req)
	if err != nil {
		return answer{}, err
	}
	limited, cancel := context.WithTimeout(ctx, req.Limits.Timeout+grace)
	defer cancel()
	cmd := exec.CommandContext(limited, r.cfg.Executable, ChildVerb)
	cmd.Dir = req.Dir
	cmd.Env = append(plainEnv(), fmt.Sprintf("GOMEMLIMIT=%d", req.Limits.Memory), "GOTRACEBACK=none", "TMPDIR="+req.Dir, "TMP="+req.Dir, "TEMP="+req.Dir)
	separate(cmd)
	cmd.Cancel = func() error { return kill(cmd) }
	cmd.WaitDelay = grace
	out, errs := capped{limit: maxAnswer}, capped{limit: 4 << 10}
	cmd.Stdout, cmd.Stderr = &out, &errs
	stdin, err := cmd.StdinPipe()
	if err != nil {
		return answer{}, err
	}
	if err := cmd.Start(); err != nil {
		return answer{}, fmt.Errorf("start the decoder process: %w", err)
	}
	// A child that is gone before it has read answers by its exit code.
	_, _ = stdin.Write(append(line, '\n'))
	err = cmd.Wait()
	switch {
	case ctx.Err() != nil:
		return answer{}, ctx.Err()
	case limited.Err() != nil:
		return answer{}, slow(req.Limits)
	case err != nil:
		return answer{}, crashed(err, errs.buf.String())
	}
	return out.answer()
}

// crashed describes a child that died: out of memory when the runtime said so, else as the system tells.
func crashed(err error, said string) *Fault {
	line := firstLine(said)
	if line == "" {
		line = "no message"
	}
	return fault(ErrDecoder, "try again, or raise the memory limit if the picture is sound", "the decoder process ended: %v (%s)", err, line)
}

func (c *capped) answer() (answer, error) {
	var a answer
	if c.overflow {
		return answer{}, fault(ErrDecoder, "try again", "the decoder process answered more than %d bytes", c.limit)
	}
	if err := json.Unmarshal(c.buf.Bytes(), &a); err != nil {
		return answer{}, fault(ErrDecoder, "try again", "the decoder process gave no sound answer: %v", err)
	}
	switch {
	case a.Failure != nil:
		return answer{}, a.Failure.fault()
	case a.Error != "":
		return answer{}, errors.New("decoder process: " + a.Error)
	default:
		return a, nil
	}
}

var errEmptyAnswer = fault(ErrDecoder, "try again", "the decoder process gave an empty answer")
