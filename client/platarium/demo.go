package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/client/cli"
	"platarium/client/demo"
	"platarium/server"
)

func demoCommand(a *cli.App) *cobra.Command {
	var dir, listen, pages string
	var fresh, noServe bool
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Show the main job with an invented studio: import, a commission's search, a licensing history",
		Long: "Starts a server over a folder, draws the scans of an invented studio, imports them by the ordinary bulk import, and shows what the archive is for.\n" +
			"Its folder is named at the start; a second run goes on from the first, and --fresh begins anew. Then the server stays up for you to try things, unless --no-serve is given.",
		Example: "  platarium demo\n  platarium demo --fresh --no-serve",
		Args:    cobra.NoArgs,
	}
	cmd.Flags().StringVar(&dir, "dir", "", "folder for scans and archive (default: under the user's cache folder)")
	cmd.Flags().StringVar(&listen, "listen", server.DefaultListen, "host:port of the server")
	cmd.Flags().StringVar(&pages, "pages", server.DefaultPages, "host:port of the pages; empty for none")
	cmd.Flags().BoolVar(&fresh, "fresh", false, "throw away what an earlier demo left in the folder")
	cmd.Flags().BoolVar(&noServe, "no-serve", false, "end when the tour is over")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		if dir == "" {
			base, err := os.UserCacheDir()
			if err != nil {
				return fmt.Errorf("the system names no cache folder; name a folder with --dir: %w", err)
			}
			dir = filepath.Join(base, "platarium", "demo")
		}
		if noServe && !cmd.Flags().Changed("listen") {
			listen = "127.0.0.1:0" // nobody needs to find it
		}
		if noServe && !cmd.Flags().Changed("pages") {
			pages = ""
		}
		return runDemo(cmd.Context(), a, dir, listen, pages, fresh, noServe)
	}
	return cmd
}

// mark is the file by which a demo's folder is known again, so that --fresh deletes nothing else.
const mark = "platarium-demo"

func runDemo(ctx context.Context, a *cli.App, dir, listen, pages string, fresh, noServe bool) error {
	if err := prepareDemo(dir, fresh); err != nil {
		return err
	}
	_, _ = fmt.Fprintf(a.Out, "The demo keeps its data in %s\n", dir)
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	conf := server.Config{
		Store: "dir:" + filepath.Join(dir, "archive"), Cache: filepath.Join(dir, "cache"), Listen: listen, Pages: pages, Studio: demo.Studio().Name, KeyFile: filepath.Join(dir, "owner.key"),
		TimeZone: demo.Studio().TimeZone, Workers: 2, Version: cli.Version, Importer: newBringer,
		Logger: slog.New(slog.NewTextHandler(a.Err, &slog.HandlerOptions{Level: slog.LevelWarn})),
	}
	ready := make(chan server.Ready, 1)
	ended := make(chan error, 1)
	go func() { ended <- server.Run(ctx, conf, func(r server.Ready) { ready <- r }) }()
	var address, pagesAt string
	select {
	case r := <-ready:
		address, pagesAt = r.Address, r.Pages
	case err := <-ended:
		return err
	}
	err := tour(ctx, a.Out, dir, address, conf.KeyFile, noServe)
	if err == nil && !noServe {
		if pagesAt != "" {
			_, _ = fmt.Fprintf(a.Out, "\nPages to look at: %s (sign in with the line in %s)\n", pagesAt, conf.KeyFile)
		}
		_, _ = fmt.Fprintf(a.Out, "\nThe server stays up on %s. Ctrl-C ends it.\n", address)
		<-ctx.Done()
	}
	stop()
	return errors.Join(err, <-ended)
}

// prepareDemo makes the folder, or empties it for a fresh start.
func prepareDemo(dir string, fresh bool) error {
	entries, err := os.ReadDir(dir)
	if err != nil && !errors.Is(err, os.ErrNotExist) {
		return err
	}
	_, err = os.Stat(filepath.Join(dir, mark))
	if len(entries) > 0 && err != nil {
		return fmt.Errorf("%s holds something that isn't a demo's; name another folder with --dir", dir)
	}
	if fresh && len(entries) > 0 {
		if err := os.RemoveAll(dir); err != nil {
			return fmt.Errorf("begin afresh: %w", err)
		}
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	return os.WriteFile(filepath.Join(dir, mark), []byte("The data of: platarium demo. It can be deleted.\n"), 0o644)
}

func tour(ctx context.Context, out io.Writer, dir, address, keyFile string, noServe bool) error {
	secret, err := os.ReadFile(keyFile)
	if err != nil {
		return fmt.Errorf("read the demo's key: %w", err)
	}
	c, err := client.Dial(client.Config{Address: address, Key: strings.TrimSpace(string(secret))})
	if err != nil {
		return err
	}
	t := &demo.Tour{Client: c, Dir: dir, Out: out, Now: time.Now}
	if err := t.Run(ctx); err != nil {
		return errors.Join(err, c.Close())
	}
	if noServe {
		_, _ = fmt.Fprintf(out, "\nRun platarium demo without --no-serve to try things yourself.\n")
	} else {
		if address == server.DefaultListen {
			address = "" // where commands look by themselves
		}
		t.Next("go run ./client/platarium", keyFile, address)
	}
	return c.Close()
}
