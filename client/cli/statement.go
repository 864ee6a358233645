package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	"platarium/client/report"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights/statement"
)

// historyFile writes the history of one picture, or of a party, to a file.
func (a *App) historyFile(ctx context.Context, names []string, party string, at int64, format, output string) error {
	if party != "" {
		return a.statementFile(ctx, &pb.GetStatementRequest{Party: party, Sequence: at}, format, output)
	}
	if len(names) != 1 {
		return usage(fmt.Errorf("--format %s: found %d pictures; want one", format, len(names)))
	}
	return a.statementFile(ctx, &pb.GetStatementRequest{Picture: names[0], Sequence: at}, format, output)
}

func (a *App) grantStatement() *cobra.Command {
	var format, output string
	var at int64
	cmd := &cobra.Command{
		Use:   "statement GRANT",
		Short: "Write one grant in full words: its scope, conditions, amendments and uses so far",
		Long: "Writes what is on record about a grant, as far as your key may see it, as a PDF to be mailed or as a statement that verify can check: with the commit\n" +
			"that it rests on. --at asks for it as it stood at an earlier commit. It is a record, not legal advice; the signed agreement governs.",
		Example: "  platarium grant statement grants/abcd1234 -o lake-book.pdf\n  platarium grant statement grants/abcd1234 --format statement --at 42 -o lake-book.json",
		Args:    args(cobra.ExactArgs(1)),
	}
	cmd.Flags().StringVar(&format, "format", "pdf", "pdf or statement")
	cmd.Flags().StringVarP(&output, "output", "o", "", "file to write, - for the standard output")
	cmd.Flags().Int64Var(&at, "at", 0, "as of this commit; the last if left out")
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		if format != "pdf" && format != "statement" {
			return usage(fmt.Errorf("--format: found %q; want pdf or statement", format))
		}
		return a.statementFile(cmd.Context(), &pb.GetStatementRequest{Grant: names[0], Sequence: at}, format, output)
	}
	return cmd
}

// statementFile writes a statement, or a PDF made of it, to a file.
func (a *App) statementFile(ctx context.Context, req *pb.GetStatementRequest, format, output string) error {
	return a.with(func(c *client.Client) error {
		st, err := c.Licensing.GetStatement(ctx, req)
		if err != nil {
			return err
		}
		content, name := st.GetContent(), st.GetFileName()
		if format == "pdf" {
			name = strings.TrimSuffix(name, ".json") + ".pdf"
			if content, err = a.typeset(ctx, c, req.GetPicture(), content); err != nil {
				return err
			}
		}
		if output == "" {
			output = name
		}
		return a.putFile(output, content)
	})
}

// typeset makes a PDF of a statement, with the thumbnail if it names one. A picture that has another file by now is set without.
func (a *App) typeset(ctx context.Context, c *client.Client, picture string, content []byte) ([]byte, error) {
	_, said, err := statement.Check(content)
	if err != nil {
		return nil, err
	}
	var thumbnail []byte
	if said["thumbnail_sha256"] != nil {
		var b bytes.Buffer
		if _, err := c.Download(ctx, picture, "preview-320", &b); err != nil {
			return nil, err
		}
		thumbnail = b.Bytes()
	}
	pdf, err := report.PDF(content, thumbnail)
	if errors.Is(err, report.ErrThumbnail) {
		a.notef("the picture has another file by now: the earlier one isn't shown\n")
		return report.PDF(content, nil)
	}
	return pdf, err
}

// mostStatement is the largest statement read, bytes: far more than a picture's licences take.
const mostStatement = 32 << 20

// verifyStatement checks that a statement is whole, and unless offline that the archive has the commit that it rests on.
func (a *App) verifyStatement(ctx context.Context, file string, offline bool) error {
	if info, err := os.Stat(file); err == nil && info.Size() > mostStatement {
		return a.doubt(fmt.Errorf("%s: %d bytes, too large for a statement", file, info.Size()))
	}
	b, err := os.ReadFile(file)
	if err != nil {
		return err
	}
	mark, _, err := statement.Check(b)
	if err != nil {
		return a.doubt(fmt.Errorf("%s: %w", file, err))
	}
	a.printf("whole: %s as of commit %d, %.16s; statement %.16s\n", mark.Subject(), mark.Sequence, mark.Head, mark.Digest)
	if offline {
		return nil
	}
	return a.with(func(c *client.Client) error {
		res, err := c.Licensing.CheckHead(ctx, &pb.CheckHeadRequest{Sequence: mark.Sequence, Head: mark.Head})
		switch {
		case err != nil:
			return err
		case res.GetArchiveId() != mark.Archive:
			return a.doubt(fmt.Errorf("%s is of archive %s; the server has %s", file, mark.Archive, res.GetArchiveId()))
		case !res.GetAgrees():
			return a.doubt(fmt.Errorf("the archive has no commit %d of that sha256; its last is %d", mark.Sequence, res.GetSequence()))
		}
		if newer := res.GetSequence() - mark.Sequence; newer > 0 {
			a.printf("sound: the archive has that commit; newer commits have come since: %d, the last of them %d\n", newer, res.GetSequence())
		} else {
			a.printf("sound: the archive has that commit, and it is the last\n")
		}
		return nil
	})
}

// doubt ends with the code for problems found.
func (a *App) doubt(err error) error {
	return &coded{code: Problems, err: err}
}
