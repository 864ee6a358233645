// Package cli is the command line: one command a file, each a thin ask to a server and an answer for a person or, with --json, for a script.
//
// Invariants: results go to the standard output and everything else to the standard error; --json writes one JSON value a line; exit codes are those of exit.go; nothing is read from a terminal
// that a script couldn't give.
//
// Left out: serve and demo, which join client and server and stand in main.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"

	"platarium/client"
)

// App is one run of the program.
type App struct {
	In  io.Reader
	Out io.Writer
	Err io.Writer

	address   string
	keyFile   string
	caFile    string
	tls       bool
	plainText bool
	json      bool
}

// Version of the program, shown by --version.
const Version = "0.1.0"

// Run carries out a command line and returns the exit code. More adds commands that this package doesn't have.
func Run(ctx context.Context, args []string, in io.Reader, out, errOut io.Writer, more ...func(*App) *cobra.Command) int {
	app := &App{In: in, Out: out, Err: errOut}
	root := app.root(more)
	root.SetArgs(args)
	root.SetIn(in)
	root.SetOut(out)
	root.SetErr(errOut)
	err := root.ExecuteContext(ctx)
	if err == nil {
		return OK
	}
	code := exitCode(ctx, err)
	app.explain(err)
	return code
}

func (a *App) root(more []func(*App) *cobra.Command) *cobra.Command {
	root := &cobra.Command{
		Use:   "platarium",
		Short: "Keep a studio's plates, studies and references; find them again; know where each is licensed",
		Long: "Platarium keeps a scientific illustrator's plates, studies and references with their taxa, counts,\n" +
			"structures, scale and rights; finds earlier drawings of related species before a commission; and knows\n" +
			"where each plate has been licensed.\n\n" +
			"The program talks to a server (see: platarium help serve). Try it with: platarium demo",
		Version:       Version,
		SilenceUsage:  true,
		SilenceErrors: true,
	}
	f := root.PersistentFlags()
	f.StringVar(&a.address, "server", env("PLATARIUM_SERVER", "127.0.0.1:7411"), "the server, host:port (or PLATARIUM_SERVER)")
	f.StringVar(&a.keyFile, "key-file", env("PLATARIUM_KEY_FILE", DefaultKeyFile()), "file with the key's secret (or PLATARIUM_KEY_FILE; the secret itself may stand in PLATARIUM_KEY)")
	f.BoolVar(&a.tls, "tls", false, "use TLS with the system's certificate authorities")
	f.StringVar(&a.caFile, "ca", "", "use TLS with the certificate authorities in this PEM file")
	f.BoolVar(&a.plainText, "plain-text", false, "allow a connection in the clear to another machine")
	f.BoolVar(&a.json, "json", false, "write results as JSON, one value a line")
	root.SetFlagErrorFunc(func(_ *cobra.Command, err error) error { return usage(err) })
	for _, make := range append(commands(), more...) {
		root.AddCommand(make(a))
	}
	root.AddCommand(exitCodes())
	return root
}

// commands lists the commands of this package.
func commands() []func(*App) *cobra.Command {
	return []func(*App) *cobra.Command{
		(*App).search, (*App).show, (*App).add, (*App).update, (*App).remove, (*App).fetch, (*App).deliver, (*App).grant, (*App).use, (*App).available, (*App).brief, (*App).plan, (*App).check,
		(*App).alarms, (*App).ledger, (*App).history, (*App).revisions, (*App).importCommand, (*App).manifestCommand, (*App).taxa, (*App).counts, (*App).status, (*App).verify, (*App).key, (*App).reindex,
	}
}

func env(name, otherwise string) string {
	if v := os.Getenv(name); v != "" {
		return v
	}
	return otherwise
}

// DefaultKeyFile is where the key is looked for, and where a server writes the first one.
func DefaultKeyFile() string {
	dir, err := os.UserConfigDir()
	if err != nil {
		return "platarium.key"
	}
	return filepath.Join(dir, "platarium", "owner.key")
}

// secret finds the key: from the environment, else from the key file.
func (a *App) secret() (string, error) {
	if s := os.Getenv("PLATARIUM_KEY"); s != "" {
		return strings.TrimSpace(s), nil
	}
	b, err := os.ReadFile(a.keyFile)
	if errors.Is(err, os.ErrNotExist) {
		return "", fmt.Errorf("no key: %s is not there; name another file with --key-file, or put the secret into PLATARIUM_KEY", a.keyFile)
	}
	if err != nil {
		return "", fmt.Errorf("read the key: %w", err)
	}
	return strings.TrimSpace(string(b)), nil
}

// with dials the server for f.
func (a *App) with(f func(*client.Client) error) error {
	key, err := a.secret()
	if err != nil {
		return err
	}
	c, err := client.Dial(client.Config{Address: a.address, Key: key, TLS: a.tls, CAFile: a.caFile, PlainText: a.plainText})
	if err != nil {
		return err
	}
	return errors.Join(f(c), c.Close())
}

// printJSON writes a message as one line of JSON.
func (a *App) printJSON(m proto.Message) error {
	b, err := protojson.Marshal(m)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(a.Out, "%s\n", b)
	return err
}

// printf writes a result for a person.
func (a *App) printf(format string, args ...any) { _, _ = fmt.Fprintf(a.Out, format, args...) }

// notef writes a remark beside the result.
func (a *App) notef(format string, args ...any) { _, _ = fmt.Fprintf(a.Err, format, args...) }

// KeyFile is where the key's secret is read from, and where a server writes the first one.
func (a *App) KeyFile() string { return a.keyFile }
