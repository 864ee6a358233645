package cli

import (
	"fmt"
	"os"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/types/known/timestamppb"

	"platarium/client"
	pb "platarium/proto/platarium/v1"
)

func (a *App) key() *cobra.Command {
	cmd := &cobra.Command{Use: "key", Short: "Make, list and revoke keys to the archive (owner only)"}
	cmd.AddCommand(a.keyCreate(), a.keyList(), a.keyRevoke())
	return cmd
}

func (a *App) keyCreate() *cobra.Command {
	var role, party, label, id, file string
	var days int
	cmd := &cobra.Command{
		Use:   "create",
		Short: "Make a key; its secret is shown once and never stored",
		Long: "Roles: owner (everything), assistant (the daily work), publisher (previews of plates and histories in summary; its own grants in full).\n" +
			"A publisher's key belongs to a party.",
		Example: "  platarium key create --role assistant --label \"studio laptop\" --output laptop.key\n" +
			"  platarium key create --role publisher --party parties/reed-press --days 90",
		Args: args(cobra.NoArgs),
	}
	f := cmd.Flags()
	f.StringVar(&role, "role", "", "owner, assistant or publisher")
	f.StringVar(&party, "party", "", "whose it is, parties/{id}; for a publisher")
	f.StringVar(&label, "label", "", "what it is for")
	f.StringVar(&id, "id", "", "the id wanted")
	f.IntVar(&days, "days", 0, "how many days it lasts; 0 for ever")
	f.StringVarP(&file, "output", "o", "", "write the secret to this new file, readable by you only, instead of showing it")
	_ = cmd.MarkFlagRequired("role")
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		k := &pb.Key{DisplayName: label, Party: party}
		if err := setEnum(&k.Role, role); err != nil {
			return err
		}
		if days > 0 {
			k.ExpireTime = timestamppb.New(time.Now().AddDate(0, 0, days))
		}
		return a.with(func(c *client.Client) error {
			res, err := c.Admin.CreateKey(cmd.Context(), &pb.CreateKeyRequest{Key: k, KeyId: id})
			if err != nil {
				return err
			}
			if file != "" {
				if err := writeSecret(file, res.GetSecret()); err != nil {
					return err
				}
				res.Secret = ""
			}
			if a.json {
				return a.printJSON(res)
			}
			a.printf("%s\n", res.GetKey().GetName())
			if res.GetSecret() != "" {
				a.printf("secret: %s\n", res.GetSecret())
				a.notef("keep it now: it isn't shown again\n")
			}
			return nil
		})
	}
	return cmd
}

func writeSecret(file, secret string) error {
	f, err := os.OpenFile(file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return fmt.Errorf("write the secret: %w", err)
	}
	if _, err := fmt.Fprintln(f, secret); err != nil {
		return err
	}
	return f.Close()
}

func (a *App) keyList() *cobra.Command {
	cmd := &cobra.Command{Use: "list", Short: "List keys, without their secrets", Example: "  platarium key list --json", Args: args(cobra.NoArgs)}
	cmd.RunE = func(cmd *cobra.Command, _ []string) error {
		return a.with(func(c *client.Client) error {
			req := &pb.ListKeysRequest{}
			for {
				res, err := c.Admin.ListKeys(cmd.Context(), req)
				if err != nil {
					return err
				}
				for _, k := range res.GetKeys() {
					if a.json {
						if err := a.printJSON(k); err != nil {
							return err
						}
						continue
					}
					a.printf("%-28s %-10s %-30s %s\n", k.GetName(), word(k.GetRole()), k.GetDisplayName(), keyState(k))
				}
				if req.PageToken = res.GetNextPageToken(); req.PageToken == "" {
					return nil
				}
			}
		})
	}
	return cmd
}

func keyState(k *pb.Key) string {
	switch {
	case k.GetRevokeTime() != nil:
		return "revoked " + k.GetRevokeTime().AsTime().Format(time.DateOnly)
	case k.GetExpireTime() != nil:
		return "until " + k.GetExpireTime().AsTime().Format(time.DateOnly) + " " + k.GetParty()
	default:
		return k.GetParty()
	}
}

func (a *App) keyRevoke() *cobra.Command {
	cmd := &cobra.Command{Use: "revoke KEY", Short: "End a key at once", Example: "  platarium key revoke keys/studio-laptop", Args: args(cobra.ExactArgs(1))}
	cmd.RunE = func(cmd *cobra.Command, names []string) error {
		return a.with(func(c *client.Client) error {
			k, err := c.Admin.RevokeKey(cmd.Context(), &pb.RevokeKeyRequest{Name: names[0]})
			if err != nil {
				return err
			}
			if a.json {
				return a.printJSON(k)
			}
			a.printf("%s revoked\n", k.GetName())
			return nil
		})
	}
	return cmd
}
