package cli

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"strings"

	"platarium/client"
	"platarium/client/report"
	pb "platarium/proto/platarium/v1"
	"platarium/server/rights/statement"
)

// historyFile writes the history of one picture to a file.
func (a *App) historyFile(ctx context.Context, names []string, format, output string) error {
	if len(names) != 1 {
		return usage(fmt.Errorf("--format %s: found %d pictures; want one", format, len(names)))
	}
	return a.with(func(c *client.Client) error {
		st, err := c.Licensing.GetStatement(ctx, &pb.GetStatementRequest{Picture: names[0]})
		if err != nil {
			return err
		}
		content, name := st.GetContent(), st.GetFileName()
		if format == "pdf" {
			name = strings.TrimSuffix(name, ".json") + ".pdf"
			if content, err = typeset(ctx, c, names[0], content); err != nil {
				return err
			}
		}
		if output == "" {
			output = name
		}
		return a.putFile(output, content)
	})
}

// typeset makes a PDF of a statement, with the thumbnail if it names one.
func typeset(ctx context.Context, c *client.Client, picture string, content []byte) ([]byte, error) {
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
	return report.PDF(content, thumbnail)
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
	a.printf("whole: %s as of commit %d, %.16s; statement %.16s\n", mark.Picture, mark.Sequence, mark.Head, mark.Digest)
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
		a.printf("the archive has that commit; its last is %d\n", res.GetSequence())
		return nil
	})
}

// doubt ends with the code for problems found.
func (a *App) doubt(err error) error {
	return &coded{code: Problems, err: err}
}
