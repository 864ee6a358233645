// Command platarium keeps a scientific illustrator's archive: it serves one, talks to one, and shows itself with an invented studio.
package main

import (
	"context"
	"os"
	"os/signal"
	"syscall"

	"platarium/client/cli"
	"platarium/storage/imaging"
)

func main() {
	if len(os.Args) > 1 && os.Args[1] == imaging.ChildVerb {
		os.Exit(imaging.ChildMain(os.Args[2:], os.Stdin, os.Stdout, os.Stderr))
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	code := cli.Run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr, serveCommand, demoCommand)
	stop()
	os.Exit(code)
}
