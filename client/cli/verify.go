package cli

import (
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) verify() *cobra.Command {
	var headFile, saveHead string
	var quick, offline bool
	cmd := &cobra.Command{
		Use:   "verify [STATEMENT]",
		Short: "Walk the journal and the originals, or check a licence statement, and report whatever is wrong",
		Long: "Checks that every commit is there and names the one before by its sha256, that checkpoints agree with the journal, and that every original\n" +
			"still hashes to its name. A head published earlier (--head) also shows a journal that was cut short or written anew.\n" +
			"A head file holds the number of a commit and its sha256, parted by a space; --save-head writes one.\n" +
			"With a file written by history --format statement, checks that it is whole and that the journal has the commit that it rests on; only the\n" +
			"first with --offline, which asks no server.",
		Example: "  platarium verify\n  platarium verify --save-head head.txt\n  platarium verify --head head.txt --quick\n  platarium verify perch.json --offline",
		Args:    args(cobra.MaximumNArgs(1)),
	}
	cmd.Flags().StringVar(&headFile, "head", "", "file with a head published earlier")
	cmd.Flags().StringVar(&saveHead, "save-head", "", "write the head found to this file")
	cmd.Flags().BoolVar(&quick, "quick", false, "leave out reading the originals")
	cmd.Flags().BoolVar(&offline, "offline", false, "check a statement without asking the server")
	cmd.RunE = func(cmd *cobra.Command, files []string) error {
		if len(files) == 1 {
			return a.verifyStatement(cmd.Context(), files[0], offline)
		}
		req := &pb.VerifyRequest{SkipOriginals: quick}
		if headFile != "" {
			b, err := os.ReadFile(headFile)
			if err != nil {
				return err
			}
			if _, err := fmt.Sscan(strings.TrimSpace(string(b)), &req.HeadSequence, &req.Head); err != nil {
				return usage(fmt.Errorf("%s: want the number of a commit and its sha256: %w", headFile, err))
			}
		}
		return a.with(func(c *client.Client) error {
			stream, err := c.Admin.Verify(cmd.Context(), req)
			if err != nil {
				return err
			}
			var last *pb.VerifyResponse
			err = follow(stream.Recv, func(m *pb.VerifyResponse) error {
				last = m
				if a.json {
					return a.printJSON(m)
				}
				if m.GetProblem() != "" {
					a.printf("problem: %s\n", m.GetProblem())
				}
				return nil
			})
			if err != nil {
				return err
			}
			if !last.GetDone() {
				return errors.New("the server ended before it was done")
			}
			return a.verified(last, saveHead)
		})
	}
	return cmd
}

func (a *App) verified(last *pb.VerifyResponse, saveHead string) error {
	if !a.json {
		a.printf("%d commits, %d originals, %d bytes read, %d problems\nhead %s\n", last.GetCommits(), last.GetOriginals(), last.GetBytes(), last.GetProblems(), last.GetHead())
	}
	if saveHead != "" {
		if err := os.WriteFile(saveHead, fmt.Appendf(nil, "%d %s\n", last.GetCommits(), last.GetHead()), 0o644); err != nil {
			return err
		}
	}
	if n := last.GetProblems(); n > 0 {
		return &coded{code: Problems, err: fmt.Errorf("%d problems", n), quiet: true}
	}
	return nil
}
