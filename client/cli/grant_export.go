package cli

import (
	"errors"
	"fmt"
	"os"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) grantExport() *cobra.Command {
	var format, output string
	cmd := &cobra.Command{
		Use:   "export GRANT",
		Short: "Write an agreed grant for the rights systems of others, as ODRL 2.2",
		Long: "Writes an offered or executed grant as an ODRL 2.2 policy in JSON-LD, as far as your key may see it: to the standard output, or to the\n" +
			"file that --output names. A file that is there is never replaced. The signed agreement governs; this is its record.",
		Example: "  platarium grant export grants/abcd1234\n  platarium grant export grants/abcd1234 --output lake-book.jsonld",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&format, "format", "odrl", "odrl")
	cmd.Flags().StringVarP(&output, "output", "o", "-", "file to write; - for the standard output")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			res, err := c.Licensing.ExportGrant(cmd.Context(), &pb.ExportGrantRequest{Name: names[0], Format: format})
			if err != nil {
				return err
			}
			return a.putFile(output, res.GetContent())
		})
	}
	return cmd
}

// putFile writes a result to a new file, or for - to the standard output.
func (a *App) putFile(output string, content []byte) error {
	if output == "-" || output == "" {
		_, err := a.Out.Write(content)
		return err
	}
	f, err := os.OpenFile(output, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o644)
	if errors.Is(err, os.ErrExist) {
		return fmt.Errorf("%s is there already; name another file with --output", output)
	}
	if err != nil {
		return err
	}
	_, err = f.Write(content)
	if err = errors.Join(err, f.Close()); err != nil {
		return errors.Join(err, os.Remove(output))
	}
	a.notef("%s: %d bytes\n", output, len(content))
	return nil
}
