package cli

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) deliver() *cobra.Command {
	var grant, output string
	var req pb.DeliverRequest
	cmd := &cobra.Command{
		Use:   "deliver PICTURE",
		Short: "Write a copy for a licensee, with the rights in it, and record it with the grant",
		Long: "Writes a copy that says who made it, whose it is and what the grant allows, and nothing else: places, cameras, names of files and\n" +
			"histories of editing are left out. The pixels are those of the original or preview, unless another size or format is wanted: then it is made of the\n" +
			"original, reduced but never enlarged, with its depth (16 bits stay 16 in TIFF and PNG). The same texts go into a file beside it, FILE.json.\n" +
			"The delivery is recorded with the grant. A file that is there is never replaced.",
		Example: "  platarium deliver pictures/perch-plate --grant grants/lake-book -o perch.tif\n  platarium deliver pictures/perch-plate --grant grants/lake-book --variant preview-1600\n" +
			"  platarium deliver pictures/perch-plate --grant grants/lake-book --width-mm 170 --ppi 300 --format tiff\n" +
			"  platarium deliver pictures/perch-plate --grant grants/lake-web --long-edge 2000 --format jpeg",
		Args: args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&grant, "grant", "", "the grant, grants/{id}")
	cmd.Flags().StringVar(&req.Variant, "variant", "original", "original or preview-1600")
	cmd.Flags().StringVar(&req.Format, "format", "", "tiff, png or jpeg; the original's own if left out")
	cmd.Flags().Int32Var(&req.LongEdge, "long-edge", 0, "reduce the longer edge to so many pixels")
	cmd.Flags().Float64Var(&req.WidthMm, "width-mm", 0, "reduce to what a print of this width takes at --ppi")
	cmd.Flags().Int32Var(&req.Ppi, "ppi", 0, "pixels per inch of that print")
	cmd.Flags().StringVarP(&output, "output", "o", "", "file to write")
	_ = cmd.MarkFlagRequired("grant")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		for _, taken := range []string{output, output + ".json"} {
			if _, err := os.Lstat(taken); output != "" && err == nil { // before a delivery is recorded that goes nowhere
				return fmt.Errorf("%s is there already; name another file with --output", taken)
			}
		}
		req.Picture, req.Grant = names[0], grant
		return a.with(func(c *client.Client) error {
			dir := "."
			if output != "" {
				dir = filepath.Dir(output)
			}
			tmp, err := os.CreateTemp(dir, ".platarium-*")
			if err != nil {
				return err
			}
			header, err := c.Deliver(cmd.Context(), &req, tmp)
			if err := errors.Join(err, tmp.Close()); err != nil {
				return errors.Join(err, os.Remove(tmp.Name()))
			}
			file := output
			if file == "" {
				file = filepath.Base(header.GetFileName())
			}
			beside := header.GetSidecar()
			header.Sidecar = nil
			if err := a.keep(tmp.Name(), file, header); err != nil {
				return err
			}
			return a.putFile(file+".json", beside)
		})
	}
	return cmd
}
