package main

import (
	"fmt"
	"log/slog"
	"os"
	"runtime"

	"github.com/spf13/cobra"

	"platarium/client/cli"
	"platarium/server"
)

func serveCommand(a *cli.App) *cobra.Command {
	conf := server.Config{Version: cli.Version, Importer: newBringer}
	var verbose bool
	cmd := &cobra.Command{
		Use:   "serve --store URL",
		Short: "Serve an archive",
		Long: "Serves the archive in a bucket: a folder (dir:PATH) or an object store (s3://bucket/prefix?endpoint=https://host&region=r, with credentials from\n" +
			"AWS_ACCESS_KEY_ID and AWS_SECRET_ACCESS_KEY or the file in AWS_SHARED_CREDENTIALS_FILE). Any number of servers may serve one bucket, each with a cache folder of its own.\n" +
			"An archive without a key gets its first owner's key, written to the key file.",
		Example: "  platarium serve --store dir:/srv/archive\n" +
			"  platarium serve --store \"s3://plates?endpoint=https://store.example&region=eu\" --listen 0.0.0.0:7411 --tls-cert cert.pem --tls-key key.pem",
		Args: cobra.NoArgs,
	}
	f := cmd.Flags()
	f.StringVar(&conf.Store, "store", os.Getenv("PLATARIUM_STORE"), "the bucket (or PLATARIUM_STORE)")
	f.StringVar(&conf.Cache, "cache", "", "folder of local state, which can be deleted at any time (default: under the user's cache folder)")
	f.StringVar(&conf.Listen, "listen", server.DefaultListen, "host:port of gRPC")
	f.StringVar(&conf.Pages, "pages", server.DefaultPages, "host:port of the pages, IIIF and JSON over HTTP; empty for none")
	f.StringVar(&conf.Studio, "studio", "", "name of the house, shown on its pages")
	f.StringVar(&conf.GuestKey, "iiif-guest-key", "", "file with a key's secret: whoever shows no key sees pictures by IIIF as that key does, such as a publisher's that was made for it")
	f.StringVar(&conf.CertFile, "tls-cert", "", "TLS certificate (PEM)")
	f.StringVar(&conf.KeyPEM, "tls-key", "", "its private key (PEM)")
	f.BoolVar(&conf.PlainText, "listen-plain-text", false, "serve in the clear beyond this machine; keys and pictures can then be read on the way")
	f.BoolVar(&conf.Reflection, "reflection", false, "serve gRPC reflection beyond this machine too")
	f.StringVar(&conf.TimeZone, "time-zone", "", "the studio's calendar, such as Europe/Vienna (default UTC)")
	f.IntVar(&conf.Workers, "preview-workers", max(1, runtime.NumCPU()/2), "previews made at once")
	f.BoolVar(&verbose, "verbose", false, "log every call")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		level := slog.LevelInfo
		if verbose {
			level = slog.LevelDebug
		}
		conf.Logger = slog.New(slog.NewTextHandler(a.Err, &slog.HandlerOptions{Level: level}))
		conf.KeyFile = a.KeyFile()
		if err := conf.Validate(); err != nil {
			return cli.Code(cli.Usage, err)
		}
		return server.Run(cmd.Context(), conf, func(r server.Ready) {
			_, _ = fmt.Fprintf(a.Out, "serving %s on %s\n", conf.Store, r.Address)
			if r.Pages != "" {
				_, _ = fmt.Fprintf(a.Out, "pages on %s\n", r.Pages)
			}
			if r.KeyFile != "" {
				_, _ = fmt.Fprintf(a.Out, "the first owner's key is in %s\n", r.KeyFile)
			}
		})
	}
	return cmd
}
