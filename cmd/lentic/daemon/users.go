package daemon

import (
	"context"
	"fmt"
	"io"
	"strings"

	"lentic/collector/aquarium"
	"lentic/store/ledger"
	"lentic/web/account"
)

func userAdd(_ context.Context, s *services, a UserArgs, out io.Writer) error {
	for _, id := range a.Sites {
		if s.cfg.Load().Site(id) == nil {
			return fmt.Errorf("%w: %q", aquarium.ErrUnknownSite, id)
		}
	}
	u, err := account.New(aquarium.At(s.now()), a.Name, a.Password, account.Role(a.Role), a.Sites)
	if err != nil {
		return UsageError("%v", err)
	}
	if err := s.store.Update(func(tx ledger.Tx) error { return account.Add(tx, u) }); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "Account %s made: %s.\n", u.Name, u.Role)
	return err
}

func userPassword(_ context.Context, s *services, a UserArgs, out io.Writer) error {
	h, err := account.NewHash(a.Password)
	if err != nil {
		return UsageError("%v", err)
	}
	if err := s.store.Update(func(tx ledger.Tx) error { return account.SetPassword(tx, a.Name, h) }); err != nil {
		return err
	}
	_, err = fmt.Fprintf(out, "Account %s has a new password and is signed out everywhere; its tokens stay.\n", a.Name)
	return err
}

func userList(_ context.Context, s *services, _ UserArgs, out io.Writer) error {
	return s.store.View(func(tx ledger.Tx) error {
		us, err := account.All(tx)
		if err != nil {
			return err
		}
		for _, u := range us {
			sees := "every site"
			if len(u.Sites) > 0 {
				names := make([]string, len(u.Sites))
				for i, id := range u.Sites {
					names[i] = string(id)
				}
				sees = strings.Join(names, ", ")
			}
			tokens, err := account.Tokens(tx, u.Name)
			if err != nil {
				return err
			}
			fmt.Fprintf(out, "%s  %s  %s  tokens: %d\n", u.Name, u.Role, sees, len(tokens))
			for _, t := range tokens {
				fmt.Fprintf(out, "    token %q, given %s\n", t.Label, t.Created)
			}
		}
		return nil
	})
}

func userRemove(_ context.Context, s *services, a UserArgs, out io.Writer) error {
	if err := s.store.Update(func(tx ledger.Tx) error { return account.Remove(tx, a.Name) }); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "Account %s removed, with its sessions and tokens.\n", a.Name)
	return err
}

func userToken(_ context.Context, s *services, a UserArgs, out io.Writer) error {
	var token string
	err := s.store.Update(func(tx ledger.Tx) (err error) {
		token, err = account.Issue(tx, aquarium.At(s.now()), a.Name, a.Label)
		return err
	})
	if err != nil {
		return err
	}
	_, err = fmt.Fprintln(out, token) // shown once; only its hash is kept
	return err
}

func userRevoke(_ context.Context, s *services, a UserArgs, out io.Writer) error {
	if err := s.store.Update(func(tx ledger.Tx) error { return account.Revoke(tx, a.Name, a.Label) }); err != nil {
		return err
	}
	_, err := fmt.Fprintf(out, "Token %q of account %s revoked.\n", a.Label, a.Name)
	return err
}
