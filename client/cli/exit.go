package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/genproto/googleapis/rpc/errdetails"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
)

// Exit codes.
const (
	OK          = 0   // done
	Failed      = 1   // something went wrong that no other code names
	Usage       = 2   // the command line can't be meant
	Missing     = 3   // what was asked for isn't there
	Rejected    = 4   // some rows of an import were rejected; the rest went in
	Refused     = 5   // the archive refused: a field at fault, a colliding grant, a record in use
	Denied      = 6   // no key, or one that may not do this
	Unreachable = 7   // the server can't be reached or is going down
	Problems    = 8   // a check found something wrong
	Interrupted = 130 // stopped by the user
)

const exitCodesText = `  0    done
  1    something went wrong that no other code names
  2    the command line can't be meant
  3    what was asked for isn't there, or nothing was found
  4    some rows of an import were rejected; the rest went in
  5    the archive refused: a field at fault, a colliding grant, a record in use
  6    no key, or one that may not do this
  7    the server can't be reached or is going down
  8    a check found something wrong
  130  stopped by the user
`

func exitCodes() *cobra.Command {
	return &cobra.Command{Use: "exit-codes", Short: "What the exit codes mean (help topic)", Long: "Exit codes:\n\n" + exitCodesText}
}

// coded is an error that knows its exit code.
type coded struct {
	code  int
	err   error
	quiet bool // the command has said all there is to say
}

func (c *coded) Error() string { return c.err.Error() }
func (c *coded) Unwrap() error { return c.err }

// Code gives an error an exit code.
func Code(code int, err error) error { return &coded{code: code, err: err} }

func usage(err error) error { return Code(Usage, err) }

// args wraps a rule for arguments so that a breach is a usage error.
func args(rule cobra.PositionalArgs) cobra.PositionalArgs {
	return func(cmd *cobra.Command, list []string) error {
		if err := rule(cmd, list); err != nil {
			return usage(fmt.Errorf("%w; want: %s", err, cmd.UseLine()))
		}
		return nil
	}
}

var codesOf = map[codes.Code]int{
	codes.NotFound: Missing, codes.InvalidArgument: Refused, codes.FailedPrecondition: Refused, codes.AlreadyExists: Refused, codes.Aborted: Refused,
	codes.Unauthenticated: Denied, codes.PermissionDenied: Denied, codes.Unavailable: Unreachable, codes.DeadlineExceeded: Unreachable, codes.Canceled: Interrupted,
}

func exitCode(ctx context.Context, err error) int {
	var c *coded
	if errors.As(err, &c) {
		return c.code
	}
	if ctx.Err() != nil {
		return Interrupted
	}
	var s interface{ GRPCStatus() *status.Status }
	if errors.As(err, &s) {
		if code, ok := codesOf[s.GRPCStatus().Code()]; ok {
			return code
		}
	}
	if strings.HasPrefix(err.Error(), "unknown command") || strings.HasPrefix(err.Error(), "required flag") {
		return Usage
	}
	return Failed
}

// explain tells what went wrong: each field at fault on a line of its own, and what would help.
func (a *App) explain(err error) {
	var c *coded
	if errors.As(err, &c) && c.quiet {
		return
	}
	var s interface{ GRPCStatus() *status.Status }
	if !errors.As(err, &s) {
		a.notef("platarium: %s\n", err)
		return
	}
	st := s.GRPCStatus()
	for _, d := range st.Details() {
		if br, ok := d.(*errdetails.BadRequest); ok {
			a.notef("platarium: refused; fields at fault:\n")
			for _, v := range br.GetFieldViolations() {
				a.notef("  %s: %s\n", v.GetField(), v.GetDescription())
			}
			return
		}
	}
	switch st.Code() {
	case codes.Unavailable:
		a.notef("platarium: the server at %s can't be reached (%s); start one with: platarium serve\n", a.address, st.Message())
	case codes.Unauthenticated:
		a.notef("platarium: %s; the key comes from %s or PLATARIUM_KEY\n", st.Message(), a.keyFile)
	default:
		a.notef("platarium: %s\n", st.Message())
	}
}
