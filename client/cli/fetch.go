package cli

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) fetch() *cobra.Command {
	var variant, output string
	cmd := &cobra.Command{
		Use:   "fetch PICTURE",
		Short: "Fetch a picture's original or a preview, verified against its sha256",
		Long: "Writes the file under its own name into this folder, or where --output says; - is the standard output. A file that is there is never replaced.\n" +
			"What doesn't agree with its sha256 is not kept.",
		Example: "  platarium fetch pictures/perch-plate\n  platarium fetch pictures/perch-plate --variant preview-1600 --output perch.jpg",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&variant, "variant", "original", "original, preview-1600 or preview-320")
	cmd.Flags().StringVarP(&output, "output", "o", "", "file to write; - for the standard output")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			if output == "-" {
				_, err := c.Download(cmd.Context(), names[0], variant, a.Out)
				return err
			}
			dir := "."
			if output != "" {
				dir = filepath.Dir(output)
			}
			tmp, err := os.CreateTemp(dir, ".platarium-*")
			if err != nil {
				return err
			}
			header, err := c.Download(cmd.Context(), names[0], variant, tmp)
			if err := errors.Join(err, tmp.Close()); err != nil {
				return errors.Join(err, os.Remove(tmp.Name()))
			}
			return a.keep(tmp.Name(), output, header)
		})
	}
	return cmd
}

// keep gives a fetched file its name, unless that name is taken.
func (a *App) keep(tmp, output string, header *pb.DownloadHeader) error {
	if output == "" {
		output = filepath.Base(header.GetFileName())
	}
	err := os.Link(tmp, output) // fails if the name is taken
	if errors.Is(err, os.ErrExist) {
		return errors.Join(fmt.Errorf("%s is there already; name another file with --output", output), os.Remove(tmp))
	}
	if err != nil { // a file system without links
		err = copyNew(tmp, output)
	}
	if err = errors.Join(err, os.Remove(tmp)); err != nil {
		return err
	}
	if a.json {
		return a.printJSON(header)
	}
	a.printf("%s: %d bytes\n", output, header.GetSize())
	return nil
}

func copyNew(from, to string) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { _ = src.Close() }()
	dst, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if err != nil {
		return err
	}
	_, err = io.Copy(dst, src)
	return errors.Join(err, dst.Close())
}
